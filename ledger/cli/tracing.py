"""Tracing: where goods came from, where they went."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ledger.cli.giving import write_to
from ledger.cli.options import (
    AsOfOption,
    CsvSwitch,
    JsonSwitch,
    LedgerOption,
    RecordedOption,
    XlsxOption,
    day_given,
    moment_given,
)
from ledger.cli.show import Shape, hand_over, shape_of

if TYPE_CHECKING:
    from ledger.books.effect import Subject
    from ledger.books.shelf import Shelf


def add_to(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("trace")(trace)


def trace(  # noqa: PLR0917 - one option each
    word: Annotated[
        str,
        typer.Argument(help="A lot, batch, sale, shipment or bill of lading."),
    ],
    forward: Annotated[
        bool,
        typer.Option("--forward", help="To customers, instead of back to growers."),
    ] = False,
    why: Annotated[
        str | None,
        typer.Option(
            metavar="LOT",
            help="Show how the share of this lot in the goods was reached: entries and "
            "arithmetic.",
            show_default=False,
        ),
    ] = None,
    svg: Annotated[
        Path | None,
        typer.Option(help="Also draw it to this file.", show_default=False),
    ] = None,
    as_of: AsOfOption = None,
    recorded_by: RecordedOption = None,
    as_json: JsonSwitch = False,
    as_csv: CsvSwitch = False,
    xlsx: XlsxOption = None,
    ledger: LedgerOption = None,
) -> None:
    """Trace goods back to growers, or forward to customers, with masses and shares."""
    from ledger import wiring
    from ledger.books.asked import find_asked
    from ledger.books.genealogy import trace_back, trace_forward
    from ledger.desk.books import open_books
    from ledger.reports.genealogy_svg import genealogy_svg
    from ledger.reports.trace_table import trace_table
    from ledger.reports.tree import tree_lines

    if why is not None and forward:
        raise typer.BadParameter(
            "--why explains what goods consist of, so leave --forward out, or ask about "
            "the goods that the lot went into"
        )
    shape = shape_of(as_json=as_json, as_csv=as_csv)
    with (
        wiring.reading(wiring.place_of(ledger)) as rows,
        open_books(
            rows, recorded_by=moment_given(recorded_by, option="--recorded-by")
        ) as books,
    ):
        asked = find_asked(books.shelf, word)
        if why is not None:
            _show_share(books.shelf, asked, why, shape, xlsx)
            return
        until = day_given(as_of, option="--as-of")
        found = (
            trace_forward(books.shelf, asked, until=until)
            if forward
            else trace_back(books.shelf, asked)
        )
    if svg is not None:
        write_to(svg, genealogy_svg(found).encode())
    if as_json or as_csv or xlsx:
        hand_over({"Trace": trace_table(found)}, shape, xlsx, title="Trace")
        return
    for line in tree_lines(found):
        print(line)


def _show_share(
    shelf: "Shelf", asked: "Subject", lot: str, shape: Shape, xlsx: Path | None
) -> None:
    """Show how the share of a lot in some goods was reached."""
    from ledger.books.why_share import why_share
    from ledger.reports.share_workings import explained_share, share_workings_table

    found = why_share(shelf, asked, lot)
    if shape is Shape.TABLE and xlsx is None:
        print(explained_share(found), end="")
    else:
        table = share_workings_table(found)
        hand_over({"Why": table}, shape, xlsx, title=table.title)
