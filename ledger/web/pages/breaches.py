"""Breaches: which claims are no longer covered, what they touch, and the way out."""

from typing import Final

from starlette.responses import Response

from ledger.books.breach import find_breaches
from ledger.reports.breach_table import breach_details, breaches_table, way_out
from ledger.web.access import AUDIT
from ledger.web.asked import Asked
from ledger.web.dates import dates_asked
from ledger.web.page import Page
from ledger.web.report import Report, show_report


def show_breaches(asked: Asked) -> Response:
    """Show every breach, open ones with all that they touch."""
    dates = dates_asked(asked)
    with asked.books() as books:
        found = find_breaches(books.shelf, dates.until)
    report = Report(
        asked.tongue.says("Breaches"),
        [breaches_table(found), *breach_details(found)],
        links={
            "entry": "/entries/{entry}",
            "lot": "/lots/{lot}",
            "sale": "/sales/{sale}",
        },
    )
    return show_report(
        asked,
        report,
        template="breaches.html",
        dates=dates,
        is_open=found.is_open,
        ways_out=[
            (str(breach.account), tuple(way_out(breach)))
            for breach in found.accounts
            if breach.is_open
        ],
    )


PAGES: Final = (Page("GET", "/breaches", show_breaches, AUDIT, menu="Breaches"),)
