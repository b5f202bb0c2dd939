"""Requests that were carried out, with their answers, so that none is carried out twice."""

from dataclasses import dataclass
from datetime import datetime

from ledger.store.people import moment_text
from ledger.store.rows import Rows


@dataclass(frozen=True, slots=True)
class Answered:
    """A request that was carried out.

    Attributes:
        asked: SHA-256 of what was asked, in hexadecimal.
        status: Status of the answer.
        answer: Body of the answer, JSON.
    """

    asked: str
    status: int
    answer: str


def find_answered(rows: Rows, person: str, key: str) -> Answered | None:
    """Return the request that a person named with a key, if it was carried out."""
    found = rows(
        "SELECT asked, status, answer FROM answered "
        "WHERE person = :person AND key = :key",
        {"person": person, "key": key},
    )
    return Answered(*found[0]) if found else None


def keep_answered(
    write: Rows, person: str, key: str, answered: Answered, *, at: datetime
) -> None:
    """Write that a request was carried out, and how it was answered."""
    write(
        "INSERT INTO answered (person, key, asked, status, answer, at) "
        "VALUES (:person, :key, :asked, :status, :answer, :at)",
        {
            "person": person,
            "key": key,
            "asked": answered.asked,
            "status": answered.status,
            "answer": answered.answer,
            "at": moment_text(at),
        },
    )
