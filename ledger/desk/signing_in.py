"""Signing in: a name, a password, perhaps a one-time code; and who a visit is of.

A failure is counted and answered alike whether the name is known or not, after the same
work, so that nobody learns names by trying. Who fails often must wait longer each time.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from threading import BoundedSemaphore
from typing import Final

from ledger.desk.people import NewSecret, digest_of
from ledger.desk.writing import Writing
from ledger.store import people
from ledger.store.people import Person
from ledger.store.rows import Rows

LONGEST_REST: Final = timedelta(hours=8)
"""A visit ends when nothing was asked for so long."""
LONGEST_VISIT: Final = timedelta(hours=16)
"""A visit ends after so long in any case."""
TOUCH_EVERY: Final = timedelta(minutes=5)
FREE_FAILURES: Final = 5
"""So many failures in a row cost no waiting."""
_FIRST_WAIT: Final = timedelta(seconds=30)
_LONGEST_WAIT: Final = timedelta(minutes=15)
_FORGOTTEN_AFTER: Final = timedelta(days=1)
_LONGEST_SUBJECT: Final = 200
_FEW_AT_ONCE: Final = BoundedSemaphore(4)
"""Each comparison takes 64 MiB, so that a crowd of guesses must not take all there is."""

# Of a password that nobody has: checking it takes as long as checking a real one.
_NOBODY: Final = (
    "$argon2id$v=19$m=65536,t=3,p=4$IeQjzbWEs6iK3VJAZJKLxQ$"
    "dQEbC/VTKWQg2HoTcf1SSm/tZqGvWZSMoWGwdzNEqNg"
)


@dataclass(frozen=True, slots=True)
class Admission:
    """What came of signing in.

    Attributes:
        secret: Token of the visit, for the cookie; None where it failed.
        sentence: Why it failed; empty where it did not.
    """

    secret: str | None
    sentence: str = ""


@dataclass(frozen=True, slots=True)
class Tried:
    """A name and a password as somebody typed them, and whether they belong together.

    Attributes:
        name: The name.
        subjects: What failures are counted for: the name, and where it came from.
        holds: Whether the password is that of the name; not looked at where it is too
            early to try.
    """

    name: str
    subjects: tuple[str, ...]
    holds: bool


def try_password(
    rows: Rows, name: str, password: str, *, address: str, now: datetime
) -> Tried:
    """Compare a password, which takes long, before anything is held for writing.

    Args:
        rows: The ledger.
        name: Who it is.
        password: The password as typed.
        address: Where the request comes from.
        now: This moment.
    """
    subjects = tuple(one[:_LONGEST_SUBJECT] for one in _subjects(name, address))
    if _wait(rows, subjects, now) > timedelta():
        return Tried(name, subjects, holds=False)
    found = people.find_person(rows, name)
    return Tried(name, subjects, password_holds(found, password))


def sign_in(
    writing: Writing, tried: Tried, *, code: str = "", new_secret: NewSecret
) -> Admission:
    """Begin a visit, or count a failure; the caller's transaction keeps either.

    Args:
        writing: The open transaction.
        tried: Name and password, compared.
        code: The one-time code (RFC 6238), where the person uses them.
        new_secret: Gives the token of the visit.
    """
    too_early = _too_early(writing, tried.subjects)
    if too_early:
        return Admission(None, too_early)
    found = people.find_person(writing.rows, tried.name)
    if not tried.holds or found is None or not _code_holds(writing, found, code):
        _count_failure(writing, tried.subjects)
        return Admission(
            None,
            "name, password or one-time code do not match; check them and try again",
        )
    people.forget_failures(writing.rows, tried.subjects[0])
    sweep(writing)
    return Admission(begin_visit(writing, tried.name, new_secret=new_secret))


def confirm(writing: Writing, person: Person, password: str) -> str:
    """Make sure that it is the person, not somebody at an open screen.

    Args:
        writing: The open transaction; it keeps a failure that is counted.
        person: Who has signed in.
        password: The present password as typed.

    Returns:
        Why it is not taken; empty if it is.
    """
    subjects = _subjects(person.name)
    too_early = _too_early(writing, subjects)
    if too_early:
        return too_early
    if not password_holds(person, password):
        _count_failure(writing, subjects)
        return "the present password does not match; type it again"
    people.forget_failures(writing.rows, subjects[0])
    return ""


def sweep(writing: Writing) -> None:
    """Remove visits, links and failures that are over: they are of no use to anybody."""
    now = writing.now()
    people.sweep(
        writing.rows,
        now=now,
        begun_before=now - LONGEST_VISIT,
        seen_before=now - LONGEST_REST,
        failed_before=now - _FORGOTTEN_AFTER,
    )


def begin_visit(writing: Writing, name: str, *, new_secret: NewSecret) -> str:
    """Begin a visit of somebody who has proved who they are; return its token."""
    secret = new_secret()
    people.begin_visit(writing.rows, digest_of(secret), person=name, now=writing.now())
    return secret


def visitor(rows: Rows, secret: str, *, now: datetime) -> tuple[Person, bool] | None:
    """Return who a visit is of, and whether it should be touched.

    Args:
        rows: The ledger.
        secret: Token of the visit.
        now: This moment.
    """
    found = people.find_visit(rows, digest_of(secret))
    if found is None:
        return None
    name, begun_at, seen_at = found
    if now - begun_at > LONGEST_VISIT or now - seen_at > LONGEST_REST:
        return None
    person = people.find_person(rows, name)
    if person is None or person.ended:
        return None
    return person, now - seen_at > TOUCH_EVERY


def _subjects(name: str, address: str | None = None) -> tuple[str, ...]:
    subjects = (f"name {name}",)
    return subjects if address is None else (*subjects, f"address {address}")


def _count_failure(writing: Writing, subjects: Iterable[str]) -> None:
    for subject in subjects:
        people.add_failure(writing.rows, subject, now=writing.now())


def _too_early(writing: Writing, subjects: Iterable[str]) -> str:
    """Return that somebody must wait, in a sentence; nothing where they need not."""
    wait = _wait(writing.rows, subjects, writing.now())
    if wait <= timedelta():
        return ""
    return (
        f"too many attempts failed; wait {round(wait.total_seconds())} seconds and try "
        "again"
    )


def _wait(rows: Rows, subjects: Iterable[str], now: datetime) -> timedelta:
    return max(_wait_of(rows, subject, now) for subject in subjects)


def _wait_of(rows: Rows, subject: str, now: datetime) -> timedelta:
    found = people.failures_of(rows, subject)
    if found is None or found[0] < FREE_FAILURES:
        return timedelta()
    failures, last_at = found
    doubled: int = 1 << min(failures - FREE_FAILURES, 10)
    return last_at + min(_FIRST_WAIT * doubled, _LONGEST_WAIT) - now


def password_holds(found: Person | None, password: str) -> bool:
    """Tell whether a password is somebody's; it takes as long where there is nobody."""
    from argon2 import PasswordHasher
    from argon2.exceptions import InvalidHashError, VerificationError

    digest = found.password if found and not found.ended else None
    try:
        with _FEW_AT_ONCE:
            PasswordHasher().verify(digest or _NOBODY, password)
    except (VerificationError, InvalidHashError):
        return False
    return digest is not None


def _code_holds(writing: Writing, found: Person, code: str) -> bool:
    """Tell whether a one-time code holds; each is taken once, a step early or late."""
    if found.code_secret is None:
        return True
    from pyotp import TOTP

    codes, now = TOTP(found.code_secret), writing.now()
    for step in (-1, 0, 1):
        counter = codes.timecode(now) + step
        is_new = found.code_step is None or counter > found.code_step
        if is_new and code.strip() == codes.generate_otp(counter):
            people.set_code(
                writing.rows, found.name, secret=found.code_secret, step=counter
            )
            return True
    return False
