"""How sums and counts of bills are said on pages (pure)."""

from collections import Counter
from collections.abc import Iterable, Mapping


def amount_text(cents: int, currency: str = "") -> str:
    """
    >>> amount_text(124000, "USD"), amount_text(-5, "USD"), amount_text(650)
    ('1,240.00 USD', '-0.05 USD', '6.50')
    """
    sign = "-" if cents < 0 else ""
    text = f"{sign}{abs(cents) // 100:,}.{abs(cents) % 100:02d}"
    return f"{text} {currency}" if currency else text


def listed(words: Iterable[str]) -> str:
    """
    >>> listed(["a"]), listed(["a", "b", "c"])
    ('a', 'a, b and c')
    """
    *before, last = [word for word in words if word] or [""]
    return f"{', '.join(before)} and {last}" if before else last


def sums_text(by_currency: Mapping[str, int]) -> str:
    """
    >>> sums_text({"USD": 124000, "CAD": 8000}), sums_text({})
    ('80.00 CAD and 1,240.00 USD', 'nothing')
    """
    return listed(amount_text(by_currency[key], key) for key in sorted(by_currency)) or "nothing"


def sums_of(pairs: Iterable[tuple[str, int]]) -> dict[str, int]:
    """Cents added up by currency.

    >>> sums_of([("USD", 1), ("USD", 2)])
    {'USD': 3}
    """
    found: Counter[str] = Counter()
    for currency, cents in pairs:
        found[currency] += cents
    return dict(found)


def counted(number: int, one: str, many: str = "") -> str:
    """
    >>> counted(1, "bill"), counted(1200, "bill")
    ('1 bill', '1,200 bills')
    """
    return f"{number:,} {one if number == 1 else many or one + 's'}"
