"""Entries that wait for a second person: reading and writing their table."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

from ledger.chain.canonical import JsonValue, canonical_bytes, parse_json
from ledger.store.people import moment_text
from ledger.store.rows import Row, Rows

_COLUMNS: Final = "number, person, made_at, kind, occurred_on, body"


@dataclass(frozen=True, slots=True)
class Proposal:
    """An entry that somebody proposes.

    Attributes:
        number: Its number among those that wait.
        person: Who proposes it.
        made_at: When, in UTC.
        kind: Kind of the entry.
        occurred_on: Its trade date.
        body: Its body as given.
    """

    number: int
    person: str
    made_at: datetime
    kind: str
    occurred_on: date
    body: Mapping[str, JsonValue]


def add_proposal(
    write: Rows,
    *,
    person: str,
    made_at: datetime,
    kind: str,
    occurred_on: date,
    body: Mapping[str, JsonValue],
) -> int:
    """Write a proposal and return its number."""
    [(last,)] = write("SELECT MAX(number) FROM proposal")
    number = (last or 0) + 1
    write(
        "INSERT INTO proposal (number, person, made_at, kind, occurred_on, body) "
        "VALUES (:number, :person, :made_at, :kind, :occurred_on, :body)",
        {
            "number": number,
            "person": person,
            "made_at": moment_text(made_at),
            "kind": kind,
            "occurred_on": occurred_on.isoformat(),
            "body": canonical_bytes(dict(body)).decode(),
        },
    )
    return number


def find_proposal(rows: Rows, number: int) -> Proposal | None:
    """Return the proposal of a number, if it still waits."""
    found = rows(
        f"SELECT {_COLUMNS} FROM proposal WHERE number = :number",  # noqa: S608 - ours
        {"number": number},
    )
    return _proposal(found[0]) if found else None


def list_proposals(rows: Rows) -> Iterator[Proposal]:
    """Yield what waits, the oldest first."""
    for row in rows(f"SELECT {_COLUMNS} FROM proposal ORDER BY number"):  # noqa: S608 - ours
        yield _proposal(row)


def drop_proposal(write: Rows, number: int) -> None:
    """Remove a proposal that was decided."""
    write("DELETE FROM proposal WHERE number = :number", {"number": number})


def _proposal(row: Row) -> Proposal:
    number, person, made_at, kind, occurred_on, body = row
    parsed = parse_json(body.encode())
    if not isinstance(parsed, dict):
        raise TypeError(body)
    return Proposal(
        number=number,
        person=person,
        made_at=datetime.fromisoformat(made_at),
        kind=kind,
        occurred_on=date.fromisoformat(occurred_on),
        body=parsed,
    )
