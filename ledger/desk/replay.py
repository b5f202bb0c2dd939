"""Replaying entries: the books as they stood when something was recorded, or afresh."""

from collections.abc import Iterator
from datetime import datetime

from ledger.books.effect import Recorded
from ledger.books.judge import judge
from ledger.books.memory import MemoryShelf
from ledger.books.opening import open_entry
from ledger.chain.entry import parse_entry
from ledger.store.entries import head, stream_disclosures, stream_raws
from ledger.store.rows import Rows


def recorded_entries(rows: Rows) -> Iterator[Recorded]:
    """Yield every entry of a ledger, opened, in the order recorded.

    Raises:
        InputError: An entry cannot be read.
        SealError: A disclosure does not belong to its entry.
    """
    disclosures = stream_disclosures(rows, 0, head(rows)[0])
    following = next(disclosures, None)
    for raw in stream_raws(rows):
        entry = parse_entry(raw)
        own = []
        while following is not None and following[0] == entry.seq:
            own.append(following[1])
            following = next(disclosures, None)
        yield open_entry(entry, own)


def shelf_as_recorded(rows: Rows, until: datetime) -> MemoryShelf:
    """Return the books as they stood at a moment of recording.

    Args:
        rows: The ledger.
        until: The moment, in UTC; what was recorded later is left out.
    """
    shelf = MemoryShelf()
    for recorded in recorded_entries(rows):
        if recorded.recorded_at > until:
            break
        judge(shelf, recorded)
    return shelf
