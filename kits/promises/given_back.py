"""The guard of rows that something took for itself: only a paper about that very thing gives them back."""

from .guards import PREFIX, Guard


def GivenBack(name: str, *, claims: str, papers: str, fits: str) -> Guard:
    """A row of `claims` is given back only by a row of `papers` that fits it: `fits` compares `paper` with `claim`."""
    refused = (
        f"claim.released_by_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM {papers} AS paper "
        f"WHERE paper.id = claim.released_by_id AND {fits})"
    )
    of_new = refused.replace("claim.", "NEW.")
    sqlite = [
        f"CREATE TRIGGER {PREFIX}{name}_{verb.lower()} BEFORE {verb} ON {claims} "
        f"WHEN {of_new} BEGIN SELECT RAISE(ABORT, 'kept:{name}'); END"
        for verb in ("INSERT", "UPDATE")
    ]
    body = (
        f"BEGIN IF NOT ({of_new}) THEN RETURN NEW; END IF; "
        f"RAISE EXCEPTION USING ERRCODE = 'check_violation', MESSAGE = 'kept:{name}', CONSTRAINT = '{name}', "
        f"TABLE = TG_TABLE_NAME; END"
    )
    postgresql = [
        f"CREATE OR REPLACE FUNCTION {PREFIX}{name}() RETURNS trigger LANGUAGE plpgsql AS $kept$ {body} $kept$",
        f"CREATE TRIGGER {PREFIX}{name}_row BEFORE INSERT OR UPDATE ON {claims} "
        f"FOR EACH ROW EXECUTE FUNCTION {PREFIX}{name}()",
    ]
    return Guard(
        name, sqlite, postgresql, broken_rows=f"SELECT claim.id FROM {claims} AS claim WHERE {refused}"
    )
