"""The figures of an audit report as a workbook: every table, and how each was reached."""

from collections.abc import Iterator, Sequence
from typing import Final

from ledger.books.owing import cooperative_totals, shortfalls
from ledger.books.rounding import STATEMENT
from ledger.books.why_balance import WhyTotal
from ledger.reports.account_workings import totals_workings_table
from ledger.reports.audit_contents import AuditContents, Masses
from ledger.reports.audit_report import MOST_RUNNING_LINES
from ledger.reports.balance_table import (
    balance_table,
    monthly_table,
    running_table,
)
from ledger.reports.dues_table import cooperatives_table, dues_table, shortfall_table
from ledger.reports.entry_table import (
    breach_events_table,
    corrections_table,
    decisions_table,
    flagged_table,
)
from ledger.reports.flow_table import flow_sides_table, flow_table
from ledger.reports.stock_table import stock_table
from ledger.reports.tables import Column, Table
from ledger.reports.trace_table import SHOWN, trace_table
from ledger.reports.workings import workings_table
from ledger.reports.xlsx import xlsx_bytes
from ledger.reports.yield_table import factors_table, outside_table, yields_table

_FACT: Final = (Column("what", "What", width=20), Column("told", "Told", width=60))


def render_audit_workbook(contents: AuditContents, whys: Sequence[WhyTotal]) -> bytes:
    """Return the figures of an audit report as a workbook, a sheet each.

    Args:
        contents: What the report shows.
        whys: How accounts came to stand where they stand; none where it is not told.

    Raises:
        InputError: A table has more rows than a sheet.
    """
    title = f"Figures of {contents.cover.maker} as of {contents.cover.as_of}"
    return xlsx_bytes(dict(_sheets(contents, whys)), title=title)


def _sheets(
    contents: AuditContents, whys: Sequence[WhyTotal]
) -> Iterator[tuple[str, Table]]:
    yield "About", _about(contents)
    yield (
        "Balances",
        balance_table(
            (run.balance for run in contents.accounts),
            until=contents.cover.as_of,
            averages=(run.average for run in contents.accounts if run.average),
        ),
    )
    for number, run in enumerate(contents.accounts, start=1):
        if len(run.lines) <= MOST_RUNNING_LINES:
            table = running_table(run.balance, run.lines, entries=contents.entries)
        else:
            table = monthly_table(run.balance, run.lines)
        yield f"Account {number}", table
    if whys:
        yield "Why balances", totals_workings_table(whys)
    yield "Dues", dues_table(contents.dues)
    yield "Why dues", workings_table(contents.dues)
    yield "Cooperatives", cooperatives_table(cooperative_totals(contents.dues))
    yield "Overdue", shortfall_table(shortfalls(contents.dues))
    yield "Stock", stock_table(contents.stock)
    if contents.masses is not None:
        yield from _masses(contents.masses, contents)
    for number, walk in enumerate(contents.walks, start=1):
        yield f"Walk {number}", trace_table(walk)
    yield "Corrections", corrections_table(contents.corrections)
    yield "Decisions", decisions_table(contents.decisions)
    yield "Breaches", breach_events_table(contents.breach_events)
    flagged = (*contents.flagged_batches, *contents.flagged_others)
    yield "Findings", flagged_table(flagged, title="Findings")


def _masses(masses: Masses, contents: AuditContents) -> Iterator[tuple[str, Table]]:
    yield "Flow of mass", flow_sides_table(masses.flow)
    yield "Streams", flow_table(masses.flow)
    until = contents.cover.as_of
    yield "Yields", yields_table(masses.yields, since=masses.since, until=until)
    yield "Yields outside", outside_table(masses.yields)
    yield "Factors", factors_table(masses.compared)


def _about(contents: AuditContents) -> Table:
    cover = contents.cover
    rows = [
        ("maker", cover.maker),
        ("shows", cover.portion or "the whole ledger"),
        ("as of", cover.as_of.isoformat()),
        ("entries", str(cover.size)),
        ("tree head", cover.tree_head.hex()),
        *(
            (f"terms of {terms.scheme}", f"version {terms.version}: {terms.source}")
            for terms in contents.terms
        ),
        ("rounding", f"{STATEMENT} {SHOWN}"),
    ]
    return Table(
        title=f"Figures of {cover.maker} as of {cover.as_of}", columns=_FACT, rows=rows
    )
