"""How refusals say an instant, on the clock of the page they stand on."""

from datetime import datetime

from kits.templatetags.kitperch import when


def said(instant: datetime) -> str:
    """ "Tue 14 Apr, 3:20 pm"."""
    return when(instant)


def later(instant: datetime | None) -> str:
    """ "later than that, on Tue 14 Apr, 3:20 pm": the time that stands against the one given."""
    return f"later than that, on {when(instant)}" if instant else "later than that"
