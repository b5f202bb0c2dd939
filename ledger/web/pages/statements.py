"""Statements to growers: per cooperative and per contract, as a page and as PDF."""

from typing import Final

from starlette.responses import Response

from ledger.books.effect import SubjectKind
from ledger.books.lookup import expect
from ledger.books.owing import cooperative_totals
from ledger.books.shelf import Shelf
from ledger.books.statement import Statement, statements_for
from ledger.desk.statement import statement_pdf
from ledger.reports.dues_table import DEFERS, cooperatives_table, payments_table
from ledger.reports.price_rule import price_rule
from ledger.reports.statement import settles
from ledger.reports.statement_table import (
    all_amounts_table,
    amounts_table,
    delivered_table,
    entries_texts,
)
from ledger.reports.tables import Column, Table
from ledger.reports.tongue import Tongue, written_for
from ledger.trade.contract import ContractSigned
from ledger.web.access import AUDIT
from ledger.web.asked import Asked
from ledger.web.dates import Dates, dates_asked
from ledger.web.page import Page
from ledger.web.report import Report, download, show_report

PDF: Final = "application/pdf"


def show_statements(asked: Asked) -> Response:
    """List every cooperative and contract that a statement can be made for."""
    dates = dates_asked(asked)
    with asked.books() as books:
        table = _contracts_table(books.shelf, dates)
    report = Report(
        asked.tongue.says("Statements to growers"),
        [table],
        links={
            "seller": f"/statements/{{seller}}?{dates.carried}",
            "contract": f"/statements/{{contract}}?{dates.carried}",
        },
    )
    return show_report(asked, report, template="as_of.html", dates=dates)


def _contracts_table(shelf: Shelf, dates: Dates) -> Table:
    signed = [
        (recorded.occurred_on, expect(recorded.record, ContractSigned))
        for subject in shelf.subjects(SubjectKind.CONTRACT)
        if (recorded := shelf.introducer(subject)) is not None
        and recorded.occurred_on <= dates.until
    ]
    return Table(
        title="Contracts with growers",
        columns=(
            Column("seller", "Cooperative", width=16),
            Column("contract", "Contract", width=14),
            Column("signed_on", "Signed on", width=12),
        ),
        rows=[
            (contract.seller, contract.contract, day.isoformat())
            for day, contract in sorted(
                signed, key=lambda item: (item[1].seller, item[0], item[1].contract)
            )
        ],
    )


def show_statement(asked: Asked) -> Response:
    """Show the statement of a contract, or of every contract of a cooperative."""
    dates, name = dates_asked(asked), asked.part("party")
    with asked.books() as books:
        found = statements_for(books.shelf, name, dates.until)
        if asked.query("as") == "pdf":
            wish = asked.query("language")
            pdf = statement_pdf(
                books.shelf,
                found,
                _writing(asked, wish, found),
                as_of=dates.until,
                made_at=asked.office.now(),
                made_by=asked.person.name,
            )
            return download(pdf, f"Statement {name} {dates.until}.pdf", PDF)
    totals = cooperatives_table(cooperative_totals(one.dues for one in found))
    report = Report(
        asked.tongue.says(f"Statement of {name}"),
        [
            all_amounts_table(found),
            totals,
            *(table for one in found for table in _tables(one)),
        ],
        links={"shipment": "/shipments/{shipment}", "entry": "/entries/{entry}"},
    )
    return show_report(
        asked,
        report,
        template="statement.html",
        dates=dates,
        name=name,
        seller=found[0].seller,
        contracts=found,
        price_rule=price_rule,
        entries_texts=entries_texts,
        settles=settles,
        defers=DEFERS,
    )


def _writing(asked: Asked, wish: str, found: tuple[Statement, ...]) -> Tongue:
    """Return how to write a statement: as the reader reads, or as its growers do."""
    if wish in {"", asked.tongue.language}:
        return asked.tongue
    return written_for(wish, found[0].contract.origin)


def _tables(one: Statement) -> tuple[Table, Table, Table]:
    return delivered_table(one), amounts_table(one.dues), payments_table(one.dues)


PAGES: Final = (
    Page("GET", "/statements", show_statements, AUDIT),
    Page("GET", "/statements/{party:path}", show_statement, AUDIT),
)
