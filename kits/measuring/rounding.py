"""From computed floats to the decimals that are kept: thousandths of a kelvin."""

from decimal import ROUND_CEILING, ROUND_HALF_EVEN, Decimal

THOUSANDTH = Decimal("0.001")
# Ten digits after the point are plenty for a kelvin, and cut off what binary fractions add.
_NOISE = Decimal("0.0000000001")


def stored(value: float) -> Decimal:
    """A temperature (°C) or an offset (K) as it is kept: to the nearest thousandth, halves to the even one."""
    return _plain(value).quantize(THOUSANDTH, ROUND_HALF_EVEN) + 0


def stored_uncertainty(kelvin: float) -> Decimal:
    """An uncertainty as it is kept: rounded up, so that keeping it never makes a result look better (GUM 7.2.6)."""
    return _plain(kelvin).quantize(THOUSANDTH, ROUND_CEILING) + 0


def _plain(value: float) -> Decimal:
    return Decimal(value).quantize(_NOISE, ROUND_HALF_EVEN)
