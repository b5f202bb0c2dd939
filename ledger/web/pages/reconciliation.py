"""Masses: whether all that came, went and is there adds up, and where it flowed."""

from typing import Final

from starlette.responses import Response

from ledger.books.bean_flow import bean_flows
from ledger.books.mass_flow import mass_flow
from ledger.books.reconciliation import reconcile
from ledger.reports.flow_chart import flow_chart
from ledger.reports.flow_table import flow_sides_table, flow_table
from ledger.reports.reconciliation_table import (
    beans_table,
    counts_table,
    forms_table,
    inspection_table,
    losses_table,
)
from ledger.web.access import AUDIT
from ledger.web.asked import Asked
from ledger.web.dates import year_asked
from ledger.web.page import Page
from ledger.web.report import Report, show_report
from ledger.web.whole import of_the_whole


@of_the_whole
def show_reconciliation(asked: Asked) -> Response:
    """Show opening, came, went and closing, form by form."""
    dates = year_asked(asked)
    with asked.books() as books:
        found = reconcile(
            books.shelf, since=dates.since or dates.until, until=dates.until
        )
        beans = bean_flows(books.shelf, found)
    report = Report(
        asked.tongue.says("Reconciliation of masses"),
        [
            forms_table(found),
            inspection_table(found),
            beans_table(beans),
            losses_table(found),
            counts_table(found),
        ],
        links={"entry": "/entries/{entry}", "lot": "/lots/{lot}"},
    )
    return show_report(
        asked,
        report,
        template="reconciliation.html",
        dates=dates,
        adds_up=found.adds_up,
        counts_are_within=all(one.is_within for one in found.counts),
    )


@of_the_whole
def show_flow(asked: Asked) -> Response:
    """Show where all mass went: from suppliers, through forms, to claims and all else."""
    dates = year_asked(asked)
    with asked.books() as books:
        flow = mass_flow(books.shelf, dates.until)
    report = Report(
        asked.tongue.says("Flow of mass"),
        [flow_sides_table(flow), flow_table(flow)],
        [flow_chart(flow, asked.tongue)] if flow.grams else [],
    )
    return show_report(asked, report, template="as_of.html", dates=dates)


PAGES: Final = (
    Page("GET", "/reconciliation", show_reconciliation, AUDIT, menu="Masses"),
    Page("GET", "/flow", show_flow, AUDIT),
)
