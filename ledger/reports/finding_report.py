"""Findings as a PDF: to be handed to the maker, and kept."""

from dataclasses import dataclass
from datetime import datetime

from ledger.reports.page import Attached, render_html, render_pdf
from ledger.reports.tables import Table, csv_text


@dataclass(frozen=True, slots=True)
class FindingCover:
    """What stands on top of findings.

    Attributes:
        title: What they are.
        maker: Whose ledger or pack was looked at.
        about: The part of it that was looked at.
        made_by: Who makes the report; empty where nobody signed in.
        made_at: When, in UTC.
        says: Sentences to read first.
    """

    title: str
    maker: str
    about: str
    made_by: str
    made_at: datetime
    says: tuple[str, ...] = ()


def findings_html(cover: FindingCover, table: Table) -> str:
    """Return findings as a page."""
    return render_html("finding_report.html", cover=cover, table=table)


def render_findings(cover: FindingCover, table: Table) -> bytes:
    """Return findings as a PDF that carries its table as a sheet inside."""
    sheet = Attached(
        "findings.csv", table.title, csv_text(table).encode(), cover.made_at
    )
    return render_pdf(
        findings_html(cover, table), style="statement.css", attached=[sheet]
    )
