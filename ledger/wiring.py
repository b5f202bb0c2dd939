"""The only reader of settings, clock and randomness; opens ledgers to read and write."""

import base64
import getpass
import os
import re
import secrets
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from ledger.desk.beside import Beside
from ledger.desk.writing import Writing
from ledger.errors import InputError, NotFoundError, RefusedError

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    from ledger.store.rows import Rows

LEDGER_SETTING = "EVENWEIGHT_LEDGER"
USER_SETTING = "EVENWEIGHT_USER"
KEY_SETTING = "EVENWEIGHT_KEY"
PASSPHRASE_SETTING = "EVENWEIGHT_PASSPHRASE"  # noqa: S105 - the name of a setting
DEFAULT_LEDGER = "ledger.db"
_LONGEST_USER = 100


@dataclass(frozen=True, slots=True)
class Place:
    """Where a ledger is kept.

    Attributes:
        url: Address of the database.
        key: File of the private key, where it is not beside the database.
    """

    url: str
    key: Path | None = None

    @property
    def path(self) -> Path | None:
        """The file it is kept in, or None where it is kept by a server."""
        prefix = "sqlite:///"
        return (
            Path(self.url.removeprefix(prefix)) if self.url.startswith(prefix) else None
        )

    @property
    def key_path(self) -> Path:
        """The file that holds the private key.

        Raises:
            NotFoundError: The database is kept by a server, and no file is named.
        """
        if self.key is not None:
            return self.key
        return self._beside(".key")

    @property
    def checkpoints_path(self) -> Path:
        """The file of signed checkpoints: beside the database, else beside the key.

        Raises:
            NotFoundError: The database is kept by a server, and no key is named.
        """
        return self._beside(".checkpoints")

    @property
    def timestamps_path(self) -> Path:
        """The folder of timestamps: beside the file of checkpoints.

        Raises:
            NotFoundError: The database is kept by a server, and no key is named.
        """
        return self._beside(".timestamps")

    @property
    def papers_path(self) -> Path:
        """The folder of attached papers: beside the database, else beside the key.

        Raises:
            NotFoundError: The database is kept by a server, and no key is named.
        """
        return self._beside(".papers")

    def _beside(self, suffix: str) -> Path:
        if self.path is not None:
            return Path(f"{self.path}{suffix}")
        if self.key is not None:
            return self.key.with_suffix(suffix)
        raise NotFoundError(
            f"the ledger at {self} is kept by a server, so its key and its signed "
            f"checkpoints need a place of their own; name the key's file in {KEY_SETTING}"
        )

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
    url = named if "://" in named else f"sqlite:///{named}"
    key = os.environ.get(KEY_SETTING)
    return Place(url, Path(key) if key else None)


def user_named(by: str | None) -> str:
    """Return who records: as given, else as set, else the login name.

    Raises:
        InputError: It is not one line of text, or nobody is named and none is logged in.
    """
    named = by or os.environ.get(USER_SETTING) or _login_name()
    if not named.strip() or not named.isprintable() or len(named) > _LONGEST_USER:
        raise InputError(
            f"who records is {named[:_LONGEST_USER]!r}, which is not one line of 1 to "
            f"{_LONGEST_USER} characters; name yourself with --by or in {USER_SETTING}"
        )
    return named


def _login_name() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError) as error:  # OSError from Python 3.13 on
        raise InputError(
            "who records is not known, since this user has no login name; name yourself "
            f"with --by or in {USER_SETTING}"
        ) from error


def now() -> datetime:
    """Return this moment, in UTC."""
    return datetime.now(UTC)


def new_private_key() -> "Ed25519PrivateKey":
    """Return a fresh private key."""
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    return Ed25519PrivateKey.from_private_bytes(secrets.token_bytes(32))


def is_locked(path: Path) -> bool:
    """Tell whether somebody must type a passphrase before the key in a file signs.

    Raises:
        NotFoundError: There is no such file.
        RefusedError: Others may read it.
        InputError: It cannot be read.
    """
    from ledger.store.key_file import is_encrypted

    return _passphrase_setting() is None and is_encrypted(path)


def private_key(
    path: Path, *, may_ask: bool = True, typed: bytes | None = None
) -> "Ed25519PrivateKey":
    """Return the private key in a file, asking for its passphrase where it has one.

    Args:
        path: The file.
        may_ask: Whether somebody sits at the terminal of this very request.
        typed: The passphrase, where it was typed already.

    Raises:
        NotFoundError: There is no such file.
        RefusedError: Others may read it, or the passphrase is wrong or missing.
        InputError: It holds no such key.
    """
    from ledger.store.key_file import read_key_file

    passphrase = typed or _passphrase_setting()
    if passphrase is None and is_locked(path):
        if not may_ask or not sys.stdin.isatty():
            raise RefusedError(
                f"the key in {path} is encrypted, and nobody is there to type its "
                f"passphrase; set {PASSPHRASE_SETTING}"
            )
        passphrase = getpass.getpass(f"passphrase of {path}: ").encode()
    return read_key_file(path, passphrase=passphrase)


def write_key(path: Path, private: "Ed25519PrivateKey") -> None:
    """Write a private key to a new file, locked with the passphrase where one is set.

    Raises:
        ConflictError: Something is there already.
        InputError: It cannot be written.
    """
    from ledger.store.key_file import write_key_file

    write_key_file(path, private, passphrase=_passphrase_setting())


@contextmanager
def next_key(place: Place) -> Iterator["Ed25519PrivateKey"]:
    """Make the key that follows a ledger's present one, and put it in its place.

    It lies beside the present one until what is done with it has succeeded; the present
    one is then kept under another name, for a ledger that is put back from a copy.

    Raises:
        ConflictError: A new key lies there already, from a rotation that was interrupted.
        InputError: It cannot be written.
    """
    from ledger.store.key_file import put_in_place

    waiting = Path(f"{place.key_path}.new")
    private = new_private_key()
    write_key(waiting, private)
    try:
        yield private
    except BaseException:
        waiting.unlink(missing_ok=True)
        raise
    put_in_place(waiting, place.key_path)


def chosen_passphrase() -> bytes:
    """Ask for a new passphrase, twice, and return it.

    Raises:
        RefusedError: Nobody is there to type it.
        InputError: It is empty, or the two differ.
    """
    if not sys.stdin.isatty():
        raise RefusedError(
            "nobody is there to type the new passphrase; set it in "
            f"{PASSPHRASE_SETTING}, and leave --passphrase out"
        )
    chosen = getpass.getpass("new passphrase: ")
    if not chosen or getpass.getpass("once more: ") != chosen:
        raise InputError("the passphrase is empty, or the two differ; try again")
    return chosen.encode()


def _passphrase_setting() -> bytes | None:
    found = os.environ.get(PASSPHRASE_SETTING)
    return found.encode() if found else None


def new_salt() -> bytes:
    """Return a fresh salt for a sealed value: 128 bits."""
    return secrets.token_bytes(16)


def new_secret() -> str:
    """Return a fresh random token of 256 bits, as text that fits an address."""
    return secrets.token_urlsafe(32)


def new_code_secret() -> str:
    """Return a fresh secret for one-time codes: 160 bits in base 32 (RFC 4226, 4)."""
    return base64.b32encode(secrets.token_bytes(20)).decode()


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

    def __init__(
        self,
        place: Place,
        *,
        by: str,
        create: bool = False,
        passphrase: bytes | None = None,
    ) -> None:
        from ledger.store.engine import open_engine
        from ledger.store.migration import upgrade

        if place.path is not None and not create and not place.path.is_file():
            raise NotFoundError(
                f"there is no ledger at {place}; open one there with `evenweight open`, "
                "or name another with --ledger"
            )
        self._by, self._place = by, place
        self._passphrase = passphrase or _passphrase_setting()
        self._engine = open_engine(place.url)
        self.upgraded = upgrade(self._engine)

    @contextmanager
    def transaction(self, *, by: str | None = None) -> Iterator[Writing]:
        """Hold the ledger for writing: what is raised rolls back, what returns stays.

        Args:
            by: Who records, where it is not who opened the ledger.
        """
        from ledger.store.engine import rows_of

        beside = Beside(
            key_path=lambda: self._place.key_path,
            checkpoints_path=lambda: self._place.checkpoints_path,
            new_private_key=new_private_key,
            passphrase=self._passphrase,
        )
        try:
            with self._engine.begin() as connection:
                yield Writing(
                    rows_of(connection),
                    by=by or self._by,
                    now=now,
                    new_salt=new_salt,
                    key_for=beside.key_for,
                )
                # An entry that names a key must not be there without the key.
                beside.write()
        except BaseException:
            beside.remove()
            raise

    def empty_log(self) -> None:
        """Leave nothing that was erased in the log beside the database."""
        from ledger.store.engine import empty_log

        empty_log(self._engine)

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()


@contextmanager
def writing(
    place: Place, *, by: str, create: bool = False, passphrase: bytes | None = None
) -> Iterator[Ledger]:
    """Open a ledger for writing, upgrading its tables if they are older.

    Raises:
        NotFoundError: There is no ledger there, and none is to be made.
        ConflictError: What is there is not a ledger, or a newer one.
    """
    is_new = place.path is not None and not os.path.lexists(place.path)
    ledger = Ledger(place, by=by, create=create, passphrase=passphrase)
    try:
        yield ledger
    finally:
        ledger.close()
        # Also after a dry run, or files that were refused one by one.
        if is_new and place.path is not None and _is_empty(place):
            for suffix in ("", "-wal", "-shm"):
                Path(f"{place.path}{suffix}").unlink(missing_ok=True)


def _is_empty(place: Place) -> bool:
    from ledger.store.entries import head

    with reading(place) as rows:
        return head(rows)[0] == 0
