"""What may be typed about a spreadsheet that comes in."""

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from kits.web import StepForm
from reports.importing.fields import Kind
from reports.importing.grid import LARGEST_FILE_BYTES, too_large
from reports.importing.layout import Column
from reports.intake.dry_run import Reading, StrangeWord
from reports.intake.rows import LEFT_EMPTY
from reports.models import ImportKind

LEFT_OUT = ("-", "left out")
REFUSED = ("refused", "not told yet: such rows are refused")


class ImportStepForm(StepForm):
    """A step about a file: it happens now and by the one who is signed in."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in self.TOLD_LATER:
            self.fields.pop(name, None)


class SendFileForm(ImportStepForm):
    """A spreadsheet and what its rows are."""

    kind = forms.ChoiceField(
        label="What are the rows?",
        choices=ImportKind.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose what the rows of the file are."},
    )
    file = forms.FileField(
        label="Spreadsheet, as CSV or XLSX",
        help_text="At most 10 MB and 20,000 rows. Nothing goes into the books before you have looked at it.",
        widget=forms.FileInput(attrs={"accept": ".csv,.tsv,.txt,.xlsx,.xlsm"}),
        error_messages={
            "required": "Choose a file.",
            "empty": "This file is empty.",
            "missing": "Choose a file.",
        },
    )

    def clean_file(self) -> UploadedFile:
        file: UploadedFile = self.cleaned_data["file"]
        if (file.size or 0) > LARGEST_FILE_BYTES:
            raise forms.ValidationError(str(too_large(file.size or 0)))
        return file


class ColumnsForm(ImportStepForm):
    """Where the headings stand, which way round dates are, and what each column holds."""

    sheet = forms.ChoiceField(label="Sheet")
    header_line = forms.IntegerField(label="The headings stand in line", min_value=1)
    day_first = forms.ChoiceField(
        label="3/4/2026 means",
        choices=[("month", "4 March (month first)"), ("day", "3 April (day first)")],
    )

    def __init__(self, *args: Any, reading: Reading, **kwargs: Any) -> None:
        self.reading = reading
        columns = reading.layout.columns
        initial = {
            "sheet": reading.grid.sheet,
            "header_line": reading.layout.header_line,
            "day_first": "day" if reading.options.day_first else "month",
            **{
                f"column_{column.index}": reading.targets.get(column.index, LEFT_OUT[0]) for column in columns
            },
        }
        super().__init__(*args, initial=initial, **kwargs)
        sheets = reading.grid.sheets
        if len(sheets) > 1:
            self.fields["sheet"].choices = [(name, name) for name in sheets]  # type: ignore[attr-defined]
        else:
            del self.fields["sheet"]
        self.strange = [] if reading.missing else reading.strange_words()
        for number, strange in enumerate(self.strange):
            self.fields[f"word_{number}"] = word_field(strange)
        offered = targets_offered(reading.kind)
        for column in columns:
            self.fields[f"column_{column.index}"] = forms.ChoiceField(
                label=column.heading, choices=offered, help_text=samples(column)
            )

    def layout_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in ("sheet", "header_line", "day_first") if name in self.fields]

    def column_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name.startswith("column_")]

    @property
    def unexplained(self) -> bool:
        """Whether some words were not told yet."""
        return any(not strange.meaning for strange in self.strange)

    def word_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name.startswith("word_")]

    def told(self) -> dict[str, Any]:
        """What `tell_columns` takes."""
        cleaned = self.cleaned_data
        return {
            "sheet": cleaned.get("sheet") or self.reading.grid.sheet,
            "header_line": cleaned["header_line"],
            "day_first": cleaned["day_first"] == "day",
            "words": {
                strange.key: cleaned[f"word_{number}"]
                for number, strange in enumerate(self.strange)
                if cleaned[f"word_{number}"] != REFUSED[0]
            },
            "columns": {
                name.removeprefix("column_"): value
                for name, value in cleaned.items()
                if name.startswith("column_") and value != LEFT_OUT[0]
            },
        }


def word_field(strange: StrangeWord) -> forms.ChoiceField:
    """Asks what a word of the shop's own means."""
    rows = "1 row" if strange.rows == 1 else f"{strange.rows} rows"
    return forms.ChoiceField(
        label=f"“{strange.word[:40]}” means",
        help_text=f"{strange.field.label}, {rows}",
        choices=[
            REFUSED,
            *(choice for choice in strange.field.choices if choice[0]),
            (LEFT_EMPTY, "nothing, as an empty cell"),
        ],
        initial=strange.meaning or REFUSED[0],
    )


def targets_offered(kind: Kind) -> list[tuple[str, str]]:
    """Every field a column can hold; one with units once for each unit."""
    offered = [LEFT_OUT]
    for field in kind.fields:
        if field.units:
            offered += [(f"{field.name}@{unit}", f"{field.label} ({unit})") for unit in field.units]
        else:
            offered.append((field.name, field.label))
    return offered


def samples(column: Column) -> str:
    return f"Holds {' · '.join(column.samples)}" if column.samples else "Empty in the first rows"


class BringInForm(ImportStepForm):
    """Yes, put the rows into the books; `seen` tells which rows those were."""

    seen = forms.CharField(widget=forms.HiddenInput, max_length=64)
