"""The cells of a workbook, read with care: it comes from outside and unpacks.

A workbook is a zip of XML (ISO/IEC 29500). Before anything reads it, what it would
unpack to is bounded and documents that define entities are refused, so that neither a
zip bomb nor an entity bomb costs more than a small file.
"""

from collections.abc import Iterable, Iterator
from datetime import date, datetime, time
from decimal import Decimal
from io import BytesIO
from typing import Final
from zipfile import BadZipFile, ZipFile

from ledger.errors import InputError
from ledger.intake.grid import MOST_COLUMNS, MOST_ROWS, Grid, trimmed
from ledger.intake.text import LARGEST_FILE

_MOST_MEMBERS: Final = 200
_MOST_UNPACKED: Final = 32 * 1024 * 1024
_DIGITS: Final = ".15g"
"""A spreadsheet keeps binary fractions and shows fifteen digits; these are meant."""


def grid_of_workbook(name: str, raw: bytes) -> Grid:
    """Return the cells of the first sheet of a workbook.

    Numbers come as the digits that a spreadsheet shows, days as year-month-day, and a
    formula as it is written, which the reader of sheets refuses.

    Args:
        name: Name of the file, for the sentence.
        raw: Its bytes.

    Raises:
        InputError: It is no workbook, or unpacks to more than a sheet needs.
    """
    _check_zip(name, raw)
    from openpyxl import load_workbook  # noqa: PLC0415 - slow to load

    try:
        book = load_workbook(BytesIO(raw), read_only=True, keep_links=False)
        sheet = book.worksheets[0]
        sheet.reset_dimensions()
        cells = list(_rows(name, sheet.iter_rows(values_only=True)))
        book.close()
    except InputError:
        raise
    except Exception as error:
        # The library raises whatever a broken part made it stumble over.
        raise _no_workbook(name) from error
    return trimmed(name, cells)


def _rows(name: str, found: Iterable[tuple[object, ...]]) -> Iterator[list[str]]:
    """Yield rows up to the last that holds something; what lies far out is refused."""
    blank = 0
    for number, row in enumerate(found, start=1):
        width = max((at for at, one in enumerate(row, 1) if one is not None), default=0)
        if not width:
            blank += 1
            continue
        if width > MOST_COLUMNS or number > MOST_ROWS:
            raise InputError(
                f"{name}: row {number} of the workbook has a cell in its column {width}; "
                f"a page takes {MOST_ROWS} rows of {MOST_COLUMNS} columns, so split the "
                "sheet, or record it as CSV with `evenweight record`"
            )
        yield from ([] for _ in range(blank))
        blank = 0
        yield [_text(name, value) for value in row[:width]]


def _check_zip(name: str, raw: bytes) -> None:
    if len(raw) > LARGEST_FILE:
        raise InputError(
            f"{name}: the file has {len(raw)} bytes; at most {LARGEST_FILE} are read, so "
            "split it into several files"
        )
    try:
        with ZipFile(BytesIO(raw)) as read:
            _check_sizes(name, read)
            _check_parts(name, read)
    except (BadZipFile, NotImplementedError, RuntimeError, OSError, EOFError) as error:
        raise _no_workbook(name) from error


def _check_sizes(name: str, read: ZipFile) -> None:
    members = read.infolist()
    unpacked = sum(member.file_size for member in members)
    if len(members) > _MOST_MEMBERS or unpacked > _MOST_UNPACKED:
        raise InputError(
            f"{name}: the workbook would unpack to {unpacked} bytes in {len(members)} "
            "parts, far more than a sheet needs; save the sheet alone as CSV"
        )


def _check_parts(name: str, read: ZipFile) -> None:
    for part in _xml_parts(read):
        if b"<!DOCTYPE" in part or part[:2] in {b"\xff\xfe", b"\xfe\xff"}:
            raise InputError(
                f"{name}: a part of the workbook defines entities or is not in UTF-8, as "
                "no spreadsheet writes it; save the sheet alone as CSV"
            )


def _xml_parts(read: ZipFile) -> Iterator[bytes]:
    # A member never gives more bytes than its entry states, so the sum above holds.
    return (
        read.read(member)
        for member in read.infolist()
        if member.filename.endswith((".xml", ".rels"))
    )


def _no_workbook(name: str) -> InputError:
    return InputError(
        f"{name}: the file cannot be read as a workbook; save it again as .xlsx without a "
        "password, or save the sheet as CSV"
    )


def _text(name: str, value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float):
        return f"{Decimal(format(value, _DIGITS)):f}"
    if isinstance(value, datetime | date):
        return _day_text(name, value)
    return " ".join(str(value).split())


def _day_text(name: str, value: date) -> str:
    if isinstance(value, datetime) and value.time() != time():
        raise InputError(
            f"{name}: a cell holds the moment {value}; a day has no time of day, so "
            "format the cell as text and write year-month-day"
        )
    return value.strftime("%Y-%m-%d")
