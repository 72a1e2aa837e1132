"""The technician's card: one page whatever the shop, with the cautions and room for five leads."""

import io
from datetime import UTC, datetime

import pytest
from pypdf import PdfReader

from reports.papers.cautions import crew_cautions
from reports.papers.quick_card import IN_THE_ATTIC, quick_card_pdf
from reports.papers.records import Shop

PRINTED_AT = datetime(2026, 3, 14, 9, 30, tzinfo=UTC)
LONG = "Núñez-Wołkowski, Đặng & Daughters Heating, Cooling, Ventilation and Sheet Metal of Greater Larkspur Hollow"


@pytest.mark.parametrize(
    "shop",
    [
        pytest.param(Shop(name="Short", phone="+1 201 555 0142"), id="dull"),
        pytest.param(Shop(name=LONG, address_lines=("1", "2", "3", "4"), unit="C"), id="long name, no phone"),
    ],
)
def test_it_is_one_page_with_everything_on_it(shop):
    (page,) = PdfReader(io.BytesIO(quick_card_pdf(shop, printed_at=PRINTED_AT))).pages
    text = " ".join(page.extract_text().split())
    for sentence in (*IN_THE_ATTIC, *crew_cautions(shop.unit)):
        assert sentence[:45] in text
    assert "Attic slip" in text and "Tag or last four" in text
