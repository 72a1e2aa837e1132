"""After a sensor was found out of limit: which stays are in doubt since its last good check, and by how much.

At its last good check its error was within the limit; now it is the as-found error. Somewhere between it left the limit,
nobody knows when. So any reading of that time may have been wrong by anything in between.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Generic, TypeVar

from kits.units import Unit, difference_text

Key = TypeVar("Key")


@dataclass(frozen=True)
class Span(Generic[Key]):
    """A time a sensor was relied on: a stay, [from, until); still out when `until` is None."""

    key: Key
    began: datetime
    until: datetime | None


@dataclass(frozen=True, kw_only=True)
class Doubt:
    """How wrong readings may have been: an error from `least` to `most`, both reading minus true, one of them the worst.

    `beyond_least` and `beyond_most`: how far past the limit, at least and at most, given the uncertainty of what was
    found.
    """

    least_kelvin: float
    most_kelvin: float
    beyond_least_kelvin: float
    beyond_most_kelvin: float

    @property
    def reads_high(self) -> bool:
        return abs(self.most_kelvin) >= abs(self.least_kelvin)

    def sentence(self, unit: Unit) -> str:
        """ "Readings may have been up to 1.3 °F too high, 0.4 °F beyond the limit." """
        worst = max(abs(self.least_kelvin), abs(self.most_kelvin))
        return (
            f"Readings may have been up to {difference_text(worst, unit, 1, signed=False)} too "
            f"{'high' if self.reads_high else 'low'}, "
            f"{difference_text(self.beyond_most_kelvin, unit, 1, signed=False)} beyond the limit."
        )


def doubt(
    *, as_found_errors_kelvin: Iterable[float], limit_kelvin: float, expanded_kelvin: float
) -> Doubt | None:
    """The size of the doubt from the errors as found at all points; None when none of them is beyond the limit."""
    worst = max(as_found_errors_kelvin, key=abs, default=0.0)
    if abs(worst) <= limit_kelvin:
        return None
    beyond = abs(worst) - limit_kelvin
    reach = abs(worst) + expanded_kelvin
    return Doubt(
        least_kelvin=-limit_kelvin if worst > 0 else -reach,
        most_kelvin=reach if worst > 0 else limit_kelvin,
        beyond_least_kelvin=max(beyond - expanded_kelvin, 0.0),
        beyond_most_kelvin=beyond + expanded_kelvin,
    )


def in_doubt(
    spans: Iterable[Span[Key]], *, last_good_at: datetime | None, found_at: datetime
) -> list[Span[Key]]:
    """The spans with any instant between the last good check (or ever, without one) and the finding, oldest first."""
    touched = [
        span
        for span in spans
        if span.began < found_at
        and (last_good_at is None or span.until is None or span.until > last_good_at)
        and span.began != span.until
    ]
    return sorted(touched, key=lambda span: span.began)
