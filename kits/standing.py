"""Whether a certificate or a check still holds, said in words with their tone (pure)."""

from dataclasses import dataclass
from datetime import date

from kits.words import Tone

SOON_DAYS = 30


@dataclass(frozen=True)
class Standing:
    """A state as a word with its tone, and the sentence that goes with it."""

    word: str
    tone: Tone
    sentence: str

    @property
    def usable(self) -> bool:
        return self.tone != "late"


def certificate_standing(due_on: date | None, today: date, *, soon_days: int = SOON_DAYS) -> Standing:
    """How a reference thermometer stands that is good until `due_on`; without a certificate it proves nothing.

    >>> certificate_standing(date(2026, 3, 1), date(2026, 3, 1)).word
    'out of date'
    """
    if due_on is None:
        return Standing(
            "no certificate", "late", "No certificate was entered yet, so nothing can be compared with it."
        )
    left = (due_on - today).days
    if left <= 0:
        ago = "today" if left == 0 else f"{days(-left)} ago"
        return Standing("out of date", "late", f"Its certificate ran out {ago}.")
    if left <= soon_days:
        return Standing("due soon", "attention", f"Its certificate runs out in {days(left)}.")
    return Standing("in date", "good", f"Its certificate is good for another {days(left)}.")


NEEDS_NO_CERTIFICATE = Standing("always at hand", "good", "It needs no certificate, only an allowance.")


def days(number: int) -> str:
    return f"{number} day{'' if number == 1 else 's'}"
