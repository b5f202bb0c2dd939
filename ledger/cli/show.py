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


def titled(tables: Iterable[Table]) -> dict[str, Table]:
    """Return tables by their titles, which name the sheets of a workbook."""
    return {table.title: table for table in tables}


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

    places = [n for n, column in enumerate(table.columns) if not column.is_detail]
    console = Console()
    widths = _widths(table, places, console.width)
    drawn = RichTable(
        title=Text(table.title),
        title_justify="left",
        title_style="bold",
        box=SIMPLE_HEAD,
    )
    for place, width in zip(places, widths, strict=True):
        column = table.columns[place]
        drawn.add_column(
            Text(column.label),
            justify="right" if column.is_figure else "left",
            width=width,
            overflow="fold",
        )
    for row in table.rows:
        drawn.add_row(*(Text(row[place]) for place in places))
    console.width = max(console.width, sum(widths) + _between(len(places)))
    console.print(drawn)
    for note in table.notes:
        console.print(Text(note))


def _widths(table: Table, places: list[int], room: int) -> list[int]:
    """Return how wide each column is drawn.

    A word is never parted, because a figure that is cut reads as another figure: where
    the screen is too narrow for that, the lines run over instead. What room there is goes
    to the columns that would be folded most.
    """
    least, most = [], []
    for place in places:
        cells = [table.columns[place].label, *(row[place] for row in table.rows)]
        least.append(_longest_word(cells))
        most.append(max(map(len, cells)))
    spare = room - _between(len(places)) - sum(least)
    while spare > 0 and least != most:
        folded = max(range(len(places)), key=lambda n: most[n] - least[n])
        least[folded] += 1
        spare -= 1
    return least


def _between(columns: int) -> int:
    """Return the characters between and beside the columns."""
    return 3 * columns + 1


def _longest_word(cells: Iterable[str]) -> int:
    words = (word for cell in cells for word in cell.split())
    return min(_WIDEST_WORD, max(map(len, words), default=0))
