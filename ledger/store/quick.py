"""Reading a ledger in SQLite with the standard library alone.

An ordinary question must not wait for a large library to load. What is opened here can
never write.
"""

import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from ledger.errors import InputError, NotFoundError
from ledger.store.revision import check_current, not_ours
from ledger.store.rows import NOTHING, Row, Rows, Value
from ledger.store.trouble import translated

_NO_ROOM = ("SQLITE_CANTOPEN", "SQLITE_READONLY")


@contextmanager
def quick_rows(path: Path, *, wait_ms: int = 30_000) -> Iterator[Rows]:
    """Open a ledger for reading, as it stands at this moment, and close it again.

    Args:
        path: The SQLite file.
        wait_ms: How long to wait for a lock, in milliseconds.

    Yields:
        What answers questions; all answers are of the same moment.

    Raises:
        NotFoundError: There is no such file.
        ConflictError: The file is not a ledger, is locked, or its layout is not the
            one that this program reads.
        SealError: The file is damaged.
    """
    if not path.is_file():
        raise NotFoundError(
            f"there is no ledger at {path}; check the name, or open a new ledger there"
        )
    connection = _open(path, wait_ms)
    try:
        rows = sqlite_rows(connection, str(path))
        rows("PRAGMA query_only=ON")
        rows("BEGIN")
        if not rows("SELECT 1 FROM sqlite_master WHERE name = 'alembic_version'"):
            raise not_ours(str(path))
        found = [name for (name,) in rows("SELECT version_num FROM alembic_version")]
        check_current(found, str(path))
        yield rows
    finally:
        connection.close()


def sqlite_rows(connection: sqlite3.Connection, place: str) -> Rows:
    """Return what answers over a connection of the standard library.

    Args:
        connection: An open connection.
        place: What to call the database in a sentence.
    """

    def rows(sql: str, parameters: Mapping[str, Value] = NOTHING, /) -> list[Row]:
        try:
            return connection.execute(sql, dict(parameters)).fetchall()
        except sqlite3.Error as error:
            meant = translated(error, place)
            if meant is None:
                raise
            raise meant from error
        except OverflowError as error:  # past 64 bits
            raise InputError(
                "a number is larger than any that a ledger holds; check it"
            ) from error

    return rows


def _open(path: Path, wait_ms: int) -> sqlite3.Connection:
    address = path.absolute().as_uri() + "?mode=ro"
    try:
        connection = _connect(address, wait_ms)
    except sqlite3.Error as error:
        raise translated(error, str(path)) or error from error
    try:
        connection.execute("SELECT 1 FROM sqlite_master")
    except sqlite3.Error as error:
        connection.close()
        # A directory that may not be written to has no room for the shared memory of
        # the write-ahead log. With no log beside it, the file is complete as it is.
        log = path.with_name(path.name + "-wal")
        if error.sqlite_errorname.startswith(_NO_ROOM) and not log.exists():
            return _connect(address + "&immutable=1", wait_ms)
        raise translated(error, str(path)) or error from error
    return connection


def _connect(address: str, wait_ms: int) -> sqlite3.Connection:
    return sqlite3.connect(
        address, uri=True, isolation_level=None, timeout=wait_ms / 1000
    )
