"""A ledger's tables in a file that is thrown away: room for more than fits in memory.

It holds what somebody else recorded while that is checked, so nothing in it needs to
last: no write waits for the disk, and no trigger keeps the order of entries.
"""

import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy.dialects import sqlite
from sqlalchemy.schema import CreateIndex, CreateTable

from ledger.books.effect import Effects, Recorded
from ledger.chain.entry import Entry, leaf_digest
from ledger.chain.seal import disclosure_digest
from ledger.store.quick import sqlite_rows
from ledger.store.rows import Rows
from ledger.store.schema import metadata
from ledger.store.shelf import SqlShelf

_CACHE_KIB = 16 * 1024
_AT_A_TIME = 200
"""Entries between two commits; what a commit could still undo is kept in memory."""


@contextmanager
def scratch_rows() -> Iterator[Rows]:
    """Make empty tables in a file of their own, and remove it in the end.

    Yields:
        What answers and executes SQL; transactions are the caller's.
    """
    with (
        tempfile.TemporaryDirectory(prefix="evenweight-") as folder,
        scratch_rows_at(Path(folder) / "scratch.db") as rows,
    ):
        yield rows


@contextmanager
def scratch_rows_at(path: Path) -> Iterator[Rows]:
    """Make empty tables in a new file, which stays.

    Args:
        path: The file; what is committed can be read again with `laid_out_rows`.

    Yields:
        What answers and executes SQL; transactions are the caller's.
    """
    connection = sqlite3.connect(path, isolation_level=None)
    try:
        rows = sqlite_rows(connection, "the scratch file")
        for setting in (
            "journal_mode=MEMORY",
            "synchronous=OFF",
            "locking_mode=EXCLUSIVE",
            f"cache_size=-{_CACHE_KIB}",
        ):
            rows(f"PRAGMA {setting}")
        for statement in _tables():
            rows(statement)
        yield rows
    finally:
        connection.close()


@contextmanager
def laid_out_rows(path: Path) -> Iterator[Rows]:
    """Open a file that `scratch_rows_at` left, for reading alone."""
    address = path.absolute().as_uri() + "?mode=ro"
    connection = sqlite3.connect(address, uri=True, isolation_level=None)
    try:
        yield sqlite_rows(connection, "the scratch file")
    finally:
        connection.close()


class ScratchShelf(SqlShelf):
    """A shelf of tables that can go back to where it stood before an entry."""

    def __init__(self, rows: Rows) -> None:
        """Take what answers and executes SQL, from `scratch_rows`."""
        super().__init__(rows)
        self._is_open = False
        self._stays = 0
        rows("BEGIN")

    def take_in(self, entry: Entry, raw: bytes, disclosures: tuple[str, ...]) -> None:
        """Take in an entry that is about to be judged, with what opens it."""
        self._begin()
        self._rows(
            "INSERT INTO entry (seq, leaf, raw) VALUES (:seq, :leaf, :raw)",
            {"seq": entry.seq, "leaf": leaf_digest(raw), "raw": raw},
        )
        for text in disclosures:
            self._rows(
                "INSERT INTO disclosure (digest, seq, text) VALUES (:digest, :seq, :text)",
                {"digest": disclosure_digest(text), "seq": entry.seq, "text": text},
            )

    def put(self, recorded: Recorded, effects: Effects) -> None:
        """Let a record count in its slot, which must be free."""
        self._begin()
        super().put(recorded, effects)

    def take(self, slot: int) -> tuple[Recorded, Effects]:
        """Remove what counts in a slot and return it."""
        self._begin()
        return super().take(slot)

    def stay(self) -> None:
        """Let what was done since it last stood stand."""
        if not self._is_open:
            return
        self._rows("RELEASE one_entry")
        self._is_open = False
        self._stays += 1
        if self._stays % _AT_A_TIME == 0:
            self._rows("COMMIT")
            self._rows("BEGIN")

    def go_back(self) -> None:
        """Undo what was done since it last stood."""
        if self._is_open:
            self._rows("ROLLBACK TO one_entry")
            self._rows("RELEASE one_entry")
            self._is_open = False
        self.forget()

    def _begin(self) -> None:
        if not self._is_open:
            self._rows("SAVEPOINT one_entry")
            self._is_open = True


def _tables() -> Iterator[str]:
    dialect = sqlite.dialect()
    for table in metadata.sorted_tables:
        if table.name == "disclosure":
            # A pack may give one text for two entries, which no ledger would.
            yield "CREATE TABLE disclosure (digest TEXT, seq INTEGER, text TEXT)"
            yield "CREATE INDEX disclosure_of ON disclosure (seq)"
            continue
        yield str(CreateTable(table).compile(dialect=dialect))
        for index in sorted(table.indexes, key=lambda index: str(index.name)):
            yield str(CreateIndex(index).compile(dialect=dialect))
