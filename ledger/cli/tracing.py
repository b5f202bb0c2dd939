"""Tracing: where goods came from, where they went."""

from pathlib import Path
from typing import Annotated

import typer

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
from ledger.cli.show import hand_over, shape_of


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

    with (
        wiring.reading(wiring.place_of(ledger)) as rows,
        open_books(
            rows, recorded_by=moment_given(recorded_by, option="--recorded-by")
        ) as books,
    ):
        asked = find_asked(books.shelf, word)
        until = day_given(as_of, option="--as-of")
        found = (
            trace_forward(books.shelf, asked, until=until)
            if forward
            else trace_back(books.shelf, asked)
        )
    if svg is not None:
        svg.write_text(genealogy_svg(found), encoding="utf-8")
    if as_json or as_csv or xlsx:
        shape = shape_of(as_json=as_json, as_csv=as_csv)
        hand_over({"Trace": trace_table(found)}, shape, xlsx, title="Trace")
        return
    for line in tree_lines(found):
        print(line)
