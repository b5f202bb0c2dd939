"""A sheet that somebody uploads or pastes: told by its bytes, and by its header."""

from collections.abc import Iterator
from typing import Final

from ledger.errors import InputError
from ledger.intake.columns import SHEETS, Sheet
from ledger.intake.grid import Grid, grid_of_text
from ledger.intake.text import LARGEST_FILE, shown_name
from ledger.intake.xlsx_file import grid_of_workbook
from ledger.trade.refusal import instead

DAY: Final = "on"
_ZIP: Final = b"PK\x03\x04"
_OLD_WORKBOOK: Final = b"\xd0\xcf\x11\xe0"


def grid_of_file(name: str, raw: bytes) -> Grid:
    """Return the cells of a file: a workbook if its bytes say so, else CSV.

    Args:
        name: Name of the file, for the sentence.
        raw: Its bytes.

    Raises:
        InputError: It can be read as neither, or is too large.
    """
    shown = shown_name(name)
    if raw.startswith(_ZIP):
        return grid_of_workbook(shown, raw)
    if raw.startswith(_OLD_WORKBOOK):
        raise InputError(
            f"{shown}: the file is a workbook of an old sort; save it again as .xlsx, or "
            "save the sheet as CSV"
        )
    if len(raw) > LARGEST_FILE:
        raise InputError(
            f"{shown}: the file has {len(raw)} bytes; at most {LARGEST_FILE} are read, so "
            "split it into several files"
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            f"{shown}: the byte 0x{raw[error.start]:02X} is not UTF-8; save the file "
            "again as CSV with the encoding UTF-8, or as .xlsx"
        ) from error
    return grid_of_text(shown, text)


def columns_of(sort: str) -> tuple[str, ...]:
    """Return the columns that a sort of sheet may have, those that it must have first.

    Raises:
        InputError: There is no such sort.
    """
    sheet = sheet_of(sort)
    own = [column.name for column in sheet.columns]
    return tuple(dict.fromkeys([DAY, *sheet.in_every_row, *own]))


def sheet_of(sort: str) -> Sheet:
    """Return what a sort of sheet holds.

    Raises:
        InputError: There is no such sort.
    """
    if sort not in SHEETS:
        raise InputError(f"the sort of sheet is not known; {instead(sort, SHEETS)}")
    return SHEETS[sort]


def sort_of(name: str, grid: Grid, chosen: str = "") -> str:
    """Return which sort of sheet a grid is.

    Args:
        name: Name of its file; it decides if its beginning names a sort.
        grid: Its cells; else the header decides, if it fits one sort only.
        chosen: What a person chose, which decides before both.

    Raises:
        InputError: Nothing decides.
    """
    if chosen:
        sheet_of(chosen)
        return chosen
    begins = name.rpartition("/")[2].partition(".")[0].partition("-")[0]
    if begins in SHEETS:
        return begins
    fitting = list(_fitting([cell for cell in grid[0] if cell]))
    if len(fitting) != 1:
        raise InputError(
            "the header does not tell what the sheet holds; choose it, and compare the "
            "header with the columns that such a sheet has"
        )
    return fitting[0]


def _fitting(header: list[str]) -> Iterator[str]:
    for sort, sheet in SHEETS.items():
        needed = {DAY, *sheet.in_every_row}
        if needed <= set(header) <= set(columns_of(sort)):
            yield sort
