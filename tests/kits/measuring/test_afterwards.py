"""What follows from a check: the due date, the stays in doubt, the numbers of a drift plot."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kits.measuring.doubt import Span, doubt, in_doubt
from kits.measuring.drift import DriftPoint, drift_plot
from kits.measuring.due import Happening, add_months, due
from kits.measuring.trouble import CannotCompute

CHECKED = datetime(2026, 3, 10, 15, 0, tzinfo=UTC)


def due_after(checked=CHECKED, months=6, **rest):
    return due(last_checked_at=checked, interval_months=months, limit_kelvin=0.5, **rest)


# -- Due --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("day", "months", "expected"),
    [
        pytest.param("2026-03-10", 6, "2026-09-10", id="plain"),
        pytest.param("2026-08-31", 6, "2027-02-28", id="no 31st of February"),
        pytest.param("2027-08-31", 6, "2028-02-29", id="a leap year"),
        pytest.param("2028-02-29", 12, "2029-02-28", id="from a leap day"),
        pytest.param("2026-12-15", 1, "2027-01-15", id="over the year's end"),
        pytest.param("2026-03-31", 1, "2026-04-30", id="30 days only"),
        pytest.param("2026-11-30", 13, "2027-12-30", id="more than a year"),
    ],
)
def test_months_later(day, months, expected):
    assert add_months(date.fromisoformat(day), months) == date.fromisoformat(expected)


@given(st.dates(date(2000, 1, 1), date(2090, 1, 1)), st.integers(1, 60))
def test_months_later_is_that_month(day, months):
    later = add_months(day, months)
    assert (later.year * 12 + later.month) - (day.year * 12 + day.month) == months
    assert later.day == day.day or (later.day < day.day and (later + timedelta(days=1)).day == 1)


def test_the_due_day_itself_is_still_in_date():
    result = due_after()
    assert result.on == date(2026, 9, 10)
    states = [result.state(date(2026, *day)) for day in ((8, 26), (8, 27), (9, 10), (9, 11))]
    assert states == ["in date", "due soon", "due soon", "due"]
    assert result.in_date(date(2026, 9, 10)) and not result.in_date(date(2026, 9, 11))


def test_the_day_is_the_shops():
    """22:00 on the 9th in Phoenix is already the 10th in UTC."""
    evening = datetime(2026, 3, 9, 22, 0, tzinfo=ZoneInfo("America/Phoenix"))
    assert due_after(evening).on == date(2026, 9, 9)


@pytest.mark.parametrize(
    ("drift", "shortened"),
    [
        pytest.param(None, False, id="first check"),
        pytest.param(0.25, False, id="exactly the share"),
        pytest.param(0.26, True, id="more"),
        pytest.param(-0.26, True, id="downwards"),
    ],
)
def test_a_sensor_that_moves_is_checked_twice_as_often(drift, shortened):
    result = due_after(drift_kelvin=drift)
    assert result.shortened == shortened
    assert result.on == (date(2026, 6, 10) if shortened else date(2026, 9, 10))
    assert ("50%" in result.sentence) == shortened


def test_a_sensor_nobody_checked_is_due():
    result = due_after(None)
    assert result.now and result.on is None and result.state(date(2026, 1, 1)) == "due"
    assert result.sentence == "It was never checked."


@pytest.mark.parametrize("what", ["lead repaired", "dropped", "lead swapped", "out of limit as found"])
def test_what_happened_since_makes_it_due_now(what):
    result = due_after(happenings=[Happening(CHECKED + timedelta(hours=1), what)])
    assert result.now and not result.in_date(CHECKED.date())
    assert "2026-03-10" in result.sentence


def test_what_happened_before_the_check_is_settled_by_it():
    before = [Happening(CHECKED - timedelta(days=1), "dropped"), Happening(CHECKED, "lead repaired")]
    assert not due_after(happenings=before).now


def test_an_interval_of_nothing():
    with pytest.raises(CannotCompute, match="one month or more"):
        due_after(months=0)


# -- Doubt ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("errors", [[], [0.5], [-0.5, 0.3]], ids=["none", "at the limit", "within"])
def test_within_the_limit_nothing_is_in_doubt(errors):
    assert doubt(as_found_errors_kelvin=errors, limit_kelvin=0.5, expanded_kelvin=0.1) is None


@pytest.mark.parametrize(
    ("errors", "span", "beyond", "words"),
    [
        pytest.param(
            [0.2, 0.8],
            (-0.5, 0.9),
            (0.2, 0.4),
            "up to 0.9\u202fK too high, 0.4\u202fK beyond",
            id="reads high",
        ),
        pytest.param([-0.8, 0.1], (-0.9, 0.5), (0.2, 0.4), "up to 0.9\u202fK too low", id="reads low"),
        pytest.param([0.55], (-0.5, 0.65), (0.0, 0.15), "too high", id="perhaps not beyond at all"),
    ],
)
def test_the_size_of_the_doubt(errors, span, beyond, words):
    found = doubt(as_found_errors_kelvin=errors, limit_kelvin=0.5, expanded_kelvin=0.1)
    assert (found.least_kelvin, found.most_kelvin) == pytest.approx(span)
    assert (found.beyond_least_kelvin, found.beyond_most_kelvin) == pytest.approx(beyond)
    assert words in found.sentence("C")


def test_the_doubt_in_fahrenheit_has_no_32():
    found = doubt(as_found_errors_kelvin=[0.9], limit_kelvin=0.5, expanded_kelvin=0.1)
    assert "up to 1.8\u202f°F too high, 0.9\u202f°F beyond the limit" in found.sentence("F")


def days(start, end):
    at = datetime(2026, 1, 1, tzinfo=UTC)
    return Span(
        f"{start}-{end}", at + timedelta(days=start), None if end is None else at + timedelta(days=end)
    )


def test_stays_since_the_last_good_check_are_in_doubt():
    good, found = (datetime(2026, 1, 1, tzinfo=UTC) + timedelta(days=day) for day in (10, 40))
    spans = [
        days(45, 50),
        days(30, None),
        days(1, 10),
        days(1, 11),
        days(12, 20),
        days(39, 60),
        days(40, 41),
        days(15, 15),
    ]
    names = [span.key for span in in_doubt(spans, last_good_at=good, found_at=found)]
    assert names == ["1-11", "12-20", "30-None", "39-60"]


def test_without_a_good_check_all_stays_before_are_in_doubt():
    spans = [days(12, 20), days(1, 2)]
    found = in_doubt(spans, last_good_at=None, found_at=datetime(2026, 2, 1, tzinfo=UTC))
    assert [span.key for span in found] == ["1-2", "12-20"]


# -- Drift ------------------------------------------------------------------------------------------------------------


def drifted(day, as_found, raw, expanded=0.1):
    return DriftPoint(day=day, as_found_error_kelvin=as_found, expanded_kelvin=expanded, raw_error_kelvin=raw)


def test_checks_come_in_order_and_all_bars_fit():
    plot = drift_plot(
        [drifted(date(2026, 7, 1), -0.55, 0.05), drifted(date(2026, 1, 1), 0.3, 0.6)], limit_kelvin=0.5
    )
    assert [point.day.month for point in plot.points] == [1, 7]
    assert plot.reach_kelvin == pytest.approx(0.65)
    assert plot.points[0].bar_kelvin == pytest.approx((0.2, 0.4))


def test_drift_is_the_bare_sensors_whatever_offsets_did():
    plot = drift_plot(
        [drifted(date(2026, 1, 1), 0.6, 0.6), drifted(date(2026, 7, 1), 0.05, 0.65)], limit_kelvin=0.5
    )
    assert plot.last_drift_kelvin == pytest.approx(0.05)
    assert drift_plot(plot.points[:1], limit_kelvin=0.5).last_drift_kelvin is None
    assert drift_plot([], limit_kelvin=0.5).reach_kelvin == 0.5
