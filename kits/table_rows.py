"""The rows of a table, drawn in one go.

A list draws some four hundred cells. django-tables2 looks for the value of each, and reads the signature of the method that
draws it, each time anew; a template's loop costs as much again. Both are asked once a column here instead. Whatever is out
of the ordinary (a link made by `linkify`, a column of another class) is still left to django-tables2.
"""

from collections.abc import Callable
from inspect import signature
from typing import Any

import django_tables2 as tables
from django.utils.formats import localize
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.timezone import template_localtime  # type: ignore[attr-defined]


def drawn_rows(table: tables.Table) -> SafeString:
    """The `<tr>` of this page of the table. The first cell is the row's heading.

    Only fixed classes of cells count: `attrs={"td": {"class": "numeral"}}`. The table may have `row_class(record)`.
    """
    class_of_row = getattr(table, "row_class", None)
    cells = [(class_attribute(column), cell_of(column)) for column in table.columns]
    (head_class, head), others = cells[0], cells[1:]
    drawn = []
    for row in table.paginated_rows:
        row_class = class_of_row(row.record) if class_of_row else ""
        opening = format_html('<tr class="{}">', row_class) if row_class else "<tr>"
        parts = [f'\n{opening}<th scope="row"{head_class}>{shown(head(row))}</th>']
        parts += [f"<td{cell_class}>{shown(cell(row))}</td>" for cell_class, cell in others]
        drawn.append("".join(parts) + "</tr>")
    return mark_safe("".join(drawn))  # every part of it is escaped above


def shown(value: Any) -> str:
    """A value as a template shows it: escaped, unless it is known to be safe."""
    if not isinstance(value, str):
        value = localize(template_localtime(value))
    return conditional_escape(value)


def cell_of(column: Any) -> Callable[[Any], Any]:
    """What gives a row's cell in this column."""
    table, plain, name = column._table, column.column, column.name
    draw = getattr(table, f"render_{name}", None)
    if type(plain) is tables.Column and not column.link:
        if draw and plain.empty_values == () and list(signature(draw).parameters) == ["record"]:
            return lambda row: draw(record=row.record)
        if not draw and column.accessor == name and is_plain(table, name):
            default = column.default

            def plain_cell(row: Any) -> Any:
                value = getattr(row.record, name, None)
                return default if value in plain.empty_values else value

            return plain_cell
    return lambda row: row.get_cell(name)


def is_plain(table: tables.Table, name: str) -> bool:
    """The rows are of a model, and this value of theirs has no words of its own that django-tables2 would show."""
    model = getattr(table.data, "model", None)
    return model is not None and not hasattr(model, f"get_{name}_display")


def class_attribute(column: Any) -> SafeString:
    """The fixed class of a column's cells."""
    classes = (column.column.attrs.get("td") or {}).get("class")
    return format_html(' class="{}"', classes) if isinstance(classes, str) and classes else SafeString("")
