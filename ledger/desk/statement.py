"""Making the statement of a contract or a cooperative."""

from datetime import date, datetime

from ledger.books.lookup import opening
from ledger.books.shelf import Shelf
from ledger.books.statement import Statement
from ledger.reports.statement import StatementCover, render_statement
from ledger.reports.tongue import Tongue


def statement_pdf(
    shelf: Shelf,
    found: tuple[Statement, ...],
    tongue: Tongue,
    *,
    as_of: date,
    made_at: datetime,
    made_by: str,
) -> bytes:
    """Return statements to one seller as PDF.

    Args:
        shelf: What is recorded.
        found: The statements, one a contract.
        tongue: How to write them.
        as_of: Last trade date that counts.
        made_at: The moment, in UTC.
        made_by: Who makes it.

    Raises:
        EntryRefusedError: The ledger is not opened yet.
    """
    cover = StatementCover(
        maker=opening(shelf).organisation_name,
        seller=found[0].seller,
        as_of=as_of,
        made_at=made_at,
        made_by=made_by,
    )
    return render_statement(cover, found, tongue)
