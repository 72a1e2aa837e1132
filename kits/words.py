"""How states of kits and sensors are said on a page: the tone beside the word, and when a check falls due (pure)."""

from datetime import date
from typing import Literal

Tone = Literal["plain", "good", "attention", "late"]


def tone_of_place(place: str, *, needs_work: bool = False) -> Tone:
    """The tone of a kit's whereabouts.

    >>> tone_of_place("shelf"), tone_of_place("bench", needs_work=True), tone_of_place("missing")
    ('good', 'attention', 'late')
    """
    if place == "missing":
        return "late"
    if needs_work:
        return "attention"
    return "good" if place == "shelf" else "plain"


def place_phrase(place: str, word: str) -> str:
    """The whereabouts as the end of "it is …".

    >>> place_phrase("shelf", "shelf"), place_phrase("truck", "Ben's truck"), place_phrase("site", "site")
    ('on the shelf', "on Ben's truck", 'at a site')
    """
    if place in {"shelf", "bench"}:
        return f"on the {word}"
    return {"truck": f"on {word}", "site": "at a site"}.get(place, word)


def months_later(day: date, months: int) -> date:
    """The same day of the month some months later; the month's last day where it has no such day.

    >>> months_later(date(2026, 8, 31), 6)
    datetime.date(2027, 2, 28)
    """
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    last = (date(year + (month == 11), (month + 1) % 12 + 1, 1) - date(year, month + 1, 1)).days
    return date(year, month + 1, min(day.day, last))


# How long the check of a sensor holds, by `kits.readiness.Dated.word`.
DUE_TONES: dict[str, Tone] = {
    "in date": "good",
    "due soon": "attention",
    "due": "late",
    "never checked": "attention",
    "to be replaced": "late",
}
