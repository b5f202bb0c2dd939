"""A sheet of cells as a person pastes or uploads it, and as the reader of CSV takes it.

A grid holds every cell as text, the header in its first row. It is written as CSV and
read by `ledger.intake.csv_file`, so that a sheet means the same wherever it comes in.
"""

import csv
from collections.abc import Sequence
from io import StringIO
from typing import Final

from ledger.errors import InputError

MOST_ROWS: Final = 1_000
"""Rows with the header; a longer sheet is recorded from a file at the command line."""
MOST_COLUMNS: Final = 40
MOST_CHARACTERS: Final = 120_000
"""Of all cells together, so that a page that shows them stays small."""
_SEPARATORS: Final = "\t;,"

Grid = list[list[str]]
"""Rows of cells; the first row is the header."""


def grid_of_text(name: str, text: str) -> Grid:
    """Return the cells of a text: CSV, or what a spreadsheet gives when it is copied.

    Cells are separated by whichever of tab, semicolon and comma the header has most of.

    Args:
        name: What the sheet is called, for the sentence.
        text: The text.

    Raises:
        InputError: It cannot be read as CSV, or is too large.
    """
    lines = text.splitlines(keepends=True)
    header = next((line for line in lines if line.strip()), "")
    separator = max(_SEPARATORS, key=header.count)
    try:
        rows = [
            [cell.strip() for cell in cells]
            for cells in csv.reader(lines, delimiter=separator, strict=True)
        ]
    except csv.Error as error:
        raise InputError(
            f"{name}: the sheet cannot be read as CSV ({error}); check its quotes: a text "
            "in quotes ends with one, and a quote inside is doubled"
        ) from error
    return trimmed(name, rows)


def trimmed(name: str, rows: Sequence[Sequence[str]]) -> Grid:
    """Return a grid without blank rows and columns at its end, all rows of one width.

    Raises:
        InputError: Nothing is left, or it is too large.
    """
    kept = [list(row) for row in rows]
    while kept and not any(kept[-1]):
        kept.pop()
    width = max((_width(row) for row in kept), default=0)
    if not width:
        raise InputError(
            f"{name}: the sheet is empty; paste the header and the rows below it"
        )
    characters = sum(len(cell) for row in kept for cell in row)
    for count, most, what in (
        (len(kept), MOST_ROWS, "rows"),
        (width, MOST_COLUMNS, "columns"),
        (characters, MOST_CHARACTERS, "characters"),
    ):
        if count > most:
            raise InputError(
                f"{name}: the sheet has more than the {most} {what} that a page takes; "
                "split it, or record the file with `evenweight record`"
            )
    return [[*row[:width], *[""] * (width - len(row))] for row in kept]


def _width(row: Sequence[str]) -> int:
    return max((place + 1 for place, cell in enumerate(row) if cell), default=0)


def csv_of(grid: Grid) -> str:
    """Return a grid as CSV, so that row 3 of the grid is row 3 of the CSV."""
    written = StringIO()
    writer = csv.writer(written, lineterminator="\n")
    for row in grid:
        writer.writerow([" ".join(cell.split()) for cell in row] if any(row) else [])
    return written.getvalue()
