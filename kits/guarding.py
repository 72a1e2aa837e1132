"""What the shop's rule costs: how many sensors it passes though out of limit, and refuses though good."""

from dataclasses import dataclass
from statistics import median

from kits.measuring.budget import Budget, resolution
from kits.measuring.point import DEFAULT_BATHS, SENSOR_STEP_KELVIN
from kits.measuring.reference import Ice
from kits.measuring.trouble import CannotCompute
from kits.measuring.verdict import rule_risk
from kits.models import CheckResult, DecisionRule, Shop
from kits.units import Unit, difference_text

RESULTS_LOOKED_AT = 60


def usual_budget() -> Budget:
    """What a check in crushed ice comes to, before any was made."""
    terms = (
        *Ice().terms_at(0.0),
        *DEFAULT_BATHS["ice"].terms(),
        resolution("Sensor: one step", SENSOR_STEP_KELVIN),
    )
    return Budget.of(*terms)


def usual_expanded_kelvin() -> float:
    """U of the shop's checks: the middle of its last results, or what crushed ice gives before there are any."""
    rows = CheckResult.objects.order_by("-pk").values_list("expanded_uncertainty_kelvin", flat=True)
    found = [float(value) for value in rows[:RESULTS_LOOKED_AT]]
    return median(found) if found else usual_budget().expanded_kelvin


@dataclass(frozen=True)
class Price:
    """A rule's price, in sentences."""

    rule: str
    passed_though_out: str
    refused_though_good: str


def prices(shop: Shop, unit: Unit) -> tuple[str, list[Price]]:
    """What the simple rule and the shop's guarded one would do to a thousand sensors, and what that supposes.

    Supposed: true errors scatter so that 95 of 100 sensors lie within the limit.
    """
    limit, expanded = float(shop.sensor_limit_kelvin), usual_expanded_kelvin()
    factor = float(shop.guard_factor)
    found = []
    rules = [("Simple", 0.0)]
    if shop.decision_rule == DecisionRule.GUARDED and factor > 0:
        rules.append((f"Guarded, r = {factor:g}", factor))
    for name, one in rules:
        try:
            risk = rule_risk(
                spread_kelvin=limit / 1.96,
                standard_uncertainty_kelvin=expanded / 2,
                limit_kelvin=limit,
                guard_factor=one,
            )
        except CannotCompute:
            continue
        found.append(
            Price(name, per_thousand(risk.passed_though_out), per_thousand(risk.refused_though_good))
        )
    supposed = (
        f"Of 1,000 sensors, 950 truly within ± {difference_text(limit, unit, 2, signed=False)}, checked as well as "
        f"this shop does (± {difference_text(expanded, unit, 2, signed=False)}):"
    )
    return supposed, found


def per_thousand(share: float) -> str:
    """A share as a count of a thousand.

    >>> per_thousand(0.0031), per_thousand(0.0002)
    ('3', 'less than 1')
    """
    count = share * 1000
    return "less than 1" if count < 0.5 else f"{count:.0f}"
