"""What people read in a pack: the report as PDF, its figures as a workbook and as CSV."""

from collections.abc import Mapping

from ledger.books.owing import cooperative_totals
from ledger.books.why_balance import WhyTotal, why_balance
from ledger.desk.attached import attached_files
from ledger.desk.pack import ToReport
from ledger.desk.report import contents_of
from ledger.reports.audit_contents import AuditContents
from ledger.reports.audit_report import MOST_RUNNING_LINES, render_audit_report
from ledger.reports.audit_workbook import render_audit_workbook
from ledger.reports.balance_table import balance_table
from ledger.reports.dues_table import cooperatives_table, dues_table
from ledger.reports.stock_table import stock_table
from ledger.reports.tables import Table, csv_text


def audit_reports(asked: ToReport) -> Mapping[str, bytes]:
    """Return the reports of a pack by file name.

    Args:
        asked: What they are about.

    Raises:
        EntryRefusedError: The ledger is not opened yet.
    """
    contents = contents_of(
        asked.shelf,
        size=asked.head.size,
        tree_head=asked.head.root,
        as_of=asked.scope.as_of,
        made_at=asked.scope.made_at,
        made_by=asked.scope.made_by,
        portion=asked.scope.portion,
    )
    tables: dict[str, Table] = {
        "balances.csv": balance_table(
            (run.balance for run in contents.accounts), until=asked.scope.as_of
        ),
        "dues.csv": dues_table(contents.dues),
        "cooperatives.csv": cooperatives_table(cooperative_totals(contents.dues)),
        "stock.csv": stock_table(contents.stock),
    }
    return {
        "audit-report.pdf": render_audit_report(
            contents, attached_files(asked.figures, asked.scope, asked.entries())
        ),
        "audit-figures.xlsx": render_audit_workbook(contents, _whys(asked, contents)),
        **{name: csv_text(table).encode() for name, table in tables.items()},
    }


def _whys(asked: ToReport, contents: AuditContents) -> tuple[WhyTotal, ...]:
    """Return how the accounts came to stand where they stand.

    A part of a ledger does not hold all that this rests on. An account that moves too
    often to be printed line by line is left out too; the balance command explains it.
    """
    if asked.scope.portion is not None:
        return ()
    return tuple(
        why_balance(asked.shelf, run.balance.account, until=asked.scope.as_of)
        for run in contents.accounts
        if len(run.lines) <= MOST_RUNNING_LINES
    )
