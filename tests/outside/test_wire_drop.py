"""Loss in the tap wire against published wire tables and worked examples.

Values and their sources: wire_drop.csv beside this file; each row names its own. The 75 °C figure is the National
Electrical Code, chapter 9 table 8 (18 AWG solid, uncoated copper).
"""

import csv
from pathlib import Path

import pytest

from sites.power_budget import OHM_PER_1000_FT_AT_25_C, current_ampere, ohm_per_1000_ft, wire_drop_volt

pytestmark = pytest.mark.outside

with (Path(__file__).parent / "wire_drop.csv").open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))
DROPS = [row for row in ROWS if row["row_type"] == "drop"]
PUBLISHED = {
    row["awg_or_mm"] + "/" + row["one_way_ft"]: row for row in ROWS if row["row_type"] == "published_check"
}


def test_the_table_is_all_there():
    assert len(DROPS) == 65 and len(PUBLISHED) == 4


@pytest.mark.parametrize(
    "row", DROPS, ids=lambda row: f"{row['awg_or_mm']}-{row['one_way_ft']}-{row['current_A']}"
)
def test_drop_at_25_and_60_degrees(row):
    length, ampere = float(row["one_way_ft"]), float(row["current_A"])
    for celsius in (25, 60):
        told = float(row[f"ohm_per_kft_{celsius}C"])
        drop = wire_drop_volt(length, ampere, told)
        assert drop == pytest.approx(float(row[f"drop_V_{celsius}C"]), abs=0.0011)
        assert 100 * drop / 24 == pytest.approx(float(row[f"drop_pct_{celsius}C"]), abs=0.0051)
        if int(row["awg_or_mm"]) in OHM_PER_1000_FT_AT_25_C:
            assert ohm_per_1000_ft(int(row["awg_or_mm"]), celsius) == pytest.approx(told, abs=0.001)


def test_a_published_worked_example():
    row = PUBLISHED["16/100"]
    assert wire_drop_volt(100, 4, float(row["ohm_per_kft_25C"])) == pytest.approx(
        float(row["drop_V_25C"]), abs=0.001
    )


def test_a_published_example_that_forgets_the_way_back_is_half_of_ours():
    row = PUBLISHED["18/1500"]
    ours = wire_drop_volt(1500, 0.3, float(row["ohm_per_kft_25C"]))
    assert ours == pytest.approx(2 * float(row["drop_V_25C"]), abs=0.001)


@pytest.mark.parametrize("key", ["0.80 mm/122.13", "1.00 mm/190.83"])
def test_published_distance_tables_for_ten_percent_of_24_volts(key):
    row = PUBLISHED[key]
    ampere = current_ampere(float(row["load_VA_at_24V"]))
    assert ampere == pytest.approx(float(row["current_A"]), abs=0.0001)
    drop = wire_drop_volt(float(row["one_way_ft"]), ampere, float(row["ohm_per_kft_25C"]))
    assert drop == pytest.approx(2.4, abs=0.01)


def test_18_awg_at_75_degrees_is_the_codes_figure():
    assert ohm_per_1000_ft(18, 75) == pytest.approx(7.77, abs=0.02)
