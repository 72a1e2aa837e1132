"""SenML packs against the published examples of RFC 8428, section 5, with their published resolved forms (`senml.json`)."""

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from kits.senml import BadPack, read_pack

pytestmark = pytest.mark.outside

PUBLISHED = json.loads((Path(__file__).parent / "senml.json").read_text())
LATER = 1_700_000_500  # an instant that no example has: absolute times must not depend on it

each_pack = pytest.mark.parametrize("example", PUBLISHED["packs"], ids=lambda one: one["id"])
each_bad = pytest.mark.parametrize("example", PUBLISHED["must_reject"], ids=lambda one: one["why"])


def resolved(example: dict[str, Any], now: int) -> list[dict[str, Any]]:
    records = read_pack(json.dumps(example["pack"]), now=datetime.fromtimestamp(now, UTC))
    return [
        {
            label: value if isinstance(value, str | bool) else float(value)
            for label, value in one.as_labels().items()
        }
        for one in records
    ]


@each_pack
def test_a_published_pack_resolves_as_published(example):
    expected = example.get("resolved") or example["resolved_with_now"]
    as_numbers = [
        {label: float(value) if isinstance(value, int) else value for label, value in one.items()}
        for one in expected
    ]
    assert resolved(example, example.get("now", LATER)) == as_numbers


@each_bad
def test_what_the_rfc_forbids_is_refused(example):
    with pytest.raises(BadPack):
        read_pack(json.dumps(example["pack"]), now=datetime.fromtimestamp(LATER, UTC))
