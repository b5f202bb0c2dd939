"""Charts by themselves, as SVG: running balances, the flow of mass, yields, dues by age."""

from collections.abc import Callable
from datetime import date, timedelta
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from ledger.cli.giving import give
from ledger.cli.options import AsOfOption, LedgerOption, day_given
from ledger.errors import NotFoundError

if TYPE_CHECKING:
    from ledger.books.shelf import Shelf
    from ledger.reports.svg import Drawing


class Chart(StrEnum):
    """What can be drawn by itself."""

    BALANCE = "balance"
    FLOW = "flow"
    YIELDS = "yields"
    DUES = "dues"


Drawn = Callable[["Shelf", date, date | None, str], "list[Drawing]"]
"""Draws from a shelf: last date, first date, word that names must contain."""


def add_to(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("chart")(chart)


def chart(
    which: Annotated[Chart, typer.Argument(help="What to draw.")],
    word: Annotated[
        str,
        typer.Argument(
            help="Only accounts, steps or currencies whose name contains this.",
            show_default=False,
        ),
    ] = "",
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", help="File to write; printed if left out.", show_default=False
        ),
    ] = None,
    since: Annotated[
        str | None,
        typer.Option(
            metavar="DATE",
            help="First trade date of balances, from the beginning if left out, and of "
            "yields, a year before the last if left out.",
            show_default=False,
        ),
    ] = None,
    as_of: AsOfOption = None,
    ledger: LedgerOption = None,
) -> None:
    """Draw figures as SVG, legible in black and white."""
    from ledger import wiring
    from ledger.desk.books import open_books
    from ledger.reports.svg import stacked

    last = day_given(as_of, option="--as-of") or wiring.now().date()
    first = day_given(since, option="--since")
    with wiring.reading(wiring.place_of(ledger)) as rows, open_books(rows) as books:
        found = _DRAWN[which](books.shelf, last, first, word.lower())
    if not found:
        named = f' with "{word}" in the name' if word else ""
        raise NotFoundError(
            f"there is nothing to draw of {which}{named} up to {last}; ask about another "
            "date or name"
        )
    give(stacked(found).svg + "\n", out)


def _balances(
    shelf: "Shelf", last: date, first: date | None, word: str
) -> "list[Drawing]":
    from ledger.books.balance import balances, running_lines
    from ledger.books.floor import floor_of
    from ledger.reports.running_chart import running_chart

    return [
        running_chart(
            one,
            tuple(running_lines(shelf, one.account, since=first, until=last)),
            since=first,
            until=last,
            floor_g=floor_of(shelf, one.account.tally)(last),
        )
        for one in balances(shelf, since=first, until=last)
        if word in str(one.account).lower()
    ]


def _flow(
    shelf: "Shelf", last: date, _first: date | None, word: str
) -> "list[Drawing]":
    from ledger.books.mass_flow import mass_flow
    from ledger.reports.flow_chart import flow_chart

    if word:
        raise typer.BadParameter("the flow is drawn whole; leave the word out")
    return [flow_chart(mass_flow(shelf, last))]


def _yields(
    shelf: "Shelf", last: date, first: date | None, word: str
) -> "list[Drawing]":
    from ledger.books.yield_ratio import yield_series
    from ledger.reports.yield_chart import is_drawn, kind_of, yield_chart

    since = first or last - timedelta(days=364)
    return [
        yield_chart(one)
        for one in yield_series(shelf, since=since, until=last)
        if is_drawn(one) and word in kind_of(one).lower()
    ]


def _dues(
    shelf: "Shelf", last: date, _first: date | None, word: str
) -> "list[Drawing]":
    from ledger.books.dues import all_dues
    from ledger.reports.dues_chart import dues_chart

    found = all_dues(shelf, last)
    currencies = sorted(
        {
            line.currency
            for dues in found
            for line in dues.lines
            if line.currency and line.outstanding_minor
        }
    )
    return [
        dues_chart(found, currency)
        for currency in currencies
        if word in currency.lower()
    ]


_DRAWN: Final[dict[Chart, Drawn]] = {
    Chart.BALANCE: _balances,
    Chart.FLOW: _flow,
    Chart.YIELDS: _yields,
    Chart.DUES: _dues,
}
