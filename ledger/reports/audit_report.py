"""The report of an audit pack, as PDF: balances, dues, walks, corrections, breaches."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from ledger.books.owing import CooperativeTotal, cooperative_totals, shortfalls
from ledger.books.rounding import STATEMENT
from ledger.books.stock import grams_by_form
from ledger.books.trace import Trace
from ledger.reports.audit_contents import AccountRun, AuditContents, Masses
from ledger.reports.balance_table import (
    average_sentence,
    breach_sentence,
    monthly_table,
    running_table,
    statement_table,
    summary_table,
)
from ledger.reports.dues_chart import dues_chart
from ledger.reports.dues_table import (
    DEFERS,
    contract_table,
    cooperatives_table,
    payments_table,
    shortfall_table,
)
from ledger.reports.entry_table import (
    breach_events_table,
    corrections_table,
    decisions_table,
    flagged_table,
)
from ledger.reports.flow_chart import flow_chart
from ledger.reports.flow_table import flow_sides_table
from ledger.reports.genealogy_svg import genealogy_parts
from ledger.reports.page import Attached, render_html, render_pdf
from ledger.reports.running_chart import running_chart
from ledger.reports.stock_table import stock_by_form_table
from ledger.reports.svg import Drawing
from ledger.reports.tables import Table
from ledger.reports.trace_table import (
    SHOWN,
    walk_lots_table,
    walk_sources_table,
)
from ledger.reports.yield_chart import is_drawn, yield_chart
from ledger.reports.yield_table import factors_table, outside_table, yields_table

MOST_RUNNING_LINES: Final = 2_000
"""Running lines printed in one report; an account beyond is printed by month."""
MOST_WALK_LOTS: Final = 40


@dataclass(frozen=True, slots=True)
class _AccountPages:
    name: str
    statement: Table
    chart: Drawing
    running: Table
    breach: str
    average: str


@dataclass(frozen=True, slots=True)
class _WalkPages:
    sale: str
    customer: str
    sources: Table
    lots: Table
    drawings: tuple[Drawing, ...]


@dataclass(frozen=True, slots=True)
class _MassPages:
    flow: Drawing
    sides: Table
    yields: Table
    outside: Table
    factors: Table
    charts: tuple[Drawing, ...]


def render_audit_report(
    contents: AuditContents, attached: Sequence[Attached] = ()
) -> bytes:
    """Return the report of an audit pack as tagged PDF/A-3a, the same bytes every time.

    Args:
        contents: What it shows.
        attached: Files that it was worked out from; they lie inside it.
    """
    return render_pdf(
        audit_report_html(contents, attached),
        style="audit_report.css",
        attached=attached,
    )


def audit_report_html(
    contents: AuditContents, attached: Sequence[Attached] = ()
) -> str:
    """Return the report of an audit pack as the page that is printed."""
    accounts = _account_pages(contents)
    totals = cooperative_totals(contents.dues)
    outstanding = _outstanding(totals)
    return render_html(
        "audit_report.html",
        cover=contents.cover,
        attached=attached,
        terms=contents.terms,
        summary=summary_table(run.balance for run in contents.accounts),
        accounts=accounts,
        breaches=[pages.breach for pages in accounts if pages.breach],
        cooperatives=cooperatives_table(totals),
        overdue=shortfall_table(shortfalls(contents.dues)),
        dues_charts=[
            dues_chart(contents.dues, currency)
            for currency, minor in outstanding.items()
            if minor
        ],
        settled=[currency for currency, minor in outstanding.items() if not minor],
        contracts=[(contract_table(one), payments_table(one)) for one in contents.dues],
        stock=stock_by_form_table(grams_by_form(contents.stock)),
        masses=None
        if contents.masses is None
        else _mass_pages(contents.masses, contents),
        walks=[_walk_pages(walk) for walk in contents.walks],
        sales_under_claim=contents.sales_under_claim,
        corrections=corrections_table(contents.corrections),
        decisions=decisions_table(contents.decisions),
        breach_events=breach_events_table(contents.breach_events),
        batches=flagged_table(
            contents.flagged_batches, title="Batches outside the maker's limits"
        ),
        others=flagged_table(contents.flagged_others, title="Everything else"),
        defers=DEFERS,
        shown=SHOWN,
        rounding=f"{STATEMENT} {SHOWN}",
    )


def _outstanding(totals: Iterable[CooperativeTotal]) -> dict[str, int]:
    """Return minor units outstanding to all cooperatives, by currency."""
    found: dict[str, int] = {}
    for one in totals:
        currency = one.total.currency
        if currency is not None:
            found[currency] = found.get(currency, 0) + one.total.outstanding_minor
    return dict(sorted(found.items()))


def _account_pages(contents: AuditContents) -> list[_AccountPages]:
    room, pages = MOST_RUNNING_LINES, []
    for run in contents.accounts:
        fits = len(run.lines) <= room
        room -= len(run.lines) if fits else 0
        pages.append(_pages_of(run, contents, line_by_line=fits))
    return pages


def _pages_of(
    run: AccountRun, contents: AuditContents, *, line_by_line: bool
) -> _AccountPages:
    balance = run.balance
    return _AccountPages(
        name=str(balance.account),
        statement=statement_table(balance, periods=run.periods),
        chart=running_chart(
            balance, run.lines, until=contents.cover.as_of, floor_g=run.floor_g
        ),
        running=running_table(balance, run.lines, entries=contents.entries)
        if line_by_line
        else monthly_table(balance, run.lines),
        breach=breach_sentence(balance) if balance.is_breach else "",
        average="" if run.average is None else average_sentence(run.average),
    )


def _walk_pages(walk: Trace) -> _WalkPages:
    return _WalkPages(
        sale=walk.asked.name,
        customer=", ".join(walk.customers),
        sources=walk_sources_table(walk),
        lots=walk_lots_table(walk, most=MOST_WALK_LOTS),
        drawings=genealogy_parts(walk),
    )


def _mass_pages(masses: Masses, contents: AuditContents) -> _MassPages:
    return _MassPages(
        flow=flow_chart(masses.flow),
        sides=flow_sides_table(masses.flow),
        yields=yields_table(
            masses.yields, since=masses.since, until=contents.cover.as_of
        ),
        outside=outside_table(masses.yields),
        factors=factors_table(masses.compared),
        charts=tuple(yield_chart(one) for one in masses.yields if is_drawn(one)),
    )
