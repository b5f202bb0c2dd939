"""The only reader of settings, clock and randomness; opens ledgers to read and write."""

import getpass
import os
import re
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from ledger.desk.writing import Writing
from ledger.errors import NotFoundError

if TYPE_CHECKING:
    from ledger.store.rows import Rows

LEDGER_SETTING = "EVENWEIGHT_LEDGER"
USER_SETTING = "EVENWEIGHT_USER"
DEFAULT_LEDGER = "ledger.db"


@dataclass(frozen=True, slots=True)
class Place:
    """Where a ledger is kept.

    Attributes:
        url: Address of the database.
    """

    url: str

    @property
    def path(self) -> Path | None:
        """The file it is kept in, or None where it is kept by a server."""
        prefix = "sqlite:///"
        return Path(self.url.removeprefix(prefix)) if self.url.startswith(prefix) else None

    def __str__(self) -> str:
        if self.path is not None:
            return str(self.path)
        return re.sub(r":[^:@/]+@", ":***@", self.url)


def place_of(ledger: str | None) -> Place:
    """Return where the ledger is: as given, else as set, else in this folder.

    Args:
        ledger: A file name, or the address of a database.
    """
    named = ledger or os.environ.get(LEDGER_SETTING) or DEFAULT_LEDGER
    return Place(named if "://" in named else f"sqlite:///{named}")


def user_named(by: str | None) -> str:
    """Return who records: as given, else as set, else the login name."""
    return by or os.environ.get(USER_SETTING) or getpass.getuser()


def now() -> datetime:
    """Return this moment, in UTC."""
    return datetime.now(UTC)


def new_salt() -> bytes:
    """Return a fresh salt for a sealed value: 128 bits."""
    return secrets.token_bytes(16)


@contextmanager
def reading(place: Place) -> Iterator["Rows"]:
    """Open a ledger for reading, as it stands at this moment.

    Raises:
        NotFoundError: There is no ledger there.
        ConflictError: What is there is not a ledger of this version.
    """
    if place.path is not None:
        from ledger.store.quick import quick_rows

        with quick_rows(place.path) as rows:
            yield rows
        return
    from ledger.store.engine import reading as reading_server

    with reading_server(place.url) as rows:
        yield rows


class Ledger:
    """A ledger that is open for writing; every transaction is all or nothing.

    Attributes:
        upgraded: Names of the migrations that opening it applied.
    """

    def __init__(self, place: Place, *, by: str, create: bool = False) -> None:
        from ledger.store.engine import open_engine
        from ledger.store.migration import upgrade

        if place.path is not None and not create and not place.path.is_file():
            raise NotFoundError(
                f"there is no ledger at {place}; open one there with `evenweight open`, "
                "or name another with --ledger"
            )
        self._by = by
        self._engine = open_engine(place.url)
        self.upgraded = upgrade(self._engine)

    @contextmanager
    def transaction(self) -> Iterator[Writing]:
        """Hold the ledger for writing: what is raised rolls back, what returns stays."""
        from ledger.store.engine import rows_of

        with self._engine.begin() as connection:
            yield Writing(rows_of(connection), by=self._by, now=now, new_salt=new_salt)

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()


@contextmanager
def writing(place: Place, *, by: str, create: bool = False) -> Iterator[Ledger]:
    """Open a ledger for writing, upgrading its tables if they are older.

    Raises:
        NotFoundError: There is no ledger there, and none is to be made.
        ConflictError: What is there is not a ledger, or a newer one.
    """
    is_new = place.path is not None and not place.path.exists()
    ledger = Ledger(place, by=by, create=create)
    try:
        yield ledger
    except BaseException:
        ledger.close()
        if is_new and place.path is not None and _is_empty(place):
            place.path.unlink()
        raise
    ledger.close()


def _is_empty(place: Place) -> bool:
    from ledger.store.entries import head

    with reading(place) as rows:
        return head(rows)[0] == 0
