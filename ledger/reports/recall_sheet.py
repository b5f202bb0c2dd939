"""A recall on paper: to stick on a pallet, to call from, to hand to an authority."""

from dataclasses import dataclass
from datetime import datetime

from ledger.books.recall import Recall
from ledger.reports.page import render_html, render_pdf
from ledger.reports.recall_table import LAW, recall_tables, reconciled_percent


@dataclass(frozen=True, slots=True)
class RecallCover:
    """What the list of a recall says about itself.

    Attributes:
        maker: The maker's name.
        made_at: The moment it was asked, in UTC.
        made_by: Who asked.
    """

    maker: str
    made_at: datetime
    made_by: str


def recall_html(cover: RecallCover, recall: Recall) -> str:
    """Return a recall as the page that is printed."""
    return render_html(
        "recall_sheet.html",
        cover=cover,
        recall=recall,
        law=LAW,
        percent=reconciled_percent(recall),
        tables=list(recall_tables(recall, made_at=cover.made_at)),
    )


def render_recall(cover: RecallCover, recall: Recall) -> bytes:
    """Return a recall as tagged PDF/A-3a, the same bytes every time."""
    return render_pdf(recall_html(cover, recall), style="statement.css")
