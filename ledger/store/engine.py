"""The database as a place to write: one writer at a time, every commit durable.

A writer takes the lock before it reads the head of the chain. Otherwise two could read
the same head, and the second would either fail for no fault of its own or, in a
database without the triggers, number its entry twice.
"""

import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import lru_cache, partial
from pathlib import Path
from typing import Protocol

from sqlalchemy import (
    Connection,
    Engine,
    ExceptionContext,
    TextClause,
    create_engine,
    event,
    make_url,
    text,
)
from sqlalchemy.engine import URL
from sqlalchemy.exc import ArgumentError, NoSuchModuleError

from ledger.errors import InputError, LedgerError
from ledger.store.quick import quick_rows, sqlite_rows
from ledger.store.revision import OURS, check_current, not_ours
from ledger.store.rows import NOTHING, Row, Rows, Value
from ledger.store.trouble import translated

_DIALECTS = ("sqlite", "postgresql")

# Before the first migration there is no table to lock, and nothing to number.
_LOCK_ENTRIES = """
DO $$ BEGIN
  IF to_regclass('entry') IS NOT NULL THEN
    LOCK TABLE entry IN EXCLUSIVE MODE;
  END IF;
END $$
"""


class _Cursor(Protocol):
    def execute(self, sql: str, /) -> object: ...
    def fetchall(self) -> list[Row]: ...
    def close(self) -> object: ...


class _DriverConnection(Protocol):
    isolation_level: str | None

    def cursor(self) -> _Cursor: ...


def open_engine(url: str, *, wait_ms: int = 30_000) -> Engine:
    """Return the engine through which a ledger is written.

    A transaction on it holds the ledger for itself from its beginning to its end.

    Args:
        url: Address of the database as SQLAlchemy writes it, such as
            `sqlite:///ledger.db`; a file that does not exist is made.
        wait_ms: How long to wait for another writer, in milliseconds.

    Raises:
        InputError: The address is of no database that a ledger can be kept in.
    """
    address = _parse_url(url)
    if address.get_backend_name() == "sqlite":
        engine = _create(address, connect_args={"timeout": wait_ms / 1000})
        event.listen(engine, "connect", _prepare_sqlite)
        event.listen(engine, "begin", _take_sqlite)
    else:
        engine = _create(
            address,
            connect_args={"options": f"-c lock_timeout={wait_ms}"},
            isolation_level="READ COMMITTED",
        )
        event.listen(engine, "begin", _take_postgresql)
    event.listen(engine, "handle_error", partial(_in_our_words, place_of(engine)))
    return engine


@contextmanager
def reading(url: str) -> Iterator[Rows]:
    """Open any ledger for reading, as it stands at this moment, and close it again.

    Args:
        url: Address of the database as `open_engine` takes it.

    Yields:
        What answers questions; all answers are of the same moment.

    Raises:
        NotFoundError: There is no such SQLite file.
        InputError: The address is of no database that a ledger can be kept in.
        ConflictError: The database is not a ledger, or its layout is not the one that
            this program reads.
    """
    address = _parse_url(url)
    if address.get_backend_name() == "sqlite":
        with quick_rows(Path(address.database or "")) as rows:
            yield rows
        return
    engine = _create(address, isolation_level="REPEATABLE READ")
    place = place_of(engine)
    event.listen(engine, "handle_error", partial(_in_our_words, place))
    try:
        with engine.connect().execution_options(postgresql_readonly=True) as connection:
            rows = rows_of(connection)
            if not rows("SELECT 1 WHERE to_regclass('alembic_version') IS NOT NULL"):
                raise not_ours(place)
            found = rows("SELECT version_num FROM alembic_version")
            check_current([name for (name,) in found], place)
            yield rows
    finally:
        engine.dispose()


def rows_of(connection: Connection) -> Rows:
    """Return what answers and executes SQL within the transaction of a connection."""
    if connection.dialect.name == "sqlite":
        return _sqlite_rows_of(connection)

    def rows(sql: str, parameters: Mapping[str, Value] = NOTHING, /) -> list[Row]:
        result = connection.execute(_text(sql), dict(parameters))
        return [tuple(row) for row in result] if result.returns_rows else []

    return rows


def empty_log(engine: Engine) -> None:
    """Bring what was written into the file of an SQLite ledger, and empty its log.

    What was erased would stay readable in the log otherwise. Where another reader holds
    the ledger open, the log is emptied when that one lets go.
    """
    if engine.dialect.name != "sqlite":
        return
    with engine.connect() as connection:
        driver = connection.connection.driver_connection
        if isinstance(driver, sqlite3.Connection):
            driver.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()


def place_of(engine: Engine) -> str:
    """Return what to call a database in a sentence: its file, or where it is."""
    if engine.dialect.name == "sqlite":
        return engine.url.database or "in memory"
    return engine.url.render_as_string(hide_password=True)


def _sqlite_rows_of(connection: Connection) -> Rows:
    # Straight to the driver: the statements are its own dialect already, and one entry
    # takes a dozen of them, each of which SQLAlchemy would make five times as slow.
    driver = connection.connection.driver_connection
    if not isinstance(driver, sqlite3.Connection):
        raise InputError(f"the driver {driver!r} is not the standard library's")
    execute = sqlite_rows(driver, place_of(connection.engine))

    def rows(sql: str, parameters: Mapping[str, Value] = NOTHING, /) -> list[Row]:
        if not connection.in_transaction():
            connection.begin()
        return execute(sql, parameters)

    return rows


def _parse_url(url: str) -> URL:
    try:
        address = make_url(url)
    except ArgumentError as error:
        raise InputError(
            f"the database address {url!r} cannot be read; write it like "
            "sqlite:///ledger.db"
        ) from error
    if address.get_backend_name() not in _DIALECTS:
        raise InputError(
            f"the database address {url!r} is of a kind in which no ledger can be kept; "
            "use one that begins with sqlite:/// or postgresql+psycopg://"
        )
    if address.get_backend_name() == "sqlite" and not address.database:
        raise InputError(
            f"the database address {url!r} names no file, so all would be lost at the "
            "end; write it like sqlite:///ledger.db"
        )
    return address


def _create(address: URL, **settings: object) -> Engine:
    try:
        return create_engine(address, **settings)
    except (ImportError, NoSuchModuleError) as error:
        raise InputError(
            f"the driver of {address.drivername} is not installed ({error}); install "
            "it, or use sqlite:///ledger.db"
        ) from error


def _prepare_sqlite(driver: _DriverConnection, _record: object) -> None:
    # The driver must not begin and commit on its own.
    driver.isolation_level = None
    cursor = driver.cursor()
    cursor.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
    tables = {name for (name,) in cursor.fetchall()}
    if not tables or tables >= OURS:
        # The mode stays with the file, so one that is not ours is left as it is.
        cursor.execute("PRAGMA journal_mode=WAL")
    cursor.execute("PRAGMA synchronous=FULL")
    cursor.execute("PRAGMA foreign_keys=ON")
    # Without it, INSERT OR REPLACE deletes rows past the triggers.
    cursor.execute("PRAGMA recursive_triggers=ON")
    # What is erased is overwritten.
    cursor.execute("PRAGMA secure_delete=ON")
    cursor.close()


def _take_sqlite(connection: Connection) -> None:
    connection.exec_driver_sql("BEGIN IMMEDIATE")


def _take_postgresql(connection: Connection) -> None:
    connection.exec_driver_sql(_LOCK_ENTRIES)


def _in_our_words(place: str, context: ExceptionContext) -> LedgerError | None:
    return translated(context.original_exception, place)


@lru_cache(maxsize=256)
def _text(sql: str) -> TextClause:
    return text(sql)
