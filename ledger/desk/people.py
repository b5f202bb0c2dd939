"""Who may sign in: inviting people, and what they choose for themselves."""

from collections.abc import Callable, Collection
from dataclasses import dataclass
from datetime import datetime, timedelta
from hashlib import sha256
from typing import Final

from ledger.chain.canonical import JsonValue
from ledger.desk.record import record
from ledger.desk.writing import Writing
from ledger.errors import ConflictError, InputError, NotFoundError, RefusedError
from ledger.store import people
from ledger.store.people import Person, Window
from ledger.store.rows import Rows
from ledger.store.tokens import drop_tokens
from ledger.trade.record import is_invisible
from ledger.trade.role import Role

INVITATION_HOLDS: Final = timedelta(days=2)
SHORTEST_PASSWORD: Final = 12
"""NIST SP 800-63B-4, 3.1.1.2, asks for 15 where nothing else is asked, 8 otherwise;
12 with a limit on guesses is our own choice between the two."""
LONGEST_PASSWORD: Final = 200

FIRST: Final = "administrator"
"""What entries call the first administrator."""

NewSecret = Callable[[], str]
"""Gives a fresh random token of at least 128 bits as text that fits an address."""


@dataclass(frozen=True, slots=True)
class Invitation:
    """A one-time link for somebody.

    Attributes:
        person: Whom it is for.
        secret: What the link holds; it is kept nowhere.
        expires_at: When it ends.
    """

    person: str
    secret: str
    expires_at: datetime


def digest_of(secret: str) -> str:
    """Return the digest under which a random token is kept.

    A plain SHA-256 is enough: nobody guesses 256 random bits.
    """
    return sha256(secret.encode()).hexdigest()


def admit(
    writing: Writing,
    name: str,
    *,
    shown: str,
    roles: Collection[Role],
    window: Window | None = None,
    new_secret: NewSecret,
) -> Invitation:
    """Let somebody in: with the link that comes back they choose a password.

    Args:
        writing: The open transaction.
        name: What entries shall call the person, in `recorded_by`; it stays in the
            record for good, so it should not be more of a name than it must.
        shown: Name that the pages show.
        roles: What the person may do; at least one.
        window: What a certifier may see.
        new_secret: Gives the secret of the link.

    Raises:
        InputError: A name, the roles or the window cannot be taken.
        ConflictError: There is somebody of that name.
    """
    _check_names(name, shown)
    _check_roles(roles)
    if people.find_person(writing.rows, name) is not None:
        raise ConflictError(
            f"there is a person {name!r} already; choose another name, or change what "
            "that person may do"
        )
    people.add_person(
        writing.rows, name, shown=shown, roles=roles, window=window or Window()
    )
    _record_grant(writing, name, roles, window or Window())
    return invite(writing, name, new_secret=new_secret)


def invite(writing: Writing, name: str, *, new_secret: NewSecret) -> Invitation:
    """Make a new one-time link for somebody, such as one who forgot the password.

    Raises:
        NotFoundError: There is nobody of that name.
        RefusedError: The person may not enter any more.
    """
    found = expect_person(writing.rows, name)
    if found.ended:
        raise RefusedError(
            f"person {name!r} may not enter any more; let the person in again first"
        )
    secret, expires_at = new_secret(), writing.now() + INVITATION_HOLDS
    people.add_invitation(
        writing.rows, digest_of(secret), person=name, expires_at=expires_at
    )
    return Invitation(name, secret, expires_at)


def accept(writing: Writing, secret: str, *, password: str) -> Person:
    """Choose a password with a one-time link, which ends the link and all visits.

    Raises:
        NotFoundError: There is no such link, or it has ended.
        InputError: The password cannot be taken.
    """
    name = people.invited(writing.rows, digest_of(secret), now=writing.now())
    if name is None:
        raise NotFoundError(
            "this link was used or has ended; ask the administrator for a new one"
        )
    choose_password(writing, name, password)
    people.drop_invitations(writing.rows, name)
    people.set_code(writing.rows, name, secret=None, step=None)
    return expect_person(writing.rows, name)


def typed_twice(chosen: str, again: str) -> str:
    """Return a password that was typed twice.

    Raises:
        InputError: The two differ.
    """
    if chosen != again:
        raise InputError("the two passwords differ; type the same one twice")
    return chosen


def choose_password(writing: Writing, name: str, password: str) -> None:
    """Give a person another password, which ends all visits.

    Raises:
        InputError: The password cannot be taken.
    """
    from argon2 import PasswordHasher

    if not SHORTEST_PASSWORD <= len(password) <= LONGEST_PASSWORD:
        raise InputError(
            f"the password has {len(password)} characters; choose one of "
            f"{SHORTEST_PASSWORD} to {LONGEST_PASSWORD}, such as four words that do not "
            "belong together"
        )
    if name.lower() in password.lower() or len(set(password)) < SHORTEST_PASSWORD // 3:
        raise InputError(
            "the password holds your name or the same few characters over and over; "
            "choose one that nobody would try, such as four words that do not belong "
            "together"
        )
    people.set_password(writing.rows, name, PasswordHasher().hash(password))
    people.end_visits(writing.rows, person=name)


def change(
    writing: Writing,
    name: str,
    *,
    roles: Collection[Role],
    window: Window,
    ended: bool,
) -> None:
    """Change what a person may do and see, or bar the person; it holds at once.

    What changes is recorded, unless nothing does.

    Raises:
        NotFoundError: There is nobody of that name.
        InputError: The roles or the window cannot be taken.
        RefusedError: Nobody would be left who can let people in.
    """
    before = expect_person(writing.rows, name)
    _check_roles(roles)
    if Role.ADMINISTRATOR in before.roles and (
        ended or Role.ADMINISTRATOR not in roles
    ):
        others = (
            one
            for one in people.list_people(writing.rows)
            if one.name != name
            and not one.ended
            and one.password is not None
            and Role.ADMINISTRATOR in one.roles
        )
        if next(others, None) is None:
            raise RefusedError(
                f"person {name!r} is the last administrator; let another one in first"
            )
    people.change_person(writing.rows, name, roles=roles, window=window, ended=ended)
    if ended and not before.ended:
        record(writing, "access.ended", writing.now().date(), {"person": name})
    elif not ended and _access(before) != (frozenset(roles), window, False):
        _record_grant(writing, name, roles, window)
    if ended:
        people.end_visits(writing.rows, person=name)
        people.drop_invitations(writing.rows, name)
        drop_tokens(writing.rows, name)


def _access(person: Person) -> tuple[frozenset[Role], Window, bool]:
    return person.roles, person.window, person.ended


def _record_grant(
    writing: Writing, name: str, roles: Collection[Role], window: Window
) -> None:
    """Record what a person may do: an entry in the name of who lets them.

    Raises:
        InputError: The roles do not go together, or the window is not a certifier's.
    """
    limits = {"scheme": window.scheme, "since": window.since, "until": window.until}
    body: dict[str, JsonValue] = {"person": name, "roles": [*sorted(roles)]}
    body |= {field: str(limit) for field, limit in limits.items() if limit is not None}
    record(writing, "access.granted", writing.now().date(), body)


def expect_person(rows: Rows, name: str) -> Person:
    """Return the person of a name.

    Raises:
        NotFoundError: There is nobody of that name.
    """
    found = people.find_person(rows, name)
    if found is None:
        raise NotFoundError(f"there is no person {name!r}; check the list of people")
    return found


def has_administrator(rows: Rows) -> bool:
    """Tell whether somebody can sign in who may let others in."""
    return any(
        Role.ADMINISTRATOR in one.roles and one.password is not None and not one.ended
        for one in people.list_people(rows)
    )


def first_administrator(
    writing: Writing, *, new_secret: NewSecret
) -> tuple[Invitation, ...]:
    """Return a link for whoever sets the pages up, while nobody else can let people in."""
    if has_administrator(writing.rows):
        return ()
    if people.find_person(writing.rows, FIRST) is not None:
        return (invite(writing, FIRST, new_secret=new_secret),)
    return (
        admit(
            writing,
            FIRST,
            shown="Administrator",
            roles={Role.ADMINISTRATOR},
            new_secret=new_secret,
        ),
    )


def _check_names(name: str, shown: str) -> None:
    from pydantic import TypeAdapter, ValidationError

    from ledger.trade.record import Name

    try:
        TypeAdapter(Name).validate_python(name)
    except ValidationError as error:
        raise InputError(
            f"name {name!r} is not an identifier; use 1 to 64 of the characters A-Z a-z "
            "0-9 . _ / - and start with a letter or digit"
        ) from error
    if (
        not shown.strip()
        or len(shown) > LONGEST_PASSWORD
        or any(map(is_invisible, shown))
    ):
        raise InputError(
            f"the name to show is {shown!r}; write one line of at most "
            f"{LONGEST_PASSWORD} characters"
        )


def _check_roles(roles: Collection[Role]) -> None:
    if not roles:
        raise InputError(
            f"no role is given; choose at least one of {', '.join(sorted(Role))}"
        )
