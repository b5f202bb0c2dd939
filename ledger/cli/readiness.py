"""Could an audit be passed today: the answer, headroom of accounts, certificates."""

from typing import TYPE_CHECKING

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

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import date

    from ledger.books.shelf import Shelf
    from ledger.reports.tables import Table


def add_to(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("ready")(ready)
    app.command("headroom")(headroom)
    app.command("certificates")(certificates)


def ready(
    as_of: AsOfOption = None,
    as_json: JsonSwitch = False,
    as_csv: CsvSwitch = False,
    xlsx: XlsxOption = None,
    ledger: LedgerOption = None,
) -> None:
    """Print whether an audit could be passed, and what stands against it.

    With --json or --csv it prints the points only. The exit status is 1 where something
    stands against it.
    """
    from ledger import wiring
    from ledger.books.audit_point import Verdict, points_of, verdict_of
    from ledger.books.readiness import readiness
    from ledger.desk.books import open_books
    from ledger.desk.readiness import signed_and_seen
    from ledger.reports.readiness_table import points_table, readiness_tables

    day = day_given(as_of, option="--as-of") or wiring.now().date()
    shape = shape_of(as_json=as_json, as_csv=as_csv)
    place = wiring.place_of(ledger)
    with wiring.reading(place) as rows, open_books(rows) as books:
        signed = signed_and_seen(
            rows, lambda: place.checkpoints_path, lambda: place.timestamps_path
        )
        found = readiness(books.shelf, day, signed)
    points = points_of(found)
    verdict = verdict_of(points)
    if shape is not Shape.TABLE and xlsx is None:
        show(points_table(points), shape)
    else:
        print(f"Could an audit be passed on {day}? {verdict.capitalize()}.")
        tables = titled(readiness_tables(found, points))
        hand_over(tables, shape, xlsx, title=f"Readiness on {day}")
    if verdict is Verdict.NO:
        raise typer.Exit(1)


def headroom(
    as_of: AsOfOption = None,
    recorded_by: RecordedOption = None,
    as_json: JsonSwitch = False,
    as_csv: CsvSwitch = False,
    xlsx: XlsxOption = None,
    ledger: LedgerOption = None,
) -> None:
    """Print what each account may still cover, and when it runs out at current sales."""

    def table(shelf: "Shelf", day: "date") -> "Table":
        from ledger.books.balance import averages
        from ledger.books.headroom import headrooms
        from ledger.reports.readiness_table import headroom_table

        return headroom_table(headrooms(shelf, day), averages(shelf, day))

    shape = shape_of(as_json=as_json, as_csv=as_csv)
    found = _from_books(table, as_of, recorded_by, ledger)
    hand_over({"Headroom": found}, shape, xlsx, title="Headroom")


def certificates(
    as_of: AsOfOption = None,
    recorded_by: RecordedOption = None,
    as_json: JsonSwitch = False,
    as_csv: CsvSwitch = False,
    xlsx: XlsxOption = None,
    ledger: LedgerOption = None,
) -> None:
    """Print every certificate: whether it counts, for how long yet, and what stops it."""

    def table(shelf: "Shelf", day: "date") -> "Table":
        from ledger.books.validity import validities
        from ledger.reports.readiness_table import certificates_table

        return certificates_table(validities(shelf, day))

    shape = shape_of(as_json=as_json, as_csv=as_csv)
    found = _from_books(table, as_of, recorded_by, ledger)
    hand_over({"Certificates": found}, shape, xlsx, title="Certificates")


def _from_books(
    table: "Callable[[Shelf, date], Table]",
    as_of: str | None,
    recorded_by: str | None,
    ledger: str | None,
) -> "Table":
    from ledger import wiring
    from ledger.desk.books import open_books

    day = day_given(as_of, option="--as-of") or wiring.now().date()
    recorded = moment_given(recorded_by, option="--recorded-by")
    with (
        wiring.reading(wiring.place_of(ledger)) as rows,
        open_books(rows, recorded_by=recorded) as books,
    ):
        return table(books.shelf, day)
