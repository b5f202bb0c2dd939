"""Tokens with which programs ask in a person's name, kept as digests."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from ledger.store.people import moment_text
from ledger.store.rows import Row, Rows
from ledger.trade.scope import Scope

_COLUMNS: Final = "digest, label, person, scopes, made_at, expires_at"


@dataclass(frozen=True, slots=True)
class Token:
    """What is known of a token; the token itself is kept nowhere.

    Attributes:
        digest: SHA-256 of the token, in hexadecimal.
        label: What it is for.
        person: In whose name it asks.
        scopes: What it allows.
        made_at: When it was made, in UTC.
        expires_at: When it ends, in UTC.
    """

    digest: str
    label: str
    person: str
    scopes: frozenset[Scope]
    made_at: datetime
    expires_at: datetime


def add_token(write: Rows, token: Token) -> None:
    """Write a token."""
    write(
        f"INSERT INTO token ({_COLUMNS}) "  # noqa: S608 - ours
        "VALUES (:digest, :label, :person, :scopes, :made_at, :expires_at)",
        {
            "digest": token.digest,
            "label": token.label,
            "person": token.person,
            "scopes": _joined(token.scopes),
            "made_at": moment_text(token.made_at),
            "expires_at": moment_text(token.expires_at),
        },
    )


def find_token(rows: Rows, digest: str) -> Token | None:
    """Return the token of a digest, whether it still holds or not."""
    found = rows(
        f"SELECT {_COLUMNS} FROM token WHERE digest = :digest",  # noqa: S608 - ours
        {"digest": digest},
    )
    return _token(found[0]) if found else None


def list_tokens(rows: Rows, person: str) -> Iterator[Token]:
    """Yield the tokens of a person, the newest first."""
    for row in rows(
        f"SELECT {_COLUMNS} FROM token WHERE person = :person "  # noqa: S608 - ours
        "ORDER BY made_at DESC, digest",
        {"person": person},
    ):
        yield _token(row)


def drop_token(write: Rows, digest: str) -> None:
    """Remove a token."""
    write("DELETE FROM token WHERE digest = :digest", {"digest": digest})


def drop_tokens(write: Rows, person: str, *, ended_by: datetime | None = None) -> None:
    """Remove the tokens of a person; only those that ended by a moment, if one is given."""
    for token in tuple(list_tokens(write, person)):
        if ended_by is None or token.expires_at <= ended_by:
            drop_token(write, token.digest)


def _token(row: Row) -> Token:
    digest, label, person, scopes, made_at, expires_at = row
    return Token(
        digest=digest,
        label=label,
        person=person,
        scopes=frozenset(map(Scope, scopes.split())),
        made_at=datetime.fromisoformat(made_at),
        expires_at=datetime.fromisoformat(expires_at),
    )


def _joined(scopes: Iterable[Scope]) -> str:
    return " ".join(sorted(scopes))
