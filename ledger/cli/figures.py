"""Figures: balance, stock, dues."""

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

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
from ledger.cli.show import Shape, hand_over, shape_of
from ledger.errors import NotFoundError

if TYPE_CHECKING:
    from datetime import date

    from ledger.books.balance import Balance
    from ledger.books.effect import Tally
    from ledger.books.shelf import Shelf


def add_to(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("balance")(balance)
    app.command("stock")(stock)
    app.command("dues")(dues)


def balance(  # noqa: PLR0917 - one option each
    account: Annotated[
        str | None,
        typer.Argument(
            help="Show the running lines of accounts whose name contains this.",
            show_default=False,
        ),
    ] = None,
    since: Annotated[
        str | None,
        typer.Option(
            metavar="DATE", help="First trade date; the open period if left out."
        ),
    ] = None,
    why: Annotated[
        bool,
        typer.Option(
            "--why",
            help="Show how each movement of an account was reached: entries, rules, "
            "arithmetic.",
        ),
    ] = False,
    as_of: AsOfOption = None,
    recorded_by: RecordedOption = None,
    as_json: JsonSwitch = False,
    as_csv: CsvSwitch = False,
    xlsx: XlsxOption = None,
    ledger: LedgerOption = None,
) -> None:
    """Print what was certified, what was claimed and what is left, by account."""
    from ledger import wiring
    from ledger.books.balance import averages, balances, running_lines
    from ledger.desk.books import open_books, open_period_start
    from ledger.reports.balance_table import balance_table, running_table

    if why and account is None:
        raise typer.BadParameter(
            "--why needs an account; name one by a word of its name, such as: balance "
            "organic --why"
        )
    recorded = moment_given(recorded_by, option="--recorded-by")
    until = day_given(as_of, option="--as-of")
    shape = shape_of(as_json=as_json, as_csv=as_csv)
    with (
        wiring.reading(wiring.place_of(ledger)) as rows,
        open_books(rows, recorded_by=recorded) as books,
    ):
        first = day_given(since, option="--since")
        if first is None and until is None and recorded is None:
            first = open_period_start(rows)
        found = balances(books.shelf, since=first, until=until)
        if account is not None and why:
            named = [one.account.tally for one in _named(found, account)]
            _show_totals(books.shelf, named, (first, until), shape, xlsx)
            return
        if account is None:
            over = averages(books.shelf, until)
            table = balance_table(found, since=first, until=until, averages=over)
            tables = {"Balances": table}
        else:
            tables = {
                str(line.account): running_table(
                    line,
                    tuple(
                        running_lines(
                            books.shelf, line.account, since=first, until=until
                        )
                    ),
                )
                for line in _named(found, account)
            }
    hand_over(tables, shape, xlsx, title="Mass balance")


def _show_totals(
    shelf: "Shelf",
    tallies: "Sequence[Tally]",
    span: "tuple[date | None, date | None]",
    shape: Shape,
    xlsx: Path | None,
) -> None:
    """Show how running totals came to stand where they stand, and percentages of them."""
    from ledger.books.balance import averages
    from ledger.books.why_balance import why_total, why_window
    from ledger.books.why_throughput import why_average
    from ledger.reports.account_workings import (
        explained_average,
        explained_total,
        totals_workings_table,
    )

    since, until = span
    found = [why_total(shelf, one, since=since, until=until) for one in tallies]
    over = [one for one in averages(shelf, until) if one.account.tally in tallies]
    for average in over:
        found += why_window(shelf, average)
    if shape is Shape.TABLE and xlsx is None:
        told = [explained_total(one) for one in found]
        told += [explained_average(one, why_average(shelf, one)) for one in over]
        print("\n".join(told), end="")
    else:
        table = totals_workings_table(found)
        hand_over({"Why": table}, shape, xlsx, title=table.title)


def _named(found: Iterable["Balance"], word: str) -> list["Balance"]:
    """Return the accounts whose name contains a word.

    Raises:
        NotFoundError: There is none.
    """
    known = list(found)
    named = [one for one in known if word.lower() in str(one.account).lower()]
    if not named:
        names = "; ".join(str(one.account) for one in known) or "none yet"
        raise NotFoundError(
            f'no account has "{word}" in its name; the accounts are: {names}'
        )
    return named


def stock(
    lot: Annotated[
        str | None,
        typer.Argument(help="Only this lot.", show_default=False),
    ] = None,
    why: Annotated[
        bool,
        typer.Option("--why", help="Show every movement of the lot and its entry."),
    ] = False,
    as_of: AsOfOption = None,
    recorded_by: RecordedOption = None,
    as_json: JsonSwitch = False,
    as_csv: CsvSwitch = False,
    xlsx: XlsxOption = None,
    ledger: LedgerOption = None,
) -> None:
    """Print what is on hand, lot by lot, with form, place and holds."""
    from ledger import wiring
    from ledger.books.effect import Tally
    from ledger.books.stock import stock_of, stock_on
    from ledger.desk.books import open_books
    from ledger.reports.stock_table import stock_table

    if why and lot is None:
        raise typer.BadParameter(
            "--why needs a lot; name one, such as: stock BN-1 --why"
        )
    shape = shape_of(as_json=as_json, as_csv=as_csv)
    day = day_given(as_of, option="--as-of") or wiring.now().date()
    with (
        wiring.reading(wiring.place_of(ledger)) as rows,
        open_books(
            rows, recorded_by=moment_given(recorded_by, option="--recorded-by")
        ) as books,
    ):
        found = (
            stock_on(books.shelf, day)
            if lot is None
            else stock_of(books.shelf, lot, day)
        )
        if lot is not None and why:
            _show_totals(books.shelf, [Tally.stock(lot)], (None, day), shape, xlsx)
            return
    hand_over({"Stock": stock_table(found)}, shape, xlsx, title="Stock on hand")


def dues(
    contract: Annotated[
        str | None,
        typer.Argument(help="Only this contract, line by line.", show_default=False),
    ] = None,
    why: Annotated[
        bool,
        typer.Option(
            "--why",
            help="Show how each amount was reached: entries, rules, arithmetic.",
        ),
    ] = False,
    as_of: AsOfOption = None,
    recorded_by: RecordedOption = None,
    as_json: JsonSwitch = False,
    as_csv: CsvSwitch = False,
    xlsx: XlsxOption = None,
    ledger: LedgerOption = None,
) -> None:
    """Print what is owed to growers: price, differentials, premium, paid, late, open."""
    from ledger import wiring
    from ledger.books.dues import all_dues, dues_of
    from ledger.desk.books import open_books
    from ledger.reports.dues_table import dues_table
    from ledger.reports.workings import explained, workings_table

    day = day_given(as_of, option="--as-of") or wiring.now().date()
    shape = shape_of(as_json=as_json, as_csv=as_csv)
    with (
        wiring.reading(wiring.place_of(ledger)) as rows,
        open_books(
            rows, recorded_by=moment_given(recorded_by, option="--recorded-by")
        ) as books,
    ):
        if contract is None:
            found = all_dues(books.shelf, day)
        else:
            found = (dues_of(books.shelf, contract, day),)
    if why and shape is Shape.TABLE and xlsx is None:
        print("\n".join(explained(one) for one in found), end="")
        return
    table = workings_table(found) if why else dues_table(found)
    hand_over({"Dues": table}, shape, xlsx, title="Dues to growers")
