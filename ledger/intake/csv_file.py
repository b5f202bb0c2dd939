"""Entries in a CSV file, whose name tells what they are.

Rows with the same sale, batch, return or market make one entry; in the other sheets
each row is one. Every cell is text, and a cell left blank is left out.
"""

import csv
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, cast

from ledger.chain.canonical import JsonValue
from ledger.errors import InputError
from ledger.intake.columns import SHEETS, Column, Sheet
from ledger.intake.draft import Draft, draft_of
from ledger.trade.refusal import as_given, instead

_DAY: Final = "on"
_FORMULA: Final = re.compile("[=@]|[+-](?![0-9][0-9 .,()/-]*[CFcf]?$)")


@dataclass(frozen=True, slots=True)
class _Cell:
    """A text, and the row and column in which it stands."""

    text: str
    row: str
    column: str

    @property
    def where(self) -> str:
        return f"{self.row}, column {self.column}"


_Row = dict[str, _Cell]
"""The cells of one row by column, blank ones included."""
_Tree = dict[str, "_Tree | _Cell"]
"""Cells by the steps of their paths."""


def read_csv(name: str, text: str) -> Iterator[Draft]:
    """Yield the entries of a CSV file in the order of their first rows.

    Args:
        name: Name of the file; the last part of the path, up to the first "-" or ".",
            tells what the file holds.
        text: Its text.

    Raises:
        InputError: The name or the header says nothing that is known, a row does not
            fit the header, or rows of one entry contradict one another.
    """
    sheet = _sheet_named(name)
    groups: dict[object, list[_Row]] = {}
    for number, row in enumerate(_rows(name, text, sheet)):
        own = tuple(row[column].text for column in sheet.group) or number
        key = (own, *(row[name].text for name in sheet.parted if name in row))
        groups.setdefault(key, []).append(row)
    for rows in groups.values():
        yield _entry(sheet, rows)


def _sheet_named(name: str) -> Sheet:
    stem = re.split("[-.]", re.split(r"[/\\]", name)[-1])[0]
    if stem not in SHEETS:
        raise InputError(
            f"{name}: a CSV file says by the beginning of its name what it holds, and "
            f"{as_given(stem)} is not known; {instead(stem, SHEETS)}"
        )
    return SHEETS[stem]


def _rows(name: str, text: str, sheet: Sheet) -> Iterator[_Row]:
    header: list[str] | None = None
    written = 0
    for number, texts in _records(name, text):
        cells = [cell.strip(" ") for cell in texts]
        if not any(cells):
            continue
        where = f"{name}, row {number}"
        if header is None:
            written = len(cells)
            header = cells[: _width(cells)]
            _check_header(where, header, sheet)
            continue
        if len(cells) == written:
            # A spreadsheet also saves blank columns beside those that are filled in.
            _check_beside(where, cells, header)
            cells = cells[: len(header)]
        if len(cells) != len(header):
            raise InputError(
                f"{where}: the row has {len(cells)} cells, but the header names "
                f"{len(header)} columns; put a text that holds the separator in quotes, "
                "and keep the separators of blank cells"
            )
        yield _row(where, header, cells, sheet)


def _width(cells: Sequence[str]) -> int:
    """Return the number of cells up to the last that is filled in."""
    return max((place for place, cell in enumerate(cells, start=1) if cell), default=0)


def _records(name: str, text: str) -> Iterator[tuple[int, list[str]]]:
    """Yield rows with their numbers, as a spreadsheet counts them."""
    lines = text.splitlines(keepends=True)
    header = next((line for line in lines if line.strip()), "")
    separator = ";" if header.count(";") > header.count(",") else ","
    number = 0
    try:
        for cells in csv.reader(lines, delimiter=separator, strict=True):
            number += 1
            yield number, cells
    except csv.Error as error:
        raise InputError(
            f"{name}, row {number + 1}: the row cannot be read as CSV ({error}); check "
            "its quotes: a text in quotes ends with one, and a quote inside is doubled"
        ) from error


def _check_header(where: str, header: Sequence[str], sheet: Sheet) -> None:
    known = [_DAY, *([sheet.part] if sheet.part else [])]
    known += [column.name for column in sheet.columns]
    for place, name in enumerate(header, start=1):
        if not name:
            raise InputError(
                f"{where}: column {place} has no name; name it, or take it out"
            )
        if name not in known:
            raise InputError(
                f"{where}: column {as_given(name)} is not known for {sheet.kind}; "
                f"{instead(name, known)}"
            )
        if header.count(name) > 1:
            raise InputError(
                f"{where}: column {name} stands more than once; keep one of them"
            )
    for name in (_DAY, *sheet.in_every_row):
        if name not in header:
            raise InputError(
                f"{where}: column {name} is missing; {sheet.kind} cannot be read without "
                "it, so add it"
            )


def _check_beside(where: str, cells: Sequence[str], header: Sequence[str]) -> None:
    for place, cell in enumerate(cells[len(header) :], start=len(header) + 1):
        if cell:
            raise InputError(
                f"{where}: column {place} holds {as_given(cell)}, but has no name in the "
                "first row; name it there, or take it out"
            )


def _row(where: str, header: Sequence[str], cells: Sequence[str], sheet: Sheet) -> _Row:
    row = {
        name: _Cell(text, where, name) for name, text in zip(header, cells, strict=True)
    }
    for cell in row.values():
        if _FORMULA.match(cell.text):
            raise InputError(
                f"{cell.where}: {as_given(cell.text)} looks like a formula of a "
                "spreadsheet; write the value that it gives"
            )
    for name in sheet.in_every_row:
        if not row[name].text:
            raise InputError(
                f"{row[name].where}: the cell is blank, but every row says its {name}; "
                "fill it in"
            )
    if sheet.part and row[sheet.part].text not in sheet.lists:
        cell = row[sheet.part]
        raise InputError(
            f"{cell.where}: {as_given(cell.text)} is not a part of {sheet.kind}; "
            f"{instead(cell.text, sheet.lists)}"
        )
    return row


def _entry(sheet: Sheet, rows: Sequence[_Row]) -> Draft:
    tree: _Tree = {}
    for column in sheet.columns:
        if "*" not in column.path:
            _put(tree, column, column.path, _agreed(column.name, rows))
    for number, row in enumerate(rows):
        _put_own(tree, sheet, str(number), row)
    day = _latest(rows) if sheet.day else _agreed(_DAY, rows) or rows[0][_DAY]
    places: dict[str, str] = {}
    body = _group(tree, "", places)
    places[_DAY] = day.where
    members = {"kind": sheet.kind, **body} | ({_DAY: day.text} if day.text else {})
    return draft_of(members, places, rows[0][_DAY].row)


def _agreed(name: str, rows: Sequence[_Row]) -> _Cell | None:
    """Return what the rows of one entry say of it; all but one may leave it blank."""
    cells = [row[name] for row in rows if name in row]
    said = [cell for cell in cells if cell.text]
    for cell in said:
        if cell.text != said[0].text:
            raise InputError(
                f"{cell.where}: {as_given(cell.text)} contradicts "
                f"{as_given(said[0].text)} in {said[0].row}, which is of the same entry; "
                "correct one of them, or leave this one blank"
            )
    return next(iter(said or cells), None)


def _latest(rows: Sequence[_Row]) -> _Cell:
    return max((row[_DAY] for row in rows), key=lambda cell: cell.text)


def _put_own(tree: _Tree, sheet: Sheet, label: str, row: _Row) -> None:
    """Put the cells that are of the row alone into the item that stands for it."""
    own = [column for column in sheet.columns if "*" in column.path]
    if own and not any(row[column.name].text for column in own if column.name in row):
        names = ", ".join(column.name for column in own)
        raise InputError(
            f"{next(iter(row.values())).row}: the row says nothing of its own; fill in "
            f"what it is about ({names}) or take it out"
        )
    if sheet.day:
        own.append(Column(_DAY, sheet.day))
    for column in own:
        path = column.path.replace("*", f"#{label}")
        if sheet.part:
            path = path.replace(sheet.part, sheet.lists[row[sheet.part].text], 1)
        _put(tree, column, path, row.get(column.name))


def _put(tree: _Tree, column: Column, path: str, cell: _Cell | None) -> None:
    """Put what a cell holds where it belongs; a blank one only marks its place."""
    if cell is None or (column.spread and not cell.text):
        return
    placed = column.spread(path, cell.text) if column.spread else [(path, cell.text)]
    for place, text in placed:
        *around, last = place.split(".")
        inner = tree
        for step in around:
            inner = cast("_Tree", inner.setdefault(step, {}))
        inner[last] = _Cell(text, cell.row, cell.column)


def _group(tree: _Tree, around: str, places: dict[str, str]) -> dict[str, JsonValue]:
    """Return the members of a group without blank ones, and note where they stand."""
    members: dict[str, JsonValue] = {}
    for step, inner in tree.items():
        value = _value(inner, f"{around}{step}", places)
        if value:
            members[step] = value
    return members


def _list(tree: _Tree, around: str, places: dict[str, str]) -> list[JsonValue]:
    items: list[JsonValue] = []
    for inner in tree.values():
        value = _value(inner, f"{around}{len(items)}", places)
        if value or isinstance(inner, _Cell):
            items.append(value)
    return items


def _value(inner: "_Tree | _Cell", path: str, places: dict[str, str]) -> JsonValue:
    if isinstance(inner, _Cell):
        places[path] = inner.where
        return inner.text
    own: dict[str, str] = {}
    read = _list if next(iter(inner)).startswith("#") else _group
    value = read(inner, f"{path}.", own)
    if value:
        places |= {path: _first_cell(inner).row, **own}
    return value


def _first_cell(tree: _Tree) -> _Cell:
    first = next(iter(tree.values()))
    return first if isinstance(first, _Cell) else _first_cell(first)
