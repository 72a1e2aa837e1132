"""What the files of references and checks hold, column by column; temperatures in °C and differences in K, as kept."""

from decimal import Decimal
from typing import Any

from kits.bench_lists import found_words, kit_names, state_of
from kits.exporting import Cell, FileColumn
from kits.models.thermometers import ReferenceKind


def placed(value: Decimal | None, step: str) -> Cell:
    """A figure with the places it is kept with; out of a subquery SQLite gives it with more."""
    return None if value is None else Decimal(value).quantize(Decimal(step))


# Rows from `kits.bench_lists.listed_references`.
REFERENCE_COLUMNS = (
    FileColumn("Reference", lambda row: row.name),
    FileColumn("What it is", lambda row: ReferenceKind(row.kind).label),
    FileColumn("Serial number", lambda row: row.serial),
    FileColumn("Smallest step, K", lambda row: row.resolution_kelvin),
    FileColumn("Allow ±, K", lambda row: row.allowance_kelvin),
    FileColumn("Certificate", lambda row: row.certificate_number or ""),
    FileColumn("Issued on", lambda row: row.issued_on),
    FileColumn("Good until", lambda row: row.due_on),
    FileColumn("Uncertainty U, K", lambda row: placed(row.expanded_uncertainty, "0.0001")),
    FileColumn("Its k", lambda row: placed(row.coverage_factor, "0.01")),
    FileColumn("State", lambda row: row.standing.word),
    FileColumn("Out of use since", lambda row: row.out_of_use_since),
    FileColumn("Notes", lambda row: row.notes),
)


def closed_by(row: Any) -> Cell:
    return str(row.closed_by) if row.closed_by else ""


# Rows from `kits.bench_lists.listed_checks`.
CHECK_COLUMNS = (
    FileColumn("Check", lambda row: row.pk),
    FileColumn("Begun", lambda row: row.begun_at),
    FileColumn("Begun by", lambda row: str(row.begun_by)),
    FileColumn("State", lambda row: state_of(row)[0]),
    FileColumn("Closed", lambda row: row.closed_at),
    FileColumn("Closed by", closed_by),
    FileColumn("How", lambda row: row.get_method_display()),
    FileColumn("Beside", lambda row: str(row.reference)),
    FileColumn("Certificate", lambda row: row.certificate.number if row.certificate else ""),
    FileColumn("Kits", lambda row: ", ".join(kit_names(row))),
    FileColumn("Sensors", lambda row: len(row.taking_part)),
    FileColumn("Found", found_words),
    FileColumn("Limit ±, K", lambda row: row.limit_kelvin),
    FileColumn("Rule", lambda row: row.get_rule_display()),
    FileColumn("Conditions", lambda row: row.conditions),
)
