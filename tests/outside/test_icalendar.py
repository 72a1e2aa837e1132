r"""The calendar held against RFC 5545 and RFC 7986, and read back by `icalendar`, a general library for them.

Rules and examples are the RFCs' own; the section stands beside each. RFC 5545: rfc-editor.org/rfc/rfc5545,
RFC 7986: rfc-editor.org/rfc/rfc7986.
"""

import re
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

import icalendar
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from sites.icalendar_feed import Entry, event, feed, folded, instant, text

pytestmark = pytest.mark.outside

CHANGED = datetime(2026, 4, 14, 19, 20, 7, tzinfo=UTC)


def entry(**changes: Any) -> Entry:
    values: dict[str, Any] = {
        "uid": UUID("0f7b1c4e-8f5e-4d55-9d1f-2b1f4f0c9a01"),
        "first_day": date(2026, 4, 14),
        "last_day": date(2026, 4, 14),
        "title": "Put in: Wren, 9 Elm Terrace",
        "changed_at": CHANGED,
    }
    return Entry(**{**values, **changes})


def unfolded(stream: bytes) -> list[str]:
    """Section 3.1: a line break followed by one blank or tab is taken away; then lines end with CRLF."""
    return re.sub(rb"\r\n[ \t]", b"", stream).decode().split("\r\n")[:-1]


def read(*entries: Entry) -> icalendar.Calendar:
    return icalendar.Calendar.from_ical(feed(entries, name="Kits"))


# -- 3.1: lines ------------------------------------------------------------------------------------


def test_the_rfc_s_folded_line_is_unfolded_as_it_says():
    """Section 3.1: the rule by which the tests below unfold, on the RFC's own example."""
    stream = b"DESCRIPTION:This is a lo\r\n ng description\r\n  that exists on a long line.\r\n"
    assert unfolded(stream) == ["DESCRIPTION:This is a long description that exists on a long line."]


@pytest.mark.parametrize(
    "line",
    [
        pytest.param("SUMMARY:" + "a" * 67, id="75 octets: one line"),
        pytest.param("SUMMARY:" + "a" * 68, id="76 octets: two lines"),
        pytest.param("SUMMARY:" + "a" * 66 + "é", id="an accent astride the 75th octet"),
        pytest.param("SUMMARY:" + "ł" * 200, id="two octets each"),
        pytest.param("SUMMARY:" + "Đặng " * 60, id="two and three octets"),
        pytest.param("SUMMARY:" + "\N{SNOWFLAKE}" * 100, id="three octets each"),
        pytest.param("SUMMARY:" + "\N{SNOW CAPPED MOUNTAIN}" * 80, id="four octets each"),
        pytest.param("SUMMARY:" + " " * 200, id="blanks"),
    ],
)
def test_lines_are_no_longer_than_75_octets_and_no_character_is_cut(line):
    """Section 3.1: 'Lines of text SHOULD NOT be longer than 75 octets, excluding the line break.'"""
    pieces = folded(line).split(b"\r\n")
    assert pieces.pop() == b""
    assert max(map(len, pieces)) <= 75
    assert all(piece.startswith(b" ") for piece in pieces[1:])
    assert [piece.decode() for piece in pieces]  # each is whole UTF-8
    assert unfolded(folded(line)) == [line]
    assert (len(pieces) == 1) is (len(line.encode()) <= 75)


def test_every_line_ends_with_crlf_and_no_bare_line_break_is_left():
    """Section 3.1: 'delimited by a line break, which is a CRLF sequence'."""
    stream = feed([entry(details="one\ntwo\r\nthree\rfour")], name="Kits\nof the shop")
    assert stream.endswith(b"END:VCALENDAR\r\n")
    assert not re.search(rb"\r(?!\n)|(?<!\r)\n", stream)


# -- 3.3.11: text ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "written, value",
    [
        # 3.3.11, its example of a TEXT value
        (
            r"Project XYZ Final Review\nConference Room - 3B\nCome Prepared.",
            "Project XYZ Final Review\nConference Room - 3B\nCome Prepared.",
        ),
        # 3.8.1.7, LOCATION
        (r"Conference Room - F123\, Bldg. 002", "Conference Room - F123, Bldg. 002"),
        # 3.8.1.5, DESCRIPTION, unfolded: quotation marks stay as they are
        (
            r'Meeting to provide technical review for "Phoenix" design.\nHappy Face Conference Room. Phoenix '
            r"design team MUST attend this meeting.\nRSVP to team leader.",
            'Meeting to provide technical review for "Phoenix" design.\nHappy Face Conference Room. Phoenix '
            "design team MUST attend this meeting.\nRSVP to team leader.",
        ),
        # 3.3.11: ESCAPED-CHAR is \\ \; \, \N \n; 'a COLON character SHALL NOT be escaped'
        (r"a\\b\;c\,d:e", "a\\b;c,d:e"),
        # a backslash before N or n is a backslash: the reader must not see a line break
        (r"C:\\North\\new", "C:\\North\\new"),
    ],
)
def test_text_is_escaped_as_in_the_rfc_s_examples(written, value):
    assert text(value) == written
    (found,) = read(entry(title=value)).walk("VEVENT")
    assert str(found["SUMMARY"]) == value


ANY_TEXT = st.text(st.characters(exclude_categories=["Cs", "Cc"], include_characters="\n\t"), min_size=1)


@given(ANY_TEXT, ANY_TEXT)
@example("José Núñez-Wołkowski\\, " * 9, "\\N\n;,:\\n" * 30)
def test_whatever_is_written_is_read_back(title, details):
    (found,) = read(entry(title=title, details=details)).walk("VEVENT")
    assert (str(found["SUMMARY"]), str(found["DESCRIPTION"])) == (title, details)


def test_control_characters_are_left_out():
    """Section 3.1: VALUE-CHAR excludes the controls but the tab."""
    assert text("a\x00b\x07c\x7fd\te") == "abcd\te"


# -- 3.4, 3.6: the object and its components -------------------------------------------------------


def test_the_object_has_what_the_rfc_asks_for_and_no_method():
    """Sections 3.4, 3.6, 3.7.3, 3.7.4; DTSTART is required in a VEVENT of an object without METHOD (3.6.1)."""
    lines = unfolded(feed([entry()], name="Kits"))
    assert (lines[0], lines[-1]) == ("BEGIN:VCALENDAR", "END:VCALENDAR")
    assert [line for line in lines if line.startswith(("VERSION", "PRODID"))] == lines[1:3]
    assert lines[1] == "VERSION:2.0"
    names = [re.split("[;:]", line)[0] for line in lines]
    assert "METHOD" not in names and not [name for name in names if name.startswith("X-")]
    for once in ("UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY", "SEQUENCE", "LAST-MODIFIED"):
        assert names.count(once) == 1
    assert "DURATION" not in names  # 3.6.1: DTEND or DURATION, not both


def test_a_calendar_of_nothing_still_has_a_component():
    """Section 3.6: 'it MUST include at least one calendar component'."""
    found = icalendar.Calendar.from_ical(feed([], name="Kits"))
    (zone,) = found.subcomponents
    assert zone.name == "VTIMEZONE"
    (standard,) = zone.subcomponents
    assert standard["TZOFFSETTO"].td == standard["TZOFFSETFROM"].td == timedelta(0)
    assert found.errors == standard.errors == []


def test_name_and_refresh_are_those_of_rfc_7986():
    """RFC 7986, 5.1 NAME and 5.7 REFRESH-INTERVAL, whose VALUE=DURATION must be said."""
    lines = unfolded(feed([], name="Company Vacation Days", refresh_hours=6))
    assert "NAME:Company Vacation Days" in lines  # 5.1, its example
    assert "REFRESH-INTERVAL;VALUE=DURATION:PT6H" in lines


def test_the_end_of_whole_days_is_the_day_after():
    """Section 3.6.1: its example from 28 June to 8 July 2007 inclusively ends on 9 July."""
    lines = list(event(entry(first_day=date(2007, 6, 28), last_day=date(2007, 7, 8))))
    assert "DTSTART;VALUE=DATE:20070628" in lines
    assert "DTEND;VALUE=DATE:20070709" in lines


# The clocks change in New York on 2026-03-08 and 2026-11-01 (IANA tz database 2025b, northamerica).
@pytest.mark.parametrize(
    "first, last",
    [
        pytest.param(date(2026, 3, 8), date(2026, 3, 8), id="the day of 23 hours"),
        pytest.param(date(2026, 3, 7), date(2026, 3, 9), id="across it"),
        pytest.param(date(2026, 11, 1), date(2026, 11, 1), id="the day of 25 hours"),
        pytest.param(date(2026, 12, 30), date(2027, 1, 2), id="across the year"),
        pytest.param(date(2028, 2, 28), date(2028, 2, 29), id="a leap day"),
    ],
)
def test_no_change_of_clocks_moves_a_day(first, last):
    (found,) = read(entry(first_day=first, last_day=last)).walk("VEVENT")
    assert (found.decoded("DTSTART"), found.decoded("DTEND")) == (first, last + timedelta(days=1))
    assert not {"TZID", "VTIMEZONE"} & set(found["DTSTART"].params)


def test_instants_are_utc():
    """Section 3.3.5, form 2; without METHOD, DTSTAMP is when the entry last changed (3.8.7.2)."""
    assert instant(datetime.fromisoformat("2026-04-14T15:20:07-04:00")) == "20260414T192007Z"
    (found,) = read(entry()).walk("VEVENT")
    assert found.decoded("DTSTAMP") == found.decoded("LAST-MODIFIED") == CHANGED


def test_where_it_is_and_how_often_it_changed():
    """Sections 3.8.1.6 (GEO, its own example), 3.8.4.6 (URL is no TEXT: nothing escaped), 3.8.7.4 (SEQUENCE)."""
    whole = entry(
        coordinates=(Decimal("37.386013"), Decimal("-122.082932")),
        url="http://example.com/pub/calendars/jsmith/mytime.ics?a=1;b=2,3",
        revision=2,
    )
    lines = list(event(whole))
    assert "GEO:37.386013;-122.082932" in lines
    assert "URL:http://example.com/pub/calendars/jsmith/mytime.ics?a=1;b=2,3" in lines
    assert "SEQUENCE:2" in lines
    assert "TRANSP:TRANSPARENT" in lines  # 3.8.2.7: no time is taken up


def test_days_in_the_wrong_order_are_refused():
    with pytest.raises(ValueError, match="ends before it begins"):
        feed([entry(last_day=date(2026, 4, 13))], name="Kits")
