"""A recall, or an exercise of one: the list, the hold, and the list of calls."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ledger.cli.giving import write_to
from ledger.cli.options import (
    AsOfOption,
    ByOption,
    CsvSwitch,
    JsonSwitch,
    LedgerOption,
    XlsxOption,
    day_given,
)
from ledger.cli.show import Shape, hand_over, shape_of, show, titled

if TYPE_CHECKING:
    from datetime import date, datetime

    from ledger.books.recall import Recall


def add_to(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("recall")(recall)


def recall(  # noqa: PLR0917 - one option each
    word: Annotated[
        str, typer.Argument(help="A lot, batch, shipment, sale or bill of lading.")
    ],
    hold: Annotated[
        str | None,
        typer.Option(
            metavar="NAME",
            help="Place a hold of this name on every lot concerned that is on hand.",
            show_default=False,
        ),
    ] = None,
    reason: Annotated[
        str | None,
        typer.Option(help="Why the hold is placed.", show_default=False),
    ] = None,
    pdf: Annotated[
        Path | None,
        typer.Option(
            help="Also write all of it to this file as PDF.", show_default=False
        ),
    ] = None,
    as_of: AsOfOption = None,
    as_json: JsonSwitch = False,
    as_csv: CsvSwitch = False,
    xlsx: XlsxOption = None,
    ledger: LedgerOption = None,
    by: ByOption = None,
) -> None:
    """Print what a recall needs: stock to lock away, customers to call, what is missing.

    With --csv it prints the list of calls only, to open in a spreadsheet.
    """
    from ledger import wiring
    from ledger.reports.recall_table import flat_table, phone_table, recall_tables

    made_at = wiring.now()
    day = day_given(as_of, option="--as-of") or made_at.date()
    shape = shape_of(as_json=as_json, as_csv=as_csv)
    if hold is None:
        found = _find(ledger, word, day)
    else:
        found = _hold(ledger, by, word, day, hold, reason)
    if pdf is not None:
        _write_pdf(ledger, by, found, made_at, pdf)
    if shape is Shape.JSON and xlsx is None:
        show(flat_table(found), shape)
    elif shape is Shape.CSV and xlsx is None:
        show(phone_table(found), shape)
    else:
        tables = recall_tables(found, made_at=made_at)
        hand_over(titled(tables), shape, xlsx, title=f"Recall of {word}")


def _write_pdf(
    ledger: str | None, by: str | None, found: "Recall", made_at: "datetime", out: Path
) -> None:
    from ledger import wiring
    from ledger.desk.books import open_books
    from ledger.desk.recall import recall_pdf

    with (
        wiring.reading(wiring.place_of(ledger)) as rows,
        open_books(rows) as books,
    ):
        author = wiring.user_named(by)
        made = recall_pdf(books.shelf, found, made_at=made_at, made_by=author)
    write_to(out, made)
    print(f"wrote {out}", file=sys.stderr)


def _find(ledger: str | None, word: str, day: "date") -> "Recall":
    from ledger import wiring
    from ledger.books.recall import find_recall
    from ledger.desk.books import open_books

    with (
        wiring.reading(wiring.place_of(ledger)) as rows,
        open_books(rows) as books,
    ):
        return find_recall(books.shelf, word, day)


def _hold(
    ledger: str | None,
    by: str | None,
    word: str,
    day: "date",
    hold: str,
    reason: str | None,
) -> "Recall":
    from ledger import wiring
    from ledger.desk.recall import hold_recalled

    place = wiring.place_of(ledger)
    with (
        wiring.writing(place, by=wiring.user_named(by)) as opened,
        opened.transaction() as writing,
    ):
        found, placed = hold_recalled(
            writing, word, hold=hold, reason=reason or f"recall of {word}", on=day
        )
    print(
        f"entry {placed.recorded.seq} placed hold {hold} on {len(found.on_hand)} lots",
        file=sys.stderr,
    )
    return found
