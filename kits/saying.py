"""How refusals say an instant or a day, on the clock of the page they stand on."""

from datetime import date, datetime

from kits.templatetags.kitperch import day, when


def said(instant: datetime) -> str:
    """ "Tue 14 Apr, 3:20 pm"."""
    return when(instant)


def said_day(on: date) -> str:
    """ "Tue 14 Apr"; with its year when that is not this year."""
    return day(on)


def later(instant: datetime | None) -> str:
    """ "later than that, on Tue 14 Apr, 3:20 pm": the time that stands against the one given."""
    return f"later than that, on {when(instant)}" if instant else "later than that"
