"""The uncertainty budget: one term for each thing that could be a little wrong, and what they come to together.

Every term is given as a *standard uncertainty* (like one standard deviation). Independent terms add as squares (GUM 5.1).
A term is *shared* when the same error enters every sensor of one sitting, as the reference's does: it cancels when two
of those sensors are compared (see `difference`).
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist, fmean, stdev
from typing import Any, Literal

from kits.measuring.trouble import CannotCompute

CONFIDENCE = 0.95
NORMAL = NormalDist()

RECTANGULAR_DIVISOR = math.sqrt(3)
"""Anywhere within ± a, all alike (GUM 4.3.7)."""
STEP_DIVISOR = math.sqrt(12)
"""Anywhere within one step of a display (GUM F.2.2.1): ± half a step, rectangular."""
CYCLING_DIVISOR = math.sqrt(2)
"""Swinging between - a and + a (arcsine, as the room's temperature in GUM H.1)."""

# The percentages certificates print, in the figures of NIST TN 1297, 4.2 and 4.3.
_PRINTED_FACTORS = {90.0: 1.645, 95.0: 1.960, 95.45: 2.0, 99.0: 2.576, 99.73: 3.0}


@dataclass(frozen=True, kw_only=True)
class Term:
    """One line of the budget. Type A was found from repeated readings, Type B in any other way."""

    name: str
    stated_kelvin: float
    """The figure it comes from: a scatter, a half-width, a step, a certificate's U."""
    divisor: float = 1.0
    degrees_of_freedom: float = math.inf
    kind: Literal["A", "B"] = "B"
    shared: bool = False
    single_reading: bool = False
    """It stands in for a scatter that one reading cannot show."""
    note: str = ""

    def __post_init__(self) -> None:
        if not (math.isfinite(self.stated_kelvin) and self.stated_kelvin >= 0):
            raise CannotCompute(f"{self.name}: an uncertainty is a number of zero or more.")
        if not (math.isfinite(self.divisor) and self.divisor > 0):
            raise CannotCompute(f"{self.name}: the figure it is divided by (k) must be more than zero.")
        if not self.degrees_of_freedom >= 1:
            raise CannotCompute(f"{self.name}: it needs at least one degree of freedom.")

    @property
    def standard_uncertainty_kelvin(self) -> float:
        return self.stated_kelvin / self.divisor

    def as_plain(self) -> dict[str, Any]:
        """As JSON can keep it (endless degrees of freedom become None)."""
        return {
            "name": self.name,
            "stated_kelvin": self.stated_kelvin,
            "divisor": self.divisor,
            "standard_uncertainty_kelvin": self.standard_uncertainty_kelvin,
            "degrees_of_freedom": self.degrees_of_freedom if math.isfinite(self.degrees_of_freedom) else None,
            "kind": self.kind,
            "shared": self.shared,
            "single_reading": self.single_reading,
            "note": self.note,
        }

    @classmethod
    def from_plain(cls, plain: Mapping[str, Any]) -> "Term":
        given = {name: value for name, value in plain.items() if name != "standard_uncertainty_kelvin"}
        if given.get("degrees_of_freedom") is None:
            given["degrees_of_freedom"] = math.inf
        return cls(**given)


def from_readings(
    name: str,
    readings: Sequence[float],
    *,
    assumed_half_width_kelvin: float,
    shared: bool = False,
) -> Term:
    """The scatter of the mean of repeated readings: Type A, s / √n with n - 1 degrees of freedom (GUM 4.2.3).

    One reading has no scatter to find. It is never taken as zero: `assumed_half_width_kelvin` (a step of the display, or
    what the shop is used to) takes its place as a Type B term that says so.
    """
    if not readings:
        raise CannotCompute(f"{name}: there is no reading. Type at least one; five are better.")
    if len(readings) > 1:
        return Term(
            name=name,
            stated_kelvin=stdev(readings),
            divisor=math.sqrt(len(readings)),
            degrees_of_freedom=len(readings) - 1,
            kind="A",
            shared=shared,
            note=f"scatter of {len(readings)} readings",
        )
    if not assumed_half_width_kelvin > 0:
        raise CannotCompute(
            f"{name}: one reading shows no scatter, and no scatter to assume was given. Take at least two readings."
        )
    return Term(
        name=name,
        stated_kelvin=assumed_half_width_kelvin,
        divisor=RECTANGULAR_DIVISOR,
        shared=shared,
        single_reading=True,
        note="one reading only: its scatter cannot be known, so this much is assumed",
    )


def resolution(name: str, step_kelvin: float, *, shared: bool = False, note: str = "") -> Term:
    """What hides within one step of a display."""
    return Term(
        name=name, stated_kelvin=step_kelvin, divisor=STEP_DIVISOR, shared=shared, note=note or "one step"
    )


def rectangular(name: str, half_width_kelvin: float, *, shared: bool = False, note: str = "") -> Term:
    """Within ± this much, anywhere alike."""
    return Term(
        name=name,
        stated_kelvin=half_width_kelvin,
        divisor=RECTANGULAR_DIVISOR,
        shared=shared,
        note=note or "within ± this much",
    )


def cycling(name: str, half_width_kelvin: float, *, shared: bool = False, note: str = "") -> Term:
    """Swinging to and fro by ± this much, as a thermostat makes a bath do."""
    return Term(
        name=name,
        stated_kelvin=half_width_kelvin,
        divisor=CYCLING_DIVISOR,
        shared=shared,
        note=note or "swings by ± this much",
    )


def certificate(
    name: str,
    expanded_kelvin: float,
    *,
    coverage_factor: float | None = None,
    confidence_percent: float | None = None,
    shared: bool = True,
    note: str = "",
) -> Term:
    """A certificate's U divided by its k, or by the k of the confidence it names (95 % -> 1.960, 99 % -> 2.576)."""
    if (coverage_factor is None) == (confidence_percent is None):
        raise CannotCompute(f"{name}: give the k of the certificate or its confidence, one of the two.")
    if coverage_factor is None:
        coverage_factor = normal_factor(confidence_percent or 0.0)
    return Term(
        name=name,
        stated_kelvin=expanded_kelvin,
        divisor=coverage_factor,
        shared=shared,
        note=note or "U of the certificate",
    )


def normal_factor(confidence_percent: float) -> float:
    """The k of a normal distribution that holds this share, as certificates round it."""
    if not 50 <= confidence_percent < 100:
        raise CannotCompute(
            "The confidence of a certificate is a percentage from 50 to below 100, such as 95."
        )
    return _PRINTED_FACTORS.get(confidence_percent, NORMAL.inv_cdf(0.5 + confidence_percent / 200))


def coverage_factor(degrees_of_freedom: float, confidence: float = CONFIDENCE) -> float:
    """k: Student's t for this confidence, degrees of freedom cut down to a whole number first (GUM G.4.1)."""
    if math.isinf(degrees_of_freedom):
        return NORMAL.inv_cdf(0.5 + confidence / 2)
    return _student_t(math.floor(degrees_of_freedom), confidence)


@lru_cache(maxsize=1024)
def _student_t(degrees_of_freedom: int, confidence: float) -> float:
    from scipy.special import stdtrit  # here, so that a server that computes no budget does not carry it

    return float(stdtrit(degrees_of_freedom, 0.5 + confidence / 2))


@dataclass(frozen=True)
class Budget:
    """All terms of one result, and what they come to."""

    terms: tuple[Term, ...]

    def __post_init__(self) -> None:
        if not self.terms:
            raise CannotCompute("An uncertainty needs at least one term.")

    @classmethod
    def of(cls, *terms: Term) -> "Budget":
        """Without the terms that are nothing: a bath without allowance needs no line."""
        return cls(tuple(term for term in terms if term.stated_kelvin > 0) or terms)

    @property
    def standard_uncertainty_kelvin(self) -> float:
        """u: all terms together."""
        return _together(self.terms)

    @property
    def shared_kelvin(self) -> float:
        """The part of u that every sensor of the sitting has in common."""
        return _together(term for term in self.terms if term.shared)

    @property
    def own_kelvin(self) -> float:
        """The part of u that is this sensor's alone."""
        return _together(term for term in self.terms if not term.shared)

    @property
    def degrees_of_freedom(self) -> float:
        """Effective degrees of freedom, by Welch and Satterthwaite (GUM G.2b); endless without a Type A term."""
        combined = self.standard_uncertainty_kelvin
        if combined == 0:
            return math.inf
        weight = sum(
            (term.standard_uncertainty_kelvin / combined) ** 4 / term.degrees_of_freedom
            for term in self.terms
        )
        return 1 / weight if weight > 0 else math.inf

    @property
    def coverage_factor(self) -> float:
        """k for 95 %, from Student's t at the effective degrees of freedom, cut down to a whole number."""
        return coverage_factor(self.degrees_of_freedom)

    @property
    def expanded_kelvin(self) -> float:
        """U for 95 %: k times u."""
        return self.coverage_factor * self.standard_uncertainty_kelvin

    @property
    def expanded_k2_kelvin(self) -> float:
        """U with k = 2, as most certificates state it."""
        return 2 * self.standard_uncertainty_kelvin

    @property
    def single_reading(self) -> bool:
        """Whether a scatter had to be assumed because there was one reading only."""
        return any(term.single_reading for term in self.terms)

    def shares_percent(self) -> list[tuple[Term, float]]:
        """Each term with its share of u squared, in percent; they come to 100."""
        whole = self.standard_uncertainty_kelvin
        if whole == 0:
            return [(term, 0.0) for term in self.terms]
        return [(term, 100 * (term.standard_uncertainty_kelvin / whole) ** 2) for term in self.terms]

    def with_terms(self, *more: Term) -> "Budget":
        """The same with further terms, for instance what happened to the sensor since."""
        return Budget.of(*self.terms, *more)

    def as_plain(self) -> list[dict[str, Any]]:
        return [term.as_plain() for term in self.terms]

    @classmethod
    def from_plain(cls, plain: Iterable[Mapping[str, Any]]) -> "Budget":
        return cls(tuple(Term.from_plain(term) for term in plain))


def mean(readings: Sequence[float]) -> float:
    """The mean of what was read, refused when nothing was."""
    if not readings:
        raise CannotCompute("There is no reading. Type at least one; five are better.")
    return fmean(readings)


def _together(terms: Iterable[Term]) -> float:
    return math.hypot(*(term.standard_uncertainty_kelvin for term in terms))
