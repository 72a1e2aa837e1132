"""Tax to the cent: "carried to the third decimal place, rounded up to the whole cent whenever the third decimal is greater
than four", on each item or on the whole invoice, as the seller chooses.

Source: Streamlined Sales and Use Tax Agreement, section 324, as enacted in Rhode Island General Laws 44-18.1-25. The rule
is carried out here on digits, as it is written; ours rounds a product.
"""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

import pytest

from reports.billing.money import half_up
from reports.billing.tax import tax_cents, tax_of_lines
from reports.billing.terms import Tax, TaxRounding

pytestmark = pytest.mark.outside

RATES = ["0", "0.01", "0.0475", "0.05", "0.06", "0.0625", "0.07", "0.0725", "0.08875", "0.1025", "0.20"]


def by_the_third_decimal(amount_cents: int, rate: str) -> int:
    """The rule of the statute on the written digits of the tax in dollars."""
    exact = Fraction(amount_cents, 100) * Fraction(rate)
    thousandths = int(exact * 1000)  # carried to the third decimal place: what follows is cut off
    cents, third = divmod(thousandths, 10)
    return cents + (third > 4)


@pytest.mark.parametrize("rate", RATES)
def test_every_amount_up_to_sixty_dollars_by_the_third_decimal(rate: str) -> None:
    wrong = [
        cents
        for cents in range(6_000)
        if tax_cents(cents, Decimal(rate)) != by_the_third_decimal(cents, rate)
    ]
    assert wrong == []


@pytest.mark.parametrize(
    ("amount_cents", "rate", "cents"),
    [
        pytest.param(3400, "0.0625", 213, id="2.125 goes up, where half-even would go to 2.12"),
        pytest.param(1000, "0.0625", 63, id="0.625 goes up"),
        pytest.param(200, "0.0725", 15, id="0.145 goes up, where a binary fraction goes down"),
        pytest.param(100, "0.0725", 7, id="0.0725 stays below"),
        pytest.param(8, "0.0625", 1, id="0.005 is a cent"),
        pytest.param(7, "0.0625", 0, id="0.004375 is none"),
    ],
)
def test_on_and_beside_the_half(amount_cents: int, rate: str, cents: int) -> None:
    assert tax_cents(amount_cents, Decimal(rate)) == cents == by_the_third_decimal(amount_cents, rate)
    assert tax_cents(-amount_cents, Decimal(rate)) == -cents  # what is given back bears what was charged


def test_half_even_which_is_python_s_own_would_be_wrong() -> None:
    exact = Decimal("212.5")
    assert int(exact.quantize(Decimal(1))) == 212 and half_up(exact) == 213


@dataclass(frozen=True)
class Plain:
    amount_cents: int
    tax: Tax
    tax_rounding: TaxRounding = TaxRounding.BILL


@pytest.mark.parametrize("rate", ["0.0725", "0.08875"])
def test_rounded_once_the_parts_of_the_lines_add_up_to_the_tax_of_the_paper(rate: str) -> None:
    tax = Tax("S1", Decimal(rate))
    for count in range(1, 40):
        lines = [Plain(amount_cents=1210 + 37 * number, tax=tax) for number in range(count)]
        expected = by_the_third_decimal(sum(line.amount_cents for line in lines), rate)
        assert sum(tax_of_lines(lines)) == expected


def test_two_rates_on_one_paper_are_rounded_each_for_itself() -> None:
    low, high = Tax("A", Decimal("0.0725")), Tax("B", Decimal("0.0475"))
    lines = [Plain(1210, low), Plain(1210, high), Plain(1210, low)]
    told = tax_of_lines(lines)
    assert told[0] + told[2] == by_the_third_decimal(2420, "0.0725")
    assert told[1] == by_the_third_decimal(1210, "0.0475")
