"""Filters and tags of every page: times in the right zone, codes, money, tables and forms as they are drawn."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import django_tables2 as tables
import pytest
import time_machine
from django import forms
from django.template import Context, Template
from django.test import RequestFactory
from django.utils import timezone

from kits.templatetags import kitperch

NEW_YORK = ZoneInfo("America/New_York")


def drawn(text: str, **context: object) -> str:
    return Template("{% load kitperch django_tables2 %}" + text).render(Context(context))


@time_machine.travel(datetime(2026, 4, 20, 12, tzinfo=UTC), tick=False)
@pytest.mark.parametrize(
    ("instant", "zone", "text"),
    [
        pytest.param(datetime(2026, 4, 14, 19, 20, tzinfo=UTC), NEW_YORK, "Tue 14 Apr, 3:20 pm", id="afternoon"),
        pytest.param(datetime(2026, 4, 14, 2, 5, tzinfo=UTC), "America/New_York", "Mon 13 Apr, 10:05 pm", id="day before"),
        pytest.param(datetime(2026, 4, 14, 4, 0, tzinfo=UTC), NEW_YORK, "Tue 14 Apr, 12:00 am", id="midnight"),
        pytest.param(datetime(2026, 4, 14, 16, 0, tzinfo=UTC), NEW_YORK, "Tue 14 Apr, 12:00 pm", id="noon"),
        pytest.param(datetime(2025, 12, 31, 18, 0, tzinfo=UTC), NEW_YORK, "Wed 31 Dec 2025, 1:00 pm", id="another year"),
        pytest.param(None, NEW_YORK, kitperch.NOTHING, id="not yet"),
    ],
)  # fmt: skip
def test_an_instant_reads_in_the_zone_given(
    instant: datetime | None, zone: ZoneInfo | str, text: str
) -> None:
    assert kitperch.when(instant, zone) == text


@time_machine.travel(datetime(2027, 1, 1, 3, tzinfo=UTC), tick=False)
def test_the_year_is_the_zones_year() -> None:
    assert kitperch.when(datetime(2026, 12, 31, 20, tzinfo=UTC), NEW_YORK) == "Thu 31 Dec, 3:00 pm"


@time_machine.travel(datetime(2026, 4, 20, 12, tzinfo=UTC), tick=False)
def test_without_a_zone_the_active_one_counts_and_dates_stand_as_they_are() -> None:
    instant = datetime(2026, 4, 14, 2, 5, tzinfo=UTC)
    with timezone.override(NEW_YORK):
        assert kitperch.day(instant) == "Mon 13 Apr"
        assert kitperch.day(date(2026, 4, 14)) == "Tue 14 Apr"
        assert 'title="2026-04-13 22:05:00 EDT, America/New_York"' in drawn("{% time at %}", at=instant)


@pytest.mark.parametrize(
    ("length", "text"),
    [
        pytest.param(timedelta(days=9, hours=23), "9 days", id="whole days"),
        pytest.param(timedelta(days=1), "1 day", id="one"),
        pytest.param(timedelta(hours=23, minutes=59), "23 hours", id="just under a day"),
        pytest.param(timedelta(seconds=59), "less than a minute", id="seconds"),
        pytest.param(3, "3 days", id="a number is days"),
    ],
)
def test_a_length_reads_in_its_largest_unit(length: timedelta | int, text: str) -> None:
    assert kitperch.how_long(length) == text


@pytest.mark.parametrize(
    ("cents", "text"),
    [(124_000, "$1,240.00"), (5, "$0.05"), (-250, "\N{MINUS SIGN}$2.50"), (None, kitperch.NOTHING)],
)
def test_money_is_whole_cents(cents: int | None, text: str) -> None:
    assert kitperch.money(cents) == text


def test_a_code_is_read_in_two_threes() -> None:
    assert kitperch.spaced_code("7M4Q2P") == "7M4\N{NO-BREAK SPACE}Q2P"
    assert kitperch.spaced_code("7M4") == "7M4"


def test_tape_is_one_of_ten_colours_and_the_word_always_stands_beside() -> None:
    assert "swatch-grey" in drawn('{% include "_swatch.html" with text="4" colour="Gray" only %}')
    unknown = drawn('{% include "_swatch.html" with text="4" colour="tartan" only %}')
    assert "swatch-" not in unknown and "tartan" in unknown


class Reading(forms.Form):
    supply = forms.DecimalField(
        help_text="At the plenum.", widget=forms.NumberInput(attrs={"data-unit": "°F"})
    )
    taken_on = forms.DateField()
    pulled = forms.BooleanField(required=False)


def test_a_field_keeps_what_was_typed_and_ties_help_and_error_to_its_box() -> None:
    html = drawn("{{ form }}", form=Reading({"supply": "fifty", "taken_on": "2026-04-14"}))
    assert 'value="fifty"' in html
    assert 'aria-describedby="id_supply_helptext id_supply_error"' in html
    assert 'id="id_supply_helptext"' in html and 'id="id_supply_error"' in html
    assert 'type="date" name="taken_on" value="2026-04-14"' in html


def test_what_cannot_be_saved_is_said_before_the_fields() -> None:
    form = Reading({"supply": "50", "taken_on": "2026-04-14"})
    form.add_error(None, "This kit is on Ben's truck.")
    html = drawn("{{ form }}", form=form)
    assert html.index("This kit is on Ben") < html.index('name="supply"')


class Kits(tables.Table):
    code = tables.Column()
    sensors = tables.Column(attrs={"td": {"class": "numeral"}})
    counted = "kit,kits"

    class Meta:
        empty_text = "No kits yet."


def table_html(rows: list[dict[str, object]], query: str = "") -> str:
    request = RequestFactory().get("/kits/" + query)
    table = Kits(rows)
    tables.RequestConfig(request, paginate={"per_page": 2}).configure(table)
    return drawn("{% render_table table %}", table=table, request=request)


def test_a_table_says_how_it_is_sorted_and_how_many_there_are() -> None:
    html = table_html([{"code": code, "sensors": 5} for code in ("B", "A", "C")], "?sort=-code")
    assert 'aria-sort="descending"' in html and "3 kits" in html
    assert html.index('<th scope="row">C</th>') < html.index('<th scope="row">B</th>')
    assert '<th scope="row">A</th>' not in html, "the second page"
    assert '<td class="numeral">5</td>' in html


def test_an_empty_table_teaches_and_an_empty_search_offers_everything() -> None:
    assert "No kits yet." in table_html([])
    assert "Show all" in table_html([], "?q=nothing")


class Plain(tables.Table):
    code = tables.Column(footer="all")


def test_a_table_that_says_nothing_about_itself_is_drawn_too() -> None:
    table = Plain([{"code": "A"}, {"code": "B"}], request=(request := RequestFactory().get("/")))
    html = drawn("{% render_table table %}", table=table, request=request)
    assert "2 lines" in html and "<tfoot><tr><td>all</td>" in html
