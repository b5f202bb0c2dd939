"""Showing a table: for a person, as JSON, or as CSV."""

import json
import sys
from enum import StrEnum

from ledger.reports.tables import Table, csv_text, json_objects


class Shape(StrEnum):
    """How figures are printed."""

    TABLE = "table"
    JSON = "json"
    CSV = "csv"


def shape_of(*, as_json: bool, as_csv: bool) -> Shape:
    """Return the shape that two switches ask for; JSON wins."""
    if as_json:
        return Shape.JSON
    return Shape.CSV if as_csv else Shape.TABLE


def show(table: Table, shape: Shape) -> None:
    """Print a table to standard output, and its notes to standard error."""
    if shape is Shape.JSON:
        print(json.dumps(json_objects(table), indent=2, ensure_ascii=False))
    elif shape is Shape.CSV:
        print(csv_text(table), end="")
    else:
        _show_to_person(table)
        return
    for note in table.notes:
        print(note, file=sys.stderr)


def _show_to_person(table: Table) -> None:
    from rich.box import SIMPLE_HEAD
    from rich.console import Console
    from rich.table import Table as RichTable
    from rich.text import Text

    drawn = RichTable(
        title=Text(table.title),
        title_justify="left",
        title_style="bold",
        box=SIMPLE_HEAD,
    )
    for column in table.columns:
        drawn.add_column(
            Text(column.label),
            justify="right" if column.is_figure else "left",
            no_wrap=column.is_figure,
            overflow="fold",
        )
    for row in table.rows:
        drawn.add_row(*(Text(cell) for cell in row))
    console = Console()
    console.print(drawn)
    for note in table.notes:
        console.print(Text(note))
