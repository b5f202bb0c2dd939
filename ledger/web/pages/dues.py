"""Dues to growers: all that is owed, what is late, and how each amount was reached."""

from collections.abc import Iterable, Iterator
from typing import Final
from urllib.parse import quote

from starlette.responses import Response

from ledger.books.dues import ContractDues, all_dues, dues_of
from ledger.books.owing import cooperative_totals, shortfalls
from ledger.reports.dues_chart import dues_chart
from ledger.reports.dues_table import (
    DEFERS,
    contract_table,
    cooperatives_table,
    dues_table,
    payments_table,
    shortfall_table,
)
from ledger.reports.figures import money_text
from ledger.reports.svg import Drawing
from ledger.reports.workings import workings_table
from ledger.web.access import AUDIT
from ledger.web.asked import Asked
from ledger.web.dates import dates_asked
from ledger.web.page import Page
from ledger.web.report import Report, show_report


def show_dues(asked: Asked) -> Response:
    """Show what is overdue, what each cooperative is owed, and every line."""
    dates = dates_asked(asked)
    with asked.books() as books:
        found = all_dues(books.shelf, dates.until)
    report = Report(
        asked.tongue.says("Dues to growers"),
        [
            dues_table(found),
            shortfall_table(shortfalls(found)),
            cooperatives_table(cooperative_totals(found)),
        ],
        tuple(outstanding_charts(found)),
        links={
            "contract": f"/dues/{{contract}}?{dates.carried}",
            "outstanding": f"/dues/{{contract}}?{dates.carried}",
            "due": f"/dues/{{contract}}?{dates.carried}",
            "cooperative": f"/statements/{{cooperative}}?{dates.carried}",
            "shipment": "/shipments/{shipment}",
            "entry": "/entries/{entry}",
        },
    )
    return show_report(asked, report, template="dues.html", dates=dates)


def show_contract(asked: Asked) -> Response:
    """Show what is owed under one contract, paid of it, and how it was reached."""
    dates, contract = dates_asked(asked), asked.part("contract")
    with asked.books() as books:
        found = dues_of(books.shelf, contract, dates.until)
    report = Report(
        asked.tongue.says(f"Dues under contract {contract}"),
        [contract_table(found), payments_table(found), workings_table([found])],
        links={"shipment": "/shipments/{shipment}", "entry": "/entries/{entry}"},
    )
    return show_report(
        asked,
        report,
        template="contract_dues.html",
        dates=dates,
        found=found,
        address=quote(contract, safe=""),
        money_text=money_text,
        defers=DEFERS,
    )


def outstanding_charts(found: Iterable[ContractDues]) -> Iterator[Drawing]:
    """Yield what is outstanding by age, one drawing for each currency."""
    dues = tuple(found)
    currencies = {
        line.currency
        for one in dues
        for line in one.lines
        if line.currency and line.outstanding_minor
    }
    for currency in sorted(currencies):
        yield dues_chart(dues, currency)


PAGES: Final = (
    Page("GET", "/dues", show_dues, AUDIT, menu="Dues"),
    Page("GET", "/dues/{contract:path}", show_contract, AUDIT),
)
