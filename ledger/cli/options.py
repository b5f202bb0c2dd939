"""Options that several commands share."""

from datetime import date, datetime
from pathlib import Path
from typing import Annotated

import typer

from ledger.desk.asked_day import parse_day, parse_moment
from ledger.errors import InputError

LedgerOption = Annotated[
    str | None,
    typer.Option(
        "--ledger",
        help="File of the ledger, or address of its database. "
        "Default: EVENWEIGHT_LEDGER, else ledger.db.",
        show_default=False,
    ),
]
ByOption = Annotated[
    str | None,
    typer.Option(
        "--by",
        help="Who records. Default: EVENWEIGHT_USER, else the login name.",
        show_default=False,
    ),
]
JsonSwitch = Annotated[bool, typer.Option("--json", help="Print JSON.")]
CsvSwitch = Annotated[bool, typer.Option("--csv", help="Print CSV.")]
XlsxOption = Annotated[
    Path | None,
    typer.Option(
        "--xlsx",
        metavar="FILE",
        help="Write a workbook to this file, instead of printing.",
        show_default=False,
    ),
]
AsOfOption = Annotated[
    str | None,
    typer.Option(
        "--as-of",
        metavar="DATE",
        help="Trade date up to which entries count, such as 2026-03-31.",
        show_default=False,
    ),
]
RecordedOption = Annotated[
    str | None,
    typer.Option(
        "--recorded-by",
        metavar="MOMENT",
        help="Moment up to which entries were recorded, such as 2026-03-31 or "
        "2026-03-31T12:00 (UTC).",
        show_default=False,
    ),
]
OutOption = Annotated[
    Path | None,
    typer.Option("--out", help="File or folder to write.", show_default=False),
]


def day_given(text: str | None, *, option: str) -> date | None:
    """Return the date an option gives.

    Raises:
        typer.BadParameter: It is not a date.
    """
    if text is None:
        return None
    try:
        return parse_day(text, named=option)
    except InputError as error:
        raise typer.BadParameter(str(error)) from None


def moment_given(text: str | None, *, option: str) -> datetime | None:
    """Return the moment an option gives; a bare date means its end, in UTC.

    Raises:
        typer.BadParameter: It is not a moment.
    """
    if text is None:
        return None
    try:
        return parse_moment(text, named=option)
    except InputError as error:
        raise typer.BadParameter(str(error)) from None
