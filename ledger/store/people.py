"""Who may sign in: reading and writing the tables that are no part of the record."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

from ledger.store.rows import Row, Rows
from ledger.trade.role import Role

_COLUMNS: Final = (
    "name, shown, roles, scheme, since, until, password, code_secret, code_step, ended"
)


@dataclass(frozen=True, slots=True)
class Window:
    """What a certifier may see.

    Attributes:
        scheme: The one scheme; None for all.
        since: First trade date; None from the beginning.
        until: Last trade date; None up to the present.
    """

    scheme: str | None = None
    since: date | None = None
    until: date | None = None


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who may sign in.

    Attributes:
        name: What entries call the person, in `recorded_by`.
        shown: Name that the pages show.
        roles: What the person may do.
        window: What a certifier may see.
        password: Digest of the password by argon2id; None until one is chosen.
        code_secret: Secret of one-time codes (RFC 6238); None where none are asked.
        code_step: Time step of the last code that was taken, which is not taken again.
        ended: Whether the person may no longer enter.
    """

    name: str
    shown: str
    roles: frozenset[Role]
    window: Window
    password: str | None
    code_secret: str | None
    code_step: int | None
    ended: bool


def moment_text(moment: datetime) -> str:
    """Return a moment in UTC as text that sorts as moments do."""
    return moment.isoformat(timespec="microseconds")


def find_person(rows: Rows, name: str) -> Person | None:
    """Return the person of a name."""
    found = rows(
        f"SELECT {_COLUMNS} FROM person WHERE name = :name",  # noqa: S608 - ours
        {"name": name},
    )
    return _person(found[0]) if found else None


def list_people(rows: Rows) -> Iterator[Person]:
    """Yield everybody, by name."""
    for row in rows(f"SELECT {_COLUMNS} FROM person ORDER BY name"):  # noqa: S608 - ours
        yield _person(row)


def add_person(
    write: Rows, name: str, *, shown: str, roles: Iterable[Role], window: Window
) -> None:
    """Write a person who has no password yet."""
    write(
        "INSERT INTO person (name, shown, roles, scheme, since, until, ended) "
        "VALUES (:name, :shown, :roles, :scheme, :since, :until, 0)",
        {"name": name, "shown": shown, **_of_window(window), "roles": _joined(roles)},
    )


def change_person(
    write: Rows, name: str, *, roles: Iterable[Role], window: Window, ended: bool
) -> None:
    """Change what a person may do and see."""
    write(
        "UPDATE person SET roles = :roles, scheme = :scheme, since = :since, "
        "until = :until, ended = :ended WHERE name = :name",
        {
            "name": name,
            "roles": _joined(roles),
            "ended": int(ended),
            **_of_window(window),
        },
    )


def set_password(write: Rows, name: str, digest: str) -> None:
    """Write the digest of a person's new password."""
    write(
        "UPDATE person SET password = :digest WHERE name = :name",
        {"name": name, "digest": digest},
    )


def set_code(write: Rows, name: str, *, secret: str | None, step: int | None) -> None:
    """Write the secret of a person's one-time codes, and the last step taken."""
    write(
        "UPDATE person SET code_secret = :secret, code_step = :step WHERE name = :name",
        {"name": name, "secret": secret, "step": step},
    )


def add_invitation(
    write: Rows, digest: str, *, person: str, expires_at: datetime
) -> None:
    """Write a one-time link in place of those that the person had."""
    write("DELETE FROM invitation WHERE person = :person", {"person": person})
    write(
        "INSERT INTO invitation (digest, person, expires_at) "
        "VALUES (:digest, :person, :expires_at)",
        {"digest": digest, "person": person, "expires_at": moment_text(expires_at)},
    )


def invited(rows: Rows, digest: str, *, now: datetime) -> str | None:
    """Return whom a one-time link is for, if it still holds."""
    found = rows(
        "SELECT person FROM invitation WHERE digest = :digest AND expires_at > :now",
        {"digest": digest, "now": moment_text(now)},
    )
    return str(found[0][0]) if found else None


def drop_invitations(write: Rows, person: str) -> None:
    """Remove the one-time links of a person."""
    write("DELETE FROM invitation WHERE person = :person", {"person": person})


def begin_visit(write: Rows, digest: str, *, person: str, now: datetime) -> None:
    """Write that a person has signed in."""
    write(
        "INSERT INTO visit (digest, person, begun_at, seen_at) "
        "VALUES (:digest, :person, :now, :now)",
        {"digest": digest, "person": person, "now": moment_text(now)},
    )


def find_visit(rows: Rows, digest: str) -> tuple[str, datetime, datetime] | None:
    """Return who a visit is of, when it began and when it was last seen."""
    found = rows(
        "SELECT person, begun_at, seen_at FROM visit WHERE digest = :digest",
        {"digest": digest},
    )
    if not found:
        return None
    name, begun_at, seen_at = found[0]
    return name, datetime.fromisoformat(begun_at), datetime.fromisoformat(seen_at)


def touch_visit(write: Rows, digest: str, *, now: datetime) -> None:
    """Write that a visit was seen."""
    write(
        "UPDATE visit SET seen_at = :now WHERE digest = :digest",
        {"digest": digest, "now": moment_text(now)},
    )


def end_visits(write: Rows, *, digest: str | None = None, person: str = "") -> None:
    """Remove one visit, or all of a person."""
    write(
        "DELETE FROM visit WHERE digest = :digest OR person = :person",
        {"digest": digest or "", "person": person},
    )


def failures_of(rows: Rows, subject: str) -> tuple[int, datetime] | None:
    """Return how often in a row somebody failed to sign in, and when last."""
    found = rows(
        "SELECT failures, last_at FROM attempt WHERE subject = :subject",
        {"subject": subject},
    )
    return (int(found[0][0]), datetime.fromisoformat(found[0][1])) if found else None


def add_failure(write: Rows, subject: str, *, now: datetime) -> None:
    """Count one more failure."""
    write(
        "INSERT INTO attempt (subject, failures, last_at) VALUES (:subject, 1, :now) "
        "ON CONFLICT (subject) DO UPDATE "
        "SET failures = attempt.failures + 1, last_at = excluded.last_at",
        {"subject": subject, "now": moment_text(now)},
    )


def forget_failures(write: Rows, subject: str) -> None:
    """Begin to count from nothing."""
    write("DELETE FROM attempt WHERE subject = :subject", {"subject": subject})


def sweep(
    write: Rows,
    *,
    now: datetime,
    begun_before: datetime,
    seen_before: datetime,
    failed_before: datetime,
) -> None:
    """Remove visits, one-time links and counts of failures that are over.

    Args:
        write: The transaction of a writer.
        now: Links that end by now go.
        begun_before: Visits that began before go.
        seen_before: Visits that were not seen since go.
        failed_before: Counts go whose last failure was before.
    """
    write(
        "DELETE FROM visit WHERE begun_at < :begun OR seen_at < :seen",
        {"begun": moment_text(begun_before), "seen": moment_text(seen_before)},
    )
    write("DELETE FROM invitation WHERE expires_at <= :now", {"now": moment_text(now)})
    write(
        "DELETE FROM attempt WHERE last_at < :failed",
        {"failed": moment_text(failed_before)},
    )


def setting(rows: Rows, name: str) -> str | None:
    """Return how something is set; None where it never was."""
    found = rows("SELECT value FROM setting WHERE name = :name", {"name": name})
    return str(found[0][0]) if found else None


def put_setting(write: Rows, name: str, value: str) -> None:
    """Set something."""
    write(
        "INSERT INTO setting (name, value) VALUES (:name, :value) "
        "ON CONFLICT (name) DO UPDATE SET value = excluded.value",
        {"name": name, "value": value},
    )


def _person(row: Row) -> Person:
    name, shown, roles, scheme, since, until, password, secret, step, ended = row
    return Person(
        name=name,
        shown=shown,
        roles=frozenset(map(Role, roles.split())),
        window=Window(scheme, _day(since), _day(until)),
        password=password,
        code_secret=secret,
        code_step=step,
        ended=bool(ended),
    )


def _day(text: str | None) -> date | None:
    return None if text is None else date.fromisoformat(text)


def _joined(roles: Iterable[Role]) -> str:
    return " ".join(sorted(roles))


def _of_window(window: Window) -> dict[str, str | None]:
    return {
        "scheme": window.scheme,
        "since": window.since.isoformat() if window.since else None,
        "until": window.until.isoformat() if window.until else None,
    }
