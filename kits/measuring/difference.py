"""How well the difference between two sensors is known: return minus supply, as reports quote it.

What both have in common (the same reference in the same bath in one sitting) is wrong by the same amount in both and
leaves the difference untouched. u(difference)² = u1² + u2² - 2 r u1 u2 (GUM 5.2).
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from kits.measuring.budget import Budget, Term, rectangular

MAKERS_HALF_WIDTH_KELVIN = 0.5


@dataclass(frozen=True)
class Difference:
    """The uncertainty of one sensor's reading minus another's."""

    budget: Budget
    correlation: float
    """r between the two: 0 of different sittings, towards 1 where almost everything is shared."""

    @property
    def standard_uncertainty_kelvin(self) -> float:
        return self.budget.standard_uncertainty_kelvin

    @property
    def expanded_kelvin(self) -> float:
        """U for 95 %."""
        return self.budget.expanded_kelvin

    @property
    def expanded_k2_kelvin(self) -> float:
        """U with k = 2."""
        return self.budget.expanded_k2_kelvin


def difference(
    first: Budget, second: Budget, *, same_sitting: bool, in_use: Sequence[Term] = ()
) -> Difference:
    """Of one sitting, shared terms of the same name count for what is left when they cancel; else everything counts.

    `in_use`: what adds to each of the two when they measure (the step of their reading, drift since the check).
    """
    ones, twos = first.with_terms(*in_use), second.with_terms(*in_use)
    common = _shared(ones).keys() & _shared(twos).keys() if same_sitting else set()
    terms = [
        *_named(ones, "First", common),
        *_named(twos, "Second", common),
        *(_remainder(name, _shared(ones)[name], _shared(twos)[name]) for name in sorted(common)),
    ]
    together = sum(_size(_shared(ones)[name]) * _size(_shared(twos)[name]) for name in common)
    product = ones.standard_uncertainty_kelvin * twos.standard_uncertainty_kelvin
    return Difference(Budget.of(*terms), together / product if product else 0.0)


def without_offset(half_width_kelvin: float = MAKERS_HALF_WIDTH_KELVIN) -> Budget:
    """A sensor nobody checked: the maker's figure, anywhere within it alike."""
    return Budget.of(
        rectangular("Sensor: the maker's figure, no offset", half_width_kelvin, note="never checked")
    )


def _shared(budget: Budget) -> dict[str, list[Term]]:
    named: dict[str, list[Term]] = {}
    for term in budget.terms:
        if term.shared:
            named.setdefault(term.name, []).append(term)
    return named


def _size(terms: Iterable[Term]) -> float:
    return math.hypot(*(term.standard_uncertainty_kelvin for term in terms))


def _named(budget: Budget, whose: str, without: Iterable[str]) -> list[Term]:
    skipped = set(without)
    return [
        replace(term, name=f"{whose}: {term.name}", shared=False)
        for term in budget.terms
        if not (term.shared and term.name in skipped)
    ]


def _remainder(name: str, ones: Sequence[Term], twos: Sequence[Term]) -> Term:
    return Term(
        name=f"Both: {name}",
        stated_kelvin=abs(_size(ones) - _size(twos)),
        degrees_of_freedom=min(term.degrees_of_freedom for term in (*ones, *twos)),
        kind=ones[0].kind,
        note="shared, so only what is unlike in it is left",
    )
