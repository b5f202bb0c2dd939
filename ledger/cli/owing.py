"""What is owed and moved, for others to read: statements, fees, quarterly volumes."""

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
    RecordedOption,
    XlsxOption,
    day_given,
    moment_given,
)
from ledger.cli.show import Shape, hand_over, shape_of, show, titled

if TYPE_CHECKING:
    from ledger.books.quarter import Quarter
    from ledger.books.statement import Statement


def add_to(app: typer.Typer) -> None:
    """Add the commands of this module."""
    app.command("statement")(statement)
    app.command("fees")(fees)
    app.command("volumes")(volumes)


QuarterOption = Annotated[
    str | None,
    typer.Option(
        "--quarter",
        metavar="QUARTER",
        help="Quarter of the calendar year, such as 2026Q1; the last whole one if left "
        "out.",
        show_default=False,
    ),
]


def statement(  # noqa: PLR0917 - one option each
    name: Annotated[str, typer.Argument(help="A cooperative, or a contract.")],
    out: Annotated[
        Path | None,
        typer.Option("--out", help="PDF file to write.", show_default=False),
    ] = None,
    language: Annotated[
        str,
        typer.Option(
            "--language",
            help="Language of the PDF: en, es, or as in a country, such as es-PE.",
        ),
    ] = "en",
    as_of: AsOfOption = None,
    recorded_by: RecordedOption = None,
    as_json: JsonSwitch = False,
    as_csv: CsvSwitch = False,
    xlsx: XlsxOption = None,
    ledger: LedgerOption = None,
    by: ByOption = None,
) -> None:
    """Print for a grower what was delivered, owed, paid and is open, and the rule."""
    from ledger import wiring
    from ledger.books.statement import statements_for
    from ledger.desk.books import open_books
    from ledger.desk.statement import statement_pdf
    from ledger.reports.statement_table import all_amounts_table
    from ledger.reports.tongue import written_for

    moment = wiring.now()
    day = day_given(as_of, option="--as-of") or moment.date()
    shape = shape_of(as_json=as_json, as_csv=as_csv)
    recorded = moment_given(recorded_by, option="--recorded-by")
    with (
        wiring.reading(wiring.place_of(ledger)) as rows,
        open_books(rows, recorded_by=recorded) as books,
    ):
        found = statements_for(books.shelf, name, day)
        if out is not None:
            pdf = statement_pdf(
                books.shelf,
                found,
                written_for(language, found[0].contract.origin),
                as_of=day,
                made_at=moment,
                made_by=wiring.user_named(by),
            )
            write_to(out, pdf)
            print(f"wrote {out}")
            return
    if shape is not Shape.TABLE or xlsx is not None:
        table = all_amounts_table(found)
        hand_over({"Statement": table}, shape, xlsx, title=f"Statement of {name}")
        return
    for one in found:
        _print(one)


def _print(one: "Statement") -> None:
    from ledger.reports.dues_table import DEFERS, payments_table
    from ledger.reports.price_rule import price_rule
    from ledger.reports.statement import settles
    from ledger.reports.statement_table import (
        amounts_table,
        delivered_table,
        entries_texts,
    )

    print(
        f"Contract {one.contract.contract} of {one.dues.signed_on} with {one.seller}, "
        f"as of {one.dues.as_of}"
    )
    for sentence in price_rule(one):
        print(f"  {sentence}")
    print()
    for table in (
        delivered_table(one),
        amounts_table(one.dues),
        payments_table(one.dues),
    ):
        show(table, Shape.TABLE)
    entries = list(entries_texts(one))
    if entries:
        print(settles())
    for sentence, entry in entries:
        print(f"\n# {sentence}\n{entry}", end="")
    print(f"\n{DEFERS}\n" if entries else f"Nothing is overdue.\n{DEFERS}\n")


def fees(
    quarter: QuarterOption = None,
    why: Annotated[
        bool,
        typer.Option("--why", help="Show how each fee was reached, sale by sale."),
    ] = False,
    recorded_by: RecordedOption = None,
    as_json: JsonSwitch = False,
    as_csv: CsvSwitch = False,
    xlsx: XlsxOption = None,
    ledger: LedgerOption = None,
) -> None:
    """Print the fees on what was sold under a claim in a quarter."""
    from ledger import wiring
    from ledger.books.fee import fees_of
    from ledger.desk.books import open_books
    from ledger.reports.fee_table import explained_fees, fees_table

    asked = _quarter(quarter)
    recorded = moment_given(recorded_by, option="--recorded-by")
    with (
        wiring.reading(wiring.place_of(ledger)) as rows,
        open_books(rows, recorded_by=recorded) as books,
    ):
        found = fees_of(books.shelf, asked)
    if why:
        print(explained_fees(found), end="")
    else:
        shape = shape_of(as_json=as_json, as_csv=as_csv)
        hand_over({"Fees": fees_table(found)}, shape, xlsx, title=f"Fees of {asked}")


def volumes(
    quarter: QuarterOption = None,
    recorded_by: RecordedOption = None,
    as_json: JsonSwitch = False,
    as_csv: CsvSwitch = False,
    xlsx: XlsxOption = None,
    ledger: LedgerOption = None,
) -> None:
    """Print what was bought, used, sold with and without claim and is in stock."""
    from ledger import wiring
    from ledger.books.volume import volumes_of
    from ledger.desk.books import open_books
    from ledger.reports.volume_table import (
        BEANS,
        WEIGHED,
        accounts_table,
        volume_sheet,
        volumes_table,
    )

    asked = _quarter(quarter)
    shape = shape_of(as_json=as_json, as_csv=as_csv)
    recorded = moment_given(recorded_by, option="--recorded-by")
    with (
        wiring.reading(wiring.place_of(ledger)) as rows,
        open_books(rows, recorded_by=recorded) as books,
    ):
        found = volumes_of(books.shelf, asked)
    if shape is not Shape.TABLE and xlsx is None:
        show(volumes_table(found, (WEIGHED, BEANS)), shape)
        return
    tables = (
        table
        for one in found
        for table in (
            volume_sheet(one, WEIGHED),
            volume_sheet(one, BEANS),
            accounts_table(one),
        )
    )
    hand_over(titled(tables), shape, xlsx, title=f"Volumes of {asked}")


def _quarter(text: str | None) -> "Quarter":
    """Return the quarter that an option gives, or the last one that is over."""
    from ledger import wiring
    from ledger.books.quarter import Quarter

    if text is not None:
        return Quarter.parse(text)
    return Quarter.of(wiring.now().date()).before
