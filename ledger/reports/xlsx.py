"""Tables as a workbook (Office Open XML, ISO/IEC 29500), the same bytes every time.

A figure is a number where a spreadsheet keeps it whole, and text where it would not. Text
is never taken for a formula: what OWASP describes as "CSV Injection" needs a cell that
begins with = + - @ or a tab, and such a cell is marked as text here, as a quotation mark
typed in front of it would (OWASP Application Security Verification Standard 5.0, 1.2.10).
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from io import BytesIO
from typing import Final
from xml.etree.ElementTree import tostring
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from openpyxl import Workbook
from openpyxl.cell.cell import Cell
from openpyxl.packaging.core import DocumentProperties
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from ledger.errors import InputError
from ledger.reports.tables import (
    PLAIN_NUMBER,
    STARTS_A_FORMULA,
    Column,
    Table,
)

MOST_ROWS: Final = 1_048_576
"""Rows of a sheet (Excel specifications and limits)."""
_MOST_DIGITS: Final = 15
"""Digits of a number that a spreadsheet keeps (Excel specifications and limits)."""
_MOST_TEXT: Final = 32_767
"""Characters of a cell (Excel specifications and limits)."""
_MOST_SHEET_NAME: Final = 31
_TITLE_ROW, _HEADER_ROW = 1, 2
_NARROWEST, _WIDEST = 8, 60
_NOT_IN_A_SHEET_NAME: Final = re.compile(r"[\[\]:*?/\\]")
_NOT_IN_A_CELL: Final = re.compile("[^\t\n -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_EARLIEST: Final = datetime(1980, 1, 1, tzinfo=UTC)
"""Date of a workbook and of every file in it: the first that a zip file can hold."""


def xlsx_bytes(tables: Mapping[str, Table], *, title: str) -> bytes:
    """Return tables as a workbook, a sheet each.

    Args:
        tables: Tables by the name of their sheet.
        title: Title of the workbook.

    Raises:
        InputError: A table has more rows than a sheet.
    """
    workbook = Workbook()
    workbook.properties = DocumentProperties(creator="evenweight", title=title)
    for sheet in workbook.worksheets:
        workbook.remove(sheet)
    names: list[str] = []
    for wanted, table in tables.items():
        names.append(_sheet_name(wanted, names))
        _fill(workbook.create_sheet(names[-1]), table)
    return _timeless(workbook)


def _sheet_name(wanted: str, taken: Iterable[str]) -> str:
    """Return a name that a sheet may have, and that no other has."""
    plain = _NOT_IN_A_SHEET_NAME.sub(" ", _cell_text(wanted)).strip(" '") or "Table"
    names = {name.casefold() for name in taken}
    found, number = plain[:_MOST_SHEET_NAME], 1
    while found.casefold() in names or found.casefold() == "history":
        number += 1
        end = f" {number}"
        found = plain[: _MOST_SHEET_NAME - len(end)] + end
    return found


def _fill(sheet: Worksheet, table: Table) -> None:
    last_row = _HEADER_ROW + len(table.rows)
    if last_row + len(table.notes) + 1 > MOST_ROWS:
        raise InputError(
            f'the table "{table.title}" has {len(table.rows)} rows, more than a sheet of '
            "a workbook holds; ask for a shorter stretch of time, or for CSV"
        )
    _put_text(_cell(sheet, _TITLE_ROW, 1), table.title).font = Font(bold=True, size=13)
    for place, column in enumerate(table.columns, start=1):
        _put_heading(_cell(sheet, _HEADER_ROW, place), column)
        cells = [row[place - 1] for row in table.rows]
        letter = get_column_letter(place)
        sheet.column_dimensions[letter].width = _width(column, cells)
        for row, text in enumerate(cells, start=_HEADER_ROW + 1):
            _put(_cell(sheet, row, place), text, column)
    for row, note in enumerate(table.notes, start=last_row + 2):
        _put_text(_cell(sheet, row, 1), note).font = Font(italic=True)
    _set_view(sheet, last_row, len(table.columns))


def _cell(sheet: Worksheet, row: int, column: int) -> Cell:
    found = sheet.cell(row, column)
    if not isinstance(found, Cell):
        raise TypeError(found)
    return found


def _put_heading(cell: Cell, column: Column) -> None:
    _put_text(cell, column.label)
    cell.font = Font(bold=True)
    cell.fill = PatternFill("solid", start_color="DDDDDD")
    cell.border = Border(bottom=Side("thin"))
    side = "right" if column.is_figure else "left"
    cell.alignment = Alignment(horizontal=side, vertical="bottom", wrap_text=True)


def _put(cell: Cell, text: str, column: Column) -> None:
    if column.is_figure and is_kept_whole(text):
        decimals = len(text.partition(".")[2])
        cell.value = float(text) if decimals else int(text)
        cell.number_format = f"#,##0.{'0' * decimals}" if decimals else "0"
        return
    _put_text(cell, text)
    side = "right" if column.is_figure else "left"
    cell.alignment = Alignment(horizontal=side, vertical="top", wrap_text=True)


def is_kept_whole(text: str) -> bool:
    """Tell whether a spreadsheet shows a figure exactly as it is written.

    It keeps numbers as binary fractions of double precision (IEEE 754) and shows 15
    digits of them, so a figure of more digits, or one with a zero or a sign in front that
    a number does not keep, stays text.
    """
    if not PLAIN_NUMBER.fullmatch(text):
        return False
    whole, _, decimals = text.lstrip("+-").partition(".")
    if text.startswith("+") or (whole.startswith("0") and whole != "0"):
        return False
    if len((whole + decimals).lstrip("0")) > _MOST_DIGITS:
        return False
    return f"{float(text):.{len(decimals)}f}" == text


def _put_text(cell: Cell, text: str) -> Cell:
    """Put text into a cell as text, whatever it begins with."""
    shown = _cell_text(text)
    cell.value = shown
    if shown:
        cell.data_type = "s"
    if shown.startswith(STARTS_A_FORMULA):
        # What typing an apostrophe in front does: it stays text when somebody edits it.
        cell.quotePrefix = True
    return cell


def _cell_text(text: str) -> str:
    """Return text with what a cell cannot hold replaced, and cut where it is too long."""
    plain = _NOT_IN_A_CELL.sub("\N{REPLACEMENT CHARACTER}", text)
    return plain if len(plain) <= _MOST_TEXT else f"{plain[: _MOST_TEXT - 1]}…"


def _width(column: Column, cells: Sequence[str]) -> int:
    words = max(column.label.split(), key=len, default="")
    longest = max([len(words), *(len(cell) for cell in cells)])
    return min(max(longest + 3, _NARROWEST), _WIDEST)


def _set_view(sheet: Worksheet, last_row: int, columns: int) -> None:
    """Keep the header in sight, on screen and on paper."""
    sheet.freeze_panes = f"A{_HEADER_ROW + 1}"
    sheet.auto_filter.ref = (
        f"A{_HEADER_ROW}:{get_column_letter(columns)}{max(last_row, _HEADER_ROW)}"
    )
    sheet.print_title_rows = f"{_TITLE_ROW}:{_HEADER_ROW}"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.paperSize = sheet.PAPERSIZE_A4
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.page_setup.fitToHeight = 0


def _timeless(workbook: Workbook) -> bytes:
    """Return a workbook without the moment of its making, which openpyxl writes in."""
    saved, rewritten = BytesIO(), BytesIO()
    workbook.save(saved)
    workbook.properties.created = _EARLIEST
    workbook.properties.modified = _EARLIEST
    with ZipFile(saved) as before, ZipFile(rewritten, "w", ZIP_DEFLATED) as after:
        for name in before.namelist():
            content = before.read(name)
            if name == "docProps/core.xml":
                content = tostring(workbook.properties.to_tree())
            member = ZipInfo(name, _EARLIEST.timetuple()[:6])
            member.compress_type = ZIP_DEFLATED
            after.writestr(member, content)
    return rewritten.getvalue()
