"""Promises the database itself keeps, on SQLite and PostgreSQL, and the sentences it refuses with.

- `NoOverlap`, `AppendOnly`: constraints of one model.
- `Guard`, `Covered`, `FrozenWith`, `NeverBoth`: rules across tables, one list, made after every migration.
- `Refused`, `say`, `kept`, `one_transaction`: from an IntegrityError to a sentence.
"""

from .append_only import AppendOnly
from .frozen_with import FrozenWith
from .guard_kinds import Covered, NeverBoth, Span, Through
from .guards import Guard, missing_guards, missing_promises, register, without_guards
from .no_overlap import NoOverlap
from .sentences import SENTENCES, Refused, kept, one_transaction, refusal_for, say, sentence_for, worded
from .upkeep import missing_rules

__all__ = [
    "SENTENCES",
    "AppendOnly",
    "Covered",
    "FrozenWith",
    "Guard",
    "NeverBoth",
    "NoOverlap",
    "Refused",
    "Span",
    "Through",
    "kept",
    "missing_guards",
    "missing_promises",
    "missing_rules",
    "one_transaction",
    "refusal_for",
    "register",
    "say",
    "sentence_for",
    "without_guards",
    "worded",
]
