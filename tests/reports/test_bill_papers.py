"""Bills, credit notes and day lists as papers: their words, and what does not go wrong on long ones."""

import io
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from pypdf import PdfReader

from reports.papers.bill import bill_pdf, day_list_pdf
from reports.papers.bill_records import BillPaper, CreditRow, DayListPaper, DayRow, LineRow, StayDays, TaxRow
from reports.papers.records import Shop

SHOP = Shop(
    name="Larkfield Comfort",
    phone="+1 201 555 0100",
    address_lines=("4 Mill Road",),
    licence_number="HVAC 4711",
)
RATE = Decimal("0.0725")


def line(house: str = "14 Alder Ct, Larkfield: upstairs", cents: int = 2600, **more: object) -> LineRow:
    values = {
        "house": house,
        "what": "Monitoring",
        "reason": "8-14 May: 7 days, 3 of your 14 included, 4 × 6.50",
        "start": date(2026, 5, 8),
        "until": date(2026, 5, 15),
        "amount_cents": cents,
        "tax_rate": RATE,
        **more,
    }
    return LineRow(**values)  # type: ignore[arg-type]


def bill(*lines: LineRow, **more: object) -> BillPaper:
    cents = sum(one.amount_cents for one in lines)
    values = {
        "shop": SHOP,
        "number": "B2026-0007",
        "payer_lines": ("Ana Diaz", "14 Alder Ct", "Larkfield"),
        "month": date(2026, 5, 1),
        "issued_on": date(2026, 6, 2),
        "currency": "USD",
        "lines": lines,
        "taxes": (TaxRow(code="S1", rate=RATE, base_cents=cents, tax_cents=189),),
        "amount_cents": cents,
        "tax_cents": 189,
        "due_on": date(2026, 7, 2),
        **more,
    }
    return BillPaper(**values)  # type: ignore[arg-type]


def pages_of(data: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(data)).pages]


def test_a_bill_says_whose_it_is_what_for_and_how_much():
    (text,) = pages_of(bill_pdf(bill(line())))
    for words in (
        *("Bill B2026-0007", "Ana Diaz", "Larkfield Comfort", "+1 201 555 0100", "HVAC 4711"),
        *("Monitoring service, May 2026", "Fri 8 May 2026 to Thu 14 May 2026", "Thu 2 Jul 2026"),
        *("14 Alder Ct, Larkfield: upstairs", "8-14 May: 7 days, 3 of your 14 included, 4 × 6.50"),
        *("Tax 7.25 % on 26.00 (S1)", "1.89", "27.89 USD", "page 1 of 1"),
    ):
        assert words in text, words


def test_houses_stand_apart_and_what_is_taken_off_is_below_nothing():
    second = line("3 Elm St, Larkfield: heat pump", 12_500, what="Monitoring")
    cap = replace(second, what="No more than agreed", reason="no more than 120.00 a stay", amount_cents=-500)
    (text,) = pages_of(bill_pdf(bill(line(), second, cap)))
    assert text.index("14 Alder Ct, Larkfield: upstairs") < text.index("3 Elm St, Larkfield: heat pump")
    assert "-5.00" in text and "no more than 120.00 a stay" in text
    assert text.count("3 Elm St, Larkfield: heat pump") == 1


def test_earlier_credits_stand_on_the_next_bill():
    credit = CreditRow(number="C2026-0001", on=date(2026, 5, 20), of_bill="B2026-0003", total_cents=751)
    (text,) = pages_of(bill_pdf(bill(line(), credits=(credit,))))
    assert "Credit notes since your last bill" in text
    assert "C2026-0001" in text and "of bill B2026-0003" in text and "7.51" in text


@pytest.mark.parametrize(("whole", "words"), [(True, "takes back all"), (False, "takes back part")])
def test_a_credit_note_names_its_bill_and_why(whole: bool, words: str):
    paper = bill(
        line(reason="12-17 Jun: 6 days taken back, 6 × 7.00"),
        number="C2026-0002",
        of_bill="B2026-0007",
        of_bill_issued_on=date(2026, 6, 2),
        whole=whole,
        why="It came home earlier",
    )
    (text,) = pages_of(bill_pdf(paper))
    assert f"This {words} of bill B2026-0007" in text and "It came home earlier." in text
    assert "Credit note C2026-0002" in text and "Given back" in text and "To be paid by" not in text


def test_a_long_name_is_written_out():
    name = "The Estate of Margaret Featherstonehaugh-Cholmondeley, in care of Riverbend Property Management"
    (text,) = pages_of(bill_pdf(bill(line(), payer_lines=(name, "14 Alder Ct"))))
    assert name in text and "14 Alder Ct" in text


def test_sixty_lines_go_over_pages_and_no_house_is_left_behind_at_the_foot():
    lines = [line(f"{number} Oak Row, Larkfield: unit {number}", 700) for number in range(100, 160)]
    pages = pages_of(bill_pdf(bill(*lines)))
    assert len(pages) > 2
    for number in range(100, 160):
        (home,) = (page for page in pages if f"{number} Oak Row" in page)
        after = home.split(f"{number} Oak Row, Larkfield: unit {number}", 1)[1]
        assert after.strip().startswith("Monitoring"), number
    assert all(f"page {place} of {len(pages)}" in page for place, page in enumerate(pages, start=1))
    # In the column of days and in the reason.
    assert sum(page.count("8-14 May") for page in pages) == 2 * 60


def test_the_day_list_tells_each_day_and_what_is_known_of_it():
    first = date(2026, 5, 8)
    words = ["counted"] * 4 + [
        "6 h of readings, the kit failed",
        "21 h of readings, no power at the site",
        "waived",
    ]
    days = tuple(DayRow(on=first + timedelta(days=number), words=text) for number, text in enumerate(words))
    paper = DayListPaper(
        shop=SHOP,
        number="B2026-0007",
        payer_lines=("Ana Diaz",),
        month=date(2026, 5, 1),
        issued_on=date(2026, 6, 2),
        stays=(StayDays(house="14 Alder Ct, Larkfield: upstairs", days=days),),
    )
    (text,) = pages_of(day_list_pdf(paper))
    assert "7 days in all" in text
    for number, what in enumerate(words):
        day = first + timedelta(days=number)
        assert f"{day:%a} {day.day} May 2026 {what}" in text
