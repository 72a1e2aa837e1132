"""Bringing a spreadsheet in: it is kept, its columns are told, and then all its good rows go in or none."""

import hashlib
from collections.abc import Mapping

from django.utils import timezone

from kits.actions.acting import Act, Done, action, hold, record
from kits.actions.many import Many
from kits.promises import Refused
from reports.importing.grid import BadFile
from reports.importing.reading import read_sheets
from reports.intake.dry_run import (
    WORD,
    Outcome,
    counts,
    digest,
    first_look,
    headings_sha256,
    plan_rows,
    read_file,
)
from reports.models import ColumnMapping, ImportFile, ImportKind


@action
def keep_file(act: Act, *, kind: str, name: str, content: bytes) -> Done:
    """Keep a spreadsheet as it was sent, and guess what its columns mean. Nothing else is written yet."""
    file = ImportFile(
        kind=ImportKind(kind),
        name=name[-120:],
        content=content,
        sha256=hashlib.sha256(content).hexdigest(),
        sent_at=act.recorded_at,
        sent_by=act.typed_by,
    )
    try:
        first_look(file)
    except BadFile as bad:
        raise Refused({"file": [str(bad)]}) from bad
    file.full_clean()
    file.save()
    return record(act, "file sent", f"A file of {file.get_kind_display().lower()} sent", about=[file])


@action
def tell_columns(
    act: Act,
    *,
    file: ImportFile,
    sheet: str,
    header_line: int,
    day_first: bool,
    columns: Mapping[str, str],
    words: Mapping[str, str] | None = None,
) -> Done:
    """Say how a file is read, and what the shop's own words in it mean, by the key of each.

    It is remembered for the next file with the same headings.
    """
    file = hold(file, based_on=act.based_on, act=act)
    if file.done_at:
        raise Refused("The rows of this file are in the books already. Send the file again to bring in more.")
    other_table = sheet != file.sheet or header_line != file.header_line
    file.sheet, file.header_line, file.day_first = sheet, header_line, day_first
    told = {f"{WORD}{key}": meaning for key, meaning in (words or {}).items()}
    file.columns = {index: target for index, target in columns.items() if target}
    try:
        if other_table:
            look_anew(file)
        reading = read_file(file)
    except BadFile as bad:
        raise Refused(str(bad)) from bad
    twice = [target for target in set(file.columns.values()) if list(file.columns.values()).count(target) > 1]
    if twice:
        label = reading.kind.field(twice[0].partition("@")[0]).label
        raise Refused(f"Two columns are told to hold “{label}”. Leave one of them out.")
    if not other_table:
        file.columns |= told
    file.save()
    if not other_table:
        ColumnMapping.objects.update_or_create(
            kind=file.kind,
            headings_sha256=headings_sha256(reading.layout),
            defaults={"columns": file.columns, "day_first": day_first, "changed_at": act.recorded_at},
        )
    return record(act, "columns told", "Columns of a file told", about=[file])


def look_anew(file: ImportFile) -> None:
    """Guess the columns again, for another sheet or other headings."""
    from reports.importing.fields import KINDS
    from reports.importing.layout import guess, guess_order, lay_out

    kind = KINDS[file.kind]
    layout = lay_out(read_sheets(bytes(file.content), file.sheet)[0], kind, file.header_line)
    guessed = guess(layout.columns, kind)
    file.header_line = layout.header_line
    file.columns = {str(index): target for index, target in guessed.items()}
    file.day_first = bool(guess_order(layout, guessed, kind))


@action
def bring_in(act: Act, *, file: ImportFile, seen: str) -> Done:
    """Every row that is not refused goes into the books, or none does. `seen` is the digest of what the person saw."""
    file = hold(file, based_on=act.based_on, act=act)
    if file.done_at:
        raise Refused("The rows of this file are in the books already. Send the file again to bring in more.")
    reading = read_file(file)
    if reading.missing:
        raise Refused(f"No column holds: {', '.join(reading.missing)}. Choose it among the columns first.")
    plans = plan_rows(reading)
    if digest(plans) != seen:
        raise Refused(
            "The books changed since this page was opened, so some rows would now do something else. "
            "Nothing was saved. Look through the rows again.",
            code="stale",
        )
    many = Many(act)
    for plan in plans:
        if plan.job is not None:
            many.part = f"Line {plan.line} ({plan.what})"
            plan.job(many)
    many.save()
    file.done_at, file.done_by, file.result = timezone.now(), act.typed_by, counts(plans)
    file.save(update_fields=["done_at", "done_by", "result"])
    new, changed, refused = (file.result[one] for one in (Outcome.NEW, Outcome.CHANGED, Outcome.REFUSED))
    kinds = file.get_kind_display()
    sentence = f"{kinds} brought in: {new} new, {changed} changed, {file.result[Outcome.SAME]} left alone"
    if refused:
        sentence += f"; {refused} refused and not in"
    return record(act, "file brought in", sentence, about=[file], details=file.result)
