"""The table of attached papers."""

from collections.abc import Collection, Iterable

from ledger.books.effect import Recorded
from ledger.reports.tables import Column, Table
from ledger.trade.control import DocumentAttached


def papers_table(
    found: Iterable[tuple[Recorded, DocumentAttached]], kept: Collection[str]
) -> Table:
    """Return the papers that entries record, one a row.

    Args:
        found: Entry and record of each.
        kept: Digests of those whose file is kept beside the ledger.
    """
    return Table(
        title="Papers",
        columns=(
            Column("document", "Document", width=20),
            Column("title", "What it is", width=18),
            Column("about", "Belongs to", width=20),
            Column("attached_on", "Attached on", width=11),
            Column("media_type", "Sort of file", width=14, is_detail=True),
            Column("size_bytes", "Size", is_figure=True, unit="bytes", width=10),
            Column("entry", "Entry", is_figure=True, width=7),
            Column("file", "File", width=8),
            Column("sha256", "SHA-256", width=30, is_detail=True),
        ),
        rows=[
            (
                paper.document,
                paper.title,
                ", ".join(f"{about.subject} {about.name}" for about in paper.about),
                recorded.occurred_on.isoformat(),
                paper.media_type,
                str(paper.size),
                str(recorded.seq),
                "kept" if paper.sha256 in kept else "missing",
                paper.sha256,
            )
            for recorded, paper in found
        ],
    )
