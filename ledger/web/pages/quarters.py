"""What is reported by quarter: fees on certified sales, and volumes."""

from typing import Final

from starlette.responses import Response

from ledger.books.fee import fees_of
from ledger.books.quarter import Quarter
from ledger.books.volume import volumes_of
from ledger.reports.fee_table import fees_table
from ledger.reports.volume_table import (
    BEANS,
    WEIGHED,
    accounts_table,
    volume_sheet,
    volumes_table,
)
from ledger.web.access import AUDIT
from ledger.web.asked import Asked
from ledger.web.page import Page
from ledger.web.report import Report, show_report
from ledger.web.whole import of_the_whole


def show_fees(asked: Asked) -> Response:
    """Show the fees on what was sold under a claim in a quarter, and how they come."""
    quarter = _quarter(asked)
    with asked.books() as books:
        found = fees_of(books.shelf, quarter)
    report = Report(
        asked.tongue.says(f"Fees on certified sales, {quarter}"), [fees_table(found)]
    )
    return show_report(
        asked, report, template="quarter.html", quarter=quarter, lines=found.lines
    )


@of_the_whole
def show_volumes(asked: Asked) -> Response:
    """Show what was bought, used, sold with and without claim and is in stock."""
    quarter = _quarter(asked)
    with asked.books() as books:
        found = volumes_of(books.shelf, quarter)
    sheets = (
        table
        for one in found
        for table in (
            volume_sheet(one, WEIGHED),
            volume_sheet(one, BEANS),
            accounts_table(one),
        )
    )
    # The first table holds all of it for programs; the page shows a sheet for each measure.
    report = Report(
        asked.tongue.says(f"Volumes of {quarter}"),
        [volumes_table(found, (WEIGHED, BEANS)), *sheets],
        links={
            "account": f"/balance/{{account}}?since={quarter.first}&as_of={quarter.last}"
        },
    )
    return show_report(
        asked, report, template="quarter.html", quarter=quarter, lines=()
    )


def _quarter(asked: Asked) -> Quarter:
    """Return the quarter that an address names, or the last one that is over.

    Raises:
        InputError: It names none.
    """
    given = asked.query("quarter")
    return Quarter.parse(given) if given else Quarter.of(asked.as_of()).before


PAGES: Final = (
    Page("GET", "/fees", show_fees, AUDIT),
    Page("GET", "/volumes", show_volumes, AUDIT),
)
