"""The SQL of half-open spans [start, until), shared by the rules and the guards.

A span without a start holds nothing; without an end it holds for ever; one whose end is not after its start
holds nothing. Every function returns an SQL condition as text and takes column references as text.
"""

INSTANTS = "instants"
DATES = "dates"

RANGE_TYPE = {INSTANTS: "tstzrange", DATES: "daterange"}  # PostgreSQL's built-in ranges


def holds_something(start: str, until: str) -> str:
    """True for a span that covers at least one instant (or day)."""
    return f"({start} IS NOT NULL AND ({until} IS NULL OR {start} < {until}))"


def meets(start: str, until: str, other_start: str, other_until: str) -> str:
    """True when two spans, each of which holds something, share an instant (or day)."""
    return (
        f"({other_until} IS NULL OR {start} < {other_until}) AND ({until} IS NULL OR {other_start} < {until})"
    )


def lies_within(start: str, until: str, outer_start: str, outer_until: str) -> str:
    """True when the first span lies wholly inside the second."""
    return f"{outer_start} <= {start} AND ({outer_until} IS NULL OR {until} <= {outer_until})"


def is_odd_on_sqlite(value: str, kind: str) -> str:
    """True for a time SQLite would sort wrongly: anything but the one way Django writes it.

    SQLite has no time type. '2026-03-01T10:00' or 20260301 would be stored without a word and then compared
    as text with '2026-03-01 10:00:00', so a raw INSERT could slip past every comparison of spans. ('+0 days' makes
    strftime compute: left alone it gives the 30th of February back as it was.)
    """
    if kind == DATES:
        usual = f"{value} IS strftime('%Y-%m-%d', {value}, '+0 days')"
    else:
        # strftime rounds to milliseconds, so it judges the whole seconds only; the rest is six digits, not all 0.
        whole_seconds = f"strftime('%Y-%m-%d %H:%M:%S', substr({value}, 1, 19), '+0 days')"
        microseconds = f"CAST(substr({value}, 21) AS INTEGER)"
        usual = (
            f"({value} IS {whole_seconds} OR "
            f"({microseconds} > 0 AND {value} IS {whole_seconds} || printf('.%06d', {microseconds})))"
        )
    return f"({value} IS NOT NULL AND (typeof({value}) <> 'text' OR NOT {usual}))"
