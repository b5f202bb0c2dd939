"""A table of text: one shape from which CSV, JSON and pages are made."""

import csv
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from io import StringIO
from typing import Final


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table.

    Attributes:
        key: Name in JSON and CSV, with its unit, such as `closing_kg`.
        heading: Heading a person reads, without the unit.
        is_figure: Whether it holds figures, which are aligned to the right.
        unit: Unit a person reads behind the heading, such as "kg".
        width: Part of the page's width it asks for, in comparison with its neighbours.
        is_detail: Whether a person at a terminal can do without it; CSV, JSON and pages
            always have it.
    """

    key: str
    heading: str
    is_figure: bool = False
    unit: str = ""
    width: int = 10
    is_detail: bool = False

    @property
    def label(self) -> str:
        """Heading with its unit."""
        return f"{self.heading}, {self.unit}" if self.unit else self.heading


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of text under columns.

    Attributes:
        title: What the table shows.
        columns: Its columns.
        rows: Cells as text; figures exact and in the unit of their column.
        notes: Sentences below it.
    """

    title: str
    columns: tuple[Column, ...]
    rows: Sequence[Sequence[str]]
    notes: Sequence[str] = field(default=())

    def figures(self, key: str) -> Iterator[str]:
        """Yield the cells of one column."""
        place = [column.key for column in self.columns].index(key)
        for row in self.rows:
            yield row[place]


def json_objects(table: Table) -> list[dict[str, str]]:
    """Return one object a row; figures stay text, so that no reader makes them floats."""
    keys = [column.key for column in table.columns]
    return [dict(zip(keys, row, strict=True)) for row in table.rows]


def csv_text(table: Table) -> str:
    """Return a table as CSV (RFC 4180), safe to open in a spreadsheet.

    A cell that a spreadsheet would take for a formula gets an apostrophe in front,
    unless it is a plain number.
    """
    written = StringIO()
    writer = csv.writer(written, lineterminator="\r\n")
    writer.writerow([column.key for column in table.columns])
    for row in table.rows:
        writer.writerow([_harmless(cell) for cell in row])
    return written.getvalue()


STARTS_A_FORMULA: Final = tuple("=+-@\t\r\n\0＝＋－＠")  # noqa: RUF001 - full-width
"""Characters in front that make a spreadsheet take a cell for a formula.

Source: OWASP, "CSV Injection"; OWASP Application Security Verification Standard 5.0,
1.2.10.
"""
PLAIN_NUMBER: Final = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?")
"""A number as tables write it."""


def _harmless(cell: str) -> str:
    if cell.startswith(STARTS_A_FORMULA) and not PLAIN_NUMBER.fullmatch(cell):
        return f"'{cell}"
    return cell
