"""Tokens: a person lets a program ask in their name, for a time and for some things."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from ledger.desk.people import NewSecret, digest_of
from ledger.desk.writing import Writing
from ledger.errors import InputError, NotFoundError, RefusedError
from ledger.store import tokens
from ledger.store.people import Person, find_person
from ledger.store.rows import Rows
from ledger.store.tokens import Token
from ledger.trade.record import is_invisible
from ledger.trade.scope import Scope

PREFIX: Final = "evenweight_"
"""Begins every token, so that one that got into a file by mistake can be searched for."""
LONGEST_DAYS: Final = 366
MOST_TOKENS: Final = 20
_LONGEST_LABEL: Final = 100


@dataclass(frozen=True, slots=True)
class Holder:
    """Who asks with a token.

    Attributes:
        person: In whose name, with the roles that the person has now.
        token: What the token allows.
    """

    person: Person
    token: Token


def make_token(
    writing: Writing,
    person: str,
    *,
    label: str,
    scopes: Collection[Scope],
    days: int,
    new_secret: NewSecret,
) -> tuple[str, Token]:
    """Make a token, and return it with what is kept of it.

    Nobody can show it again: only its digest is kept. Tokens of the person that have
    ended are removed.

    Args:
        writing: The open transaction.
        person: In whose name it asks.
        label: What it is for.
        scopes: What it allows; at least one.
        days: For how many days from now, 1 to `LONGEST_DAYS`.
        new_secret: Gives 256 random bits as text.

    Raises:
        InputError: The label, the scopes or the days cannot be taken.
        RefusedError: The person has `MOST_TOKENS` tokens already.
    """
    _check_label(label)
    if not scopes:
        raise InputError(
            f"the token would allow nothing; choose at least one of {', '.join(Scope)}"
        )
    if not 1 <= days <= LONGEST_DAYS:
        raise InputError(
            f"the token would hold for {days} days; choose 1 to {LONGEST_DAYS}, and make "
            "another one when it ends"
        )
    now = writing.now()
    tokens.drop_tokens(writing.rows, person, ended_by=now)
    if sum(1 for _ in tokens.list_tokens(writing.rows, person)) >= MOST_TOKENS:
        raise RefusedError(
            f"you have {MOST_TOKENS} tokens that hold; end one that no program needs "
            "any more, then make another"
        )
    secret = PREFIX + new_secret()
    made = Token(
        digest=digest_of(secret),
        label=label,
        person=person,
        scopes=frozenset(scopes),
        made_at=now,
        expires_at=now + timedelta(days=days),
    )
    tokens.add_token(writing.rows, made)
    return secret, made


def holder_of(rows: Rows, secret: str, *, now: datetime) -> Holder | None:
    """Return who asks with a token; None where it does not hold.

    Args:
        rows: The ledger.
        secret: The token.
        now: This moment.
    """
    if not secret.startswith(PREFIX):
        return None
    token = tokens.find_token(rows, digest_of(secret))
    if token is None or token.expires_at <= now:
        return None
    person = find_person(rows, token.person)
    if person is None or person.ended:
        return None
    return Holder(person, token)


def end_token(writing: Writing, person: str, digest: str) -> None:
    """End a token of a person; it holds at once.

    Raises:
        NotFoundError: The person has no such token.
    """
    found = tokens.find_token(writing.rows, digest)
    if found is None or found.person != person:
        raise NotFoundError(
            "you have no such token; it was ended before, or is somebody else's"
        )
    tokens.drop_token(writing.rows, digest)


def _check_label(label: str) -> None:
    if not 1 <= len(label) <= _LONGEST_LABEL or any(map(is_invisible, label)):
        raise InputError(
            f"the label is {label!r}; say on one line of at most {_LONGEST_LABEL} "
            "characters what the token is for, such as: weighbridge in the yard"
        )
