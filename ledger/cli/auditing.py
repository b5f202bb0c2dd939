"""What an auditor asks on site: breaches, yields, and whether the masses add up."""

import typer

from ledger.cli.options import (
    AsOfOption,
    CsvSwitch,
    JsonSwitch,
    LedgerOption,
    RecordedOption,
    day_given,
    moment_given,
)
from ledger.cli.show import Shape, shape_of, show


def add_to(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("breaches")(breaches)


def breaches(
    as_of: AsOfOption = None,
    recorded_by: RecordedOption = None,
    as_json: JsonSwitch = False,
    as_csv: CsvSwitch = False,
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
    if shape is not Shape.TABLE:
        show(flat_table(found), shape)
    else:
        for table in (breaches_table(found), *breach_details(found)):
            show(table, shape)
    if found.is_open:
        raise typer.Exit(1)
