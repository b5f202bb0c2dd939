"""What an auditor asks on site: breaches, yields, and whether the masses add up."""

from datetime import date, timedelta
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
from ledger.cli.show import Shape, hand_over, shape_of, show, titled

SinceOption = Annotated[
    str | None,
    typer.Option(
        metavar="DATE",
        help="First trade date; a year before the last if left out.",
        show_default=False,
    ),
]
UntilOption = Annotated[
    str | None,
    typer.Option(
        metavar="DATE", help="Last trade date; today if left out.", show_default=False
    ),
]


def add_to(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("breaches")(breaches)
    app.command("yields")(yields)
    app.command("reconcile")(reconcile_masses)


def breaches(
    as_of: AsOfOption = None,
    recorded_by: RecordedOption = None,
    as_json: JsonSwitch = False,
    as_csv: CsvSwitch = False,
    xlsx: XlsxOption = None,
    ledger: LedgerOption = None,
) -> None:
    """Print claims that are no longer covered: why, what they touch, the way out.

    Closed breaches stay listed with what closed them. The exit status is 1 while one is
    open.
    """
    from ledger import wiring
    from ledger.books.breach import find_breaches
    from ledger.desk.books import open_books
    from ledger.reports.breach_table import breach_details, breaches_table, flat_table

    day = day_given(as_of, option="--as-of") or wiring.now().date()
    shape = shape_of(as_json=as_json, as_csv=as_csv)
    with (
        wiring.reading(wiring.place_of(ledger)) as rows,
        open_books(
            rows, recorded_by=moment_given(recorded_by, option="--recorded-by")
        ) as books,
    ):
        found = find_breaches(books.shelf, day)
    if shape is not Shape.TABLE and xlsx is None:
        show(flat_table(found), shape)
    else:
        tables = (breaches_table(found), *breach_details(found))
        hand_over(titled(tables), shape, xlsx, title=f"Breaches as of {day}")
    if found.is_open:
        raise typer.Exit(1)


def yields(
    step: Annotated[
        str | None,
        typer.Argument(
            help="Show the batches of this step one by one.", show_default=False
        ),
    ] = None,
    since: SinceOption = None,
    until: UntilOption = None,
    as_json: JsonSwitch = False,
    as_csv: CsvSwitch = False,
    xlsx: XlsxOption = None,
    ledger: LedgerOption = None,
) -> None:
    """Print measured yields with control limits, and how much the factors flatter."""
    from ledger import wiring
    from ledger.books.flattery import flatteries
    from ledger.books.yield_ratio import yield_series
    from ledger.desk.books import open_books
    from ledger.reports.yield_table import (
        batches_table,
        factors_table,
        outside_table,
        yields_table,
    )

    first, last = _window(since, until)
    shape = shape_of(as_json=as_json, as_csv=as_csv)
    with wiring.reading(wiring.place_of(ledger)) as rows, open_books(rows) as books:
        found = yield_series(books.shelf, since=first, until=last)
        compared = flatteries(books.shelf, since=first, until=last)
    if step is not None:
        chosen = [series for series in found if series.step == step]
        if not chosen:
            raise typer.BadParameter(
                f"step is {step!r}, of which no batch was made from {first} to {last}; "
                f"use one of {', '.join(dict.fromkeys(one.step for one in found))}"
            )
        tables = [batches_table(series) for series in chosen]
    else:
        tables = [yields_table(found, since=first, until=last)]
        if shape is Shape.TABLE or xlsx is not None:
            tables += [outside_table(found), factors_table(compared)]
    hand_over(titled(tables), shape, xlsx, title=f"Yields from {first} to {last}")


def reconcile_masses(
    since: SinceOption = None,
    until: UntilOption = None,
    as_json: JsonSwitch = False,
    as_csv: CsvSwitch = False,
    xlsx: XlsxOption = None,
    ledger: LedgerOption = None,
) -> None:
    """Print whether all masses add up: opening, came, went, closing, form by form.

    The exit status is 1 where they do not, or where a count differs from the book.
    """
    from ledger import wiring
    from ledger.books.bean_flow import bean_flows
    from ledger.books.reconciliation import reconcile
    from ledger.desk.books import open_books
    from ledger.reports.reconciliation_table import (
        beans_table,
        counts_table,
        forms_table,
        inspection_table,
        losses_table,
    )

    first, last = _window(since, until)
    shape = shape_of(as_json=as_json, as_csv=as_csv)
    with wiring.reading(wiring.place_of(ledger)) as rows, open_books(rows) as books:
        found = reconcile(books.shelf, since=first, until=last)
        beans = bean_flows(books.shelf, found)
    tables = [forms_table(found)]
    if shape is Shape.TABLE or xlsx is not None:
        tables += [
            inspection_table(found),
            beans_table(beans),
            losses_table(found),
            counts_table(found),
        ]
    hand_over(titled(tables), shape, xlsx, title=f"Masses from {first} to {last}")
    if not found.adds_up or not all(one.is_within for one in found.counts):
        raise typer.Exit(1)


def _window(since: str | None, until: str | None) -> tuple[date, date]:
    """Return the days that two options give, a year where only the last is known.

    Raises:
        typer.BadParameter: One is not a date, or they run backwards.
    """
    from ledger import wiring

    last = day_given(until, option="--until") or wiring.now().date()
    first = day_given(since, option="--since") or last - timedelta(days=364)
    if first > last:
        raise typer.BadParameter(
            f"--since is {first}, after --until {last}; swap the two dates"
        )
    return first, last
