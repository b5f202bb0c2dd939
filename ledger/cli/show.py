"""Showing a table: for a person, as JSON, or as CSV."""

import json
import sys
from collections.abc import Iterable, Mapping
from enum import StrEnum
from pathlib import Path

from ledger.cli.giving import write_to
from ledger.reports.tables import Table, csv_text, json_objects

_WIDEST_WORD = 24
"""Characters of a name that are kept on one line."""
_WIDEST_TABLE = 1000
"""Characters; no table comes near."""


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


def hand_over(
    tables: Mapping[str, Table], shape: Shape, xlsx: Path | None, *, title: str
) -> None:
    """Write tables to a workbook where a file is named for it, else print them.

    Args:
        tables: Tables by the name of their sheet.
        shape: How they are printed.
        xlsx: File of the workbook.
        title: Title of the workbook.

    Raises:
        InputError: The file cannot be written.
    """
    if xlsx is None:
        for table in tables.values():
            show(table, shape)
        return
    from ledger.reports.xlsx import xlsx_bytes

    write_to(xlsx, xlsx_bytes(tables, title=title))
    print(f"wrote {xlsx}", file=sys.stderr)


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
    for place, column in enumerate(table.columns):
        if not column.is_detail:
            drawn.add_column(
                Text(column.label),
                justify="right" if column.is_figure else "left",
                no_wrap=column.is_figure,
                min_width=_longest_word(
                    [column.label, *(row[place] for row in table.rows)]
                ),
                overflow="fold",
            )
    for row in table.rows:
        cells = zip(table.columns, row, strict=True)
        drawn.add_row(*(Text(cell) for column, cell in cells if not column.is_detail))
    console = Console()
    # A figure that is cut reads as another figure, so the lines run over instead.
    needed = Console(width=_WIDEST_TABLE).measure(drawn).minimum
    console.width = max(console.width, needed)
    console.print(drawn)
    for note in table.notes:
        console.print(Text(note))


def _longest_word(cells: Iterable[str]) -> int:
    words = (word for cell in cells for word in cell.split())
    return min(_WIDEST_WORD, max(map(len, words), default=0))
