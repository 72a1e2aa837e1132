"""The guard of rows that belong to a paper: once the paper is closed, they stay as they are and no more are added."""

from .guards import PREFIX, Guard

_VERBS = {"insert": ("NEW",), "update": ("OLD", "NEW"), "delete": ("OLD",)}


def FrozenWith(
    name: str,
    *,
    child_table: str,
    column: str,
    parent_table: str,
    sealed_by: str,
    through: tuple[str, str] | None = None,
) -> Guard:
    """Rows of `child_table` are added, changed and removed only while their parent's `sealed_by` is empty.

    `column` of the child is the id of its parent; or, with `through` (table, column), the id of a row between, whose
    column is the parent's id. That the parent's seal is never broken is the parent's own rule (`AppendOnly`).
    On PostgreSQL a child waits for whoever is just closing its parent, and looks then.
    """

    def parent_of(row: str) -> str:
        if through is None:
            return f"{row}.{column}"
        table, parent_column = through
        return f"(SELECT between_rows.{parent_column} FROM {table} AS between_rows WHERE between_rows.id = {row}.{column})"

    def is_sealed(row: str) -> str:
        return (
            f"EXISTS (SELECT 1 FROM {parent_table} AS parent WHERE parent.id = {parent_of(row)} "
            f"AND parent.{sealed_by} IS NOT NULL)"
        )

    sqlite = [
        f"CREATE TRIGGER {PREFIX}{name}_{verb} BEFORE {verb.upper()} ON {child_table} "
        f"WHEN {' OR '.join(is_sealed(row) for row in rows)} BEGIN SELECT RAISE(ABORT, 'kept:{name}'); END"
        for verb, rows in _VERBS.items()
    ]

    def look(row: str) -> str:
        return (
            f"PERFORM 1 FROM {parent_table} AS parent WHERE parent.id = {parent_of(row)} FOR SHARE; "
            f"sealed := sealed OR {is_sealed(row)};"
        )

    sealed_children = f"EXISTS (SELECT 1 FROM {child_table} AS child WHERE {is_sealed('child')})"
    function = (
        f"DECLARE sealed boolean := FALSE; BEGIN "
        f"IF TG_OP = 'TRUNCATE' THEN sealed := {sealed_children}; END IF; "
        f"IF TG_OP IN ('UPDATE', 'DELETE') THEN {look('OLD')} END IF; "
        f"IF TG_OP IN ('INSERT', 'UPDATE') THEN {look('NEW')} END IF; "
        f"IF NOT sealed THEN IF TG_OP = 'DELETE' THEN RETURN OLD; END IF; RETURN NEW; END IF; "
        f"RAISE EXCEPTION USING ERRCODE = 'check_violation', MESSAGE = 'kept:{name}', CONSTRAINT = '{name}', "
        f"TABLE = TG_TABLE_NAME; END"
    )
    postgresql = [
        f"CREATE OR REPLACE FUNCTION {PREFIX}{name}() RETURNS trigger LANGUAGE plpgsql AS $kept$ {function} $kept$",
        f"CREATE TRIGGER {PREFIX}{name}_row BEFORE INSERT OR UPDATE OR DELETE ON {child_table} "
        f"FOR EACH ROW EXECUTE FUNCTION {PREFIX}{name}()",
        f"CREATE TRIGGER {PREFIX}{name}_table BEFORE TRUNCATE ON {child_table} "
        f"FOR EACH STATEMENT EXECUTE FUNCTION {PREFIX}{name}()",
    ]
    # A child put in after the seal cannot be told from one before it, so there is nothing to look for afterwards.
    return Guard(name, sqlite, postgresql)
