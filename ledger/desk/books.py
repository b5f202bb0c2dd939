"""Opening the books to read: as they stand, or as they stood when recorded."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from ledger.chain.canonical import parse_json
from ledger.store.shelf import SqlShelf

if TYPE_CHECKING:
    from ledger.books.shelf import Shelf
    from ledger.store.rows import Rows


@dataclass(frozen=True, slots=True)
class OpenBooks:
    """Books that are open for reading.

    Attributes:
        rows: The ledger they were added up from.
        shelf: What counts.
    """

    rows: "Rows"
    shelf: "Shelf"


@contextmanager
def open_books(
    rows: "Rows", *, recorded_by: datetime | None = None
) -> Iterator[OpenBooks]:
    """Open the books of a ledger.

    Args:
        rows: The ledger.
        recorded_by: Moment of recording up to which entries count; all where left out.
    """
    if recorded_by is None:
        yield OpenBooks(rows, SqlShelf(rows))
        return
    from ledger.desk.replay import shelf_as_recorded

    yield OpenBooks(rows, shelf_as_recorded(rows, recorded_by))


def open_period_start(rows: "Rows") -> date | None:
    """Return the day after the last closed period, read without the models."""
    found = rows(
        "SELECT e.raw FROM slot s JOIN entry e ON e.seq = s.seq "
        "WHERE s.kind = 'period.closed' ORDER BY s.slot DESC LIMIT 1"
    )
    if not found:
        return None
    entry = parse_json(bytes(found[0][0]))
    if not isinstance(entry, dict) or not isinstance(entry["body"], dict):
        return None
    return date.fromisoformat(str(entry["body"]["end"])) + timedelta(days=1)
