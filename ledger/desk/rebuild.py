"""Rebuilding: the derived tables are dropped, the entries replayed, the rows compared."""

from dataclasses import dataclass
from itertools import islice

from ledger.books.judge import judge
from ledger.desk.replay import recorded_entries
from ledger.desk.writing import Writing
from ledger.errors import LedgerError, SealError
from ledger.store.derived import changes_since_set_aside, drop_derived, set_aside
from ledger.store.entries import head, rebuild_frontier
from ledger.store.rows import Row, Rows
from ledger.store.shelf import SqlShelf

SHOWN_DIFFERENCES = 20


@dataclass(frozen=True, slots=True)
class Difference:
    """A row that stood before and not after, or the other way round.

    Attributes:
        table: Derived table.
        row: The row, key columns first.
        was_there: True where it stood before the rebuild and is gone.
    """

    table: str
    row: Row
    was_there: bool


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """What came of a rebuild.

    Attributes:
        entries: Number of entries replayed.
        differences: The first rows that differ.
        differing: How many rows differ in all.
    """

    entries: int
    differences: tuple[Difference, ...]
    differing: int


def rebuild(writing: Writing) -> Rebuilt:
    """Drop what follows from the entries, add it up again, and compare.

    Raises:
        SealError: An entry cannot be replayed; nothing is changed then.
    """
    set_aside(writing.rows)
    drop_derived(writing.rows)
    entries = _replay(writing.rows)
    rebuild_frontier(writing.rows)
    changes = changes_since_set_aside(writing.rows)
    shown = tuple(
        Difference(table, row, was_there)
        for table, row, was_there in islice(changes, SHOWN_DIFFERENCES)
    )
    return Rebuilt(entries, shown, len(shown) + sum(1 for _ in changes))


def _replay(rows: Rows) -> int:
    shelf = SqlShelf(rows)
    for recorded in recorded_entries(rows):
        try:
            judge(shelf, recorded)
        except LedgerError as error:
            raise SealError(
                f"entry {recorded.seq} ({recorded.kind} of {recorded.occurred_on}) is "
                f"stored but the books refuse it: {error}; find out how it got there"
            ) from error
    return head(rows)[0]
