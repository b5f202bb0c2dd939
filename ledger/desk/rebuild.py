"""Rebuilding: the derived tables are dropped, the entries replayed, the rows compared."""

import json
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from typing import IO

from ledger.books.judge import judge
from ledger.desk.replay import recorded_entries
from ledger.desk.writing import Writing
from ledger.errors import LedgerError, SealError
from ledger.store.derived import derived_rows, drop_derived
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
    row: tuple[object, ...]
    was_there: bool


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """What came of a rebuild.

    Attributes:
        entries: Number of entries replayed.
        rows: Number of derived rows afterwards.
        differences: The first rows that differ.
        differing: How many rows differ in all.
    """

    entries: int
    rows: int
    differences: tuple[Difference, ...]
    differing: int


def rebuild(writing: Writing) -> Rebuilt:
    """Drop what follows from the entries, add it up again, and compare.

    Raises:
        SealError: An entry cannot be replayed; nothing is changed then.
    """
    with tempfile.TemporaryFile("w+", encoding="utf-8") as before:
        for line in _lines(writing.rows):
            before.write(line + "\n")
        drop_derived(writing.rows)
        entries = _replay(writing.rows)
        rebuild_frontier(writing.rows)
        before.seek(0)
        found = list(_differences(before, writing.rows))
    rows = sum(1 for _ in derived_rows(writing.rows))
    return Rebuilt(entries, rows, tuple(islice(found, SHOWN_DIFFERENCES)), len(found))


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


def _lines(rows: Rows) -> Iterator[str]:
    for table, row in derived_rows(rows):
        yield json.dumps([table, *_plain(row)])


def _plain(row: Row) -> list[object]:
    return [cell.hex() if isinstance(cell, bytes) else cell for cell in row]


def _differences(before: IO[str], rows: Rows) -> Iterator[Difference]:
    """Yield what differs between rows kept in a file and rows of the tables."""
    old = {line.rstrip("\n") for line in before}
    for line in _lines(rows):
        if line in old:
            old.remove(line)
        else:
            yield _difference(line, was_there=False)
    for line in sorted(old):
        yield _difference(line, was_there=True)


def _difference(line: str, *, was_there: bool) -> Difference:
    table, *row = json.loads(line)
    return Difference(table, tuple(row), was_there)
