"""Signing in: a name, a password, perhaps a one-time code; and who a visit is of.

A failure is counted and answered alike whether the name is known or not, after the same
work, so that nobody learns names by trying. Who fails often must wait longer each time.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
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


def sign_in(
    writing: Writing,
    name: str,
    password: str,
    *,
    code: str = "",
    address: str,
    new_secret: NewSecret,
) -> Admission:
    """Begin a visit, or count a failure; the caller's transaction keeps either.

    Args:
        writing: The open transaction.
        name: Who it is.
        password: The password as typed.
        code: The one-time code (RFC 6238), where the person uses them.
        address: Where the request comes from.
        new_secret: Gives the token of the visit.
    """
    now = writing.now()
    subjects = (f"name {name}"[:200], f"address {address}"[:200])
    wait = max(_wait(writing.rows, subject, now) for subject in subjects)
    if wait > timedelta():
        return Admission(
            None,
            f"too many attempts failed; wait {round(wait.total_seconds())} seconds and "
            "try again",
        )
    found = people.find_person(writing.rows, name)
    if (
        not password_holds(found, password)
        or found is None
        or not _code_holds(writing, found, code)
    ):
        for subject in subjects:
            people.add_failure(writing.rows, subject, now=now)
        return Admission(
            None,
            "name, password or one-time code do not match; check them and try again",
        )
    people.forget_failures(writing.rows, subjects[0])
    return Admission(begin_visit(writing, name, new_secret=new_secret))


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


def _wait(rows: Rows, subject: str, now: datetime) -> timedelta:
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
