"""Approving: where the maker asks for two, a correction waits for a second person.

A correction changes what was recorded, so a maker may want two compliance officers to
stand behind each. The first proposes it; another one approves or declines it; it is
recorded in the name of the first, and names the second as `approved_by`.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from hashlib import sha256
from typing import TYPE_CHECKING, Final

from ledger.chain.canonical import JsonValue, canonical_bytes
from ledger.desk.foresee import Transaction
from ledger.desk.record import Recording, record
from ledger.desk.two_persons import SETTING
from ledger.desk.writing import Writing
from ledger.errors import ConflictError, InputError, NotFoundError, RefusedError
from ledger.store import proposals
from ledger.store.people import Person, find_person, list_people, put_setting
from ledger.store.proposals import Proposal
from ledger.trade.role import Role

if TYPE_CHECKING:
    from ledger.store.rows import Rows

ANYBODY: Final = "anybody-else"
"""Stands for the second person while it is not known who that will be."""
_TWO: Final = 2


def ask_for_two(writing: Writing, *, two: bool) -> None:
    """Set whether corrections need a second person.

    Raises:
        RefusedError: There is no second compliance officer who could approve, or
            proposals still wait.
    """
    officers = [one for one in list_people(writing.rows) if _may_decide(one)]
    if two and len(officers) < _TWO:
        raise RefusedError(
            f"corrections cannot need two persons, because {len(officers)} compliance "
            "officers can sign in; let another one in first"
        )
    waiting = sum(1 for _ in proposals.list_proposals(writing.rows))
    if not two and waiting:
        raise RefusedError(
            f"{waiting} proposed corrections still wait for a second person; approve or "
            "decline them first"
        )
    put_setting(writing.rows, SETTING, "yes" if two else "no")


def propose(
    writing: Writing, kind: str, on: date, body: dict[str, JsonValue]
) -> Proposal:
    """Keep an entry until a second person decides about it.

    Args:
        writing: The open transaction, in the name of who proposes.
        kind: Kind of the entry.
        on: Its trade date.
        body: Its body as typed.

    Raises:
        InputError: It names itself who approved it.
    """
    if "approved_by" in body:
        raise InputError(
            f"approved_by is {body['approved_by']!r}, but who approves is written when "
            "they do; leave it out"
        )
    number = proposals.add_proposal(
        writing.rows,
        person=writing.by,
        made_at=writing.now(),
        kind=kind,
        occurred_on=on,
        body=body,
    )
    return waiting(writing.rows, number)


def approve(writing: Writing, number: int, *, seen: str) -> Recording:
    """Record a proposed entry, in the name of who proposed it.

    Args:
        writing: The open transaction, in the name of who approves.
        number: Number of the proposal.
        seen: Digest of the proposal that was looked at, by `digest_of_proposal`.

    Raises:
        NotFoundError: It does not wait any more.
        ConflictError: It is not the one that was looked at.
        RefusedError: One of the two may not decide about it, or the books refuse it.
    """
    found = _seen(writing.rows, number, seen)
    if found.person == writing.by:
        raise RefusedError(
            f"proposal {number} is by {found.person}, who cannot approve it as well; "
            "another compliance officer must"
        )
    for name in (found.person, writing.by):
        person = find_person(writing.rows, name)
        if person is None or not _may_decide(person):
            raise RefusedError(
                f"person {name} is no compliance officer who can sign in, so proposal "
                f"{number} cannot be recorded; decline it and propose it anew"
            )
    both = replace(writing, by=found.person, approved_by=writing.by)
    body = {**found.body, "approved_by": writing.by}
    made = record(both, found.kind, found.occurred_on, body)
    proposals.drop_proposal(writing.rows, number)
    return made


def decline(writing: Writing, number: int, *, seen: str) -> Proposal:
    """Drop a proposed entry; who proposed it may do so too, to take it back.

    Raises:
        NotFoundError: It does not wait any more.
        ConflictError: It is not the one that was looked at.
    """
    found = _seen(writing.rows, number, seen)
    proposals.drop_proposal(writing.rows, number)
    return found


def as_if_approved(transaction: Transaction) -> Transaction:
    """Return transactions in which anybody is taken for the second person.

    Only for looking ahead: `ANYBODY` stands for whoever will approve.
    """

    @contextmanager
    def opened() -> Iterator[Writing]:
        with transaction() as writing:
            yield replace(writing, approved_by=ANYBODY)

    return opened


def waiting(rows: "Rows", number: int) -> Proposal:
    """Return a proposal that waits.

    Raises:
        NotFoundError: It does not wait any more.
    """
    found = proposals.find_proposal(rows, number)
    if found is None:
        raise NotFoundError(
            f"proposal {number} does not wait any more: somebody has decided about it; "
            "look at the list of entries"
        )
    return found


def digest_of_proposal(proposal: Proposal) -> str:
    """Return what tells one proposal from another that later got its number."""
    told: dict[str, JsonValue] = {
        "body": dict(proposal.body),
        "kind": proposal.kind,
        "made_at": proposal.made_at.isoformat(),
        "occurred_on": proposal.occurred_on.isoformat(),
        "person": proposal.person,
    }
    return sha256(canonical_bytes(told)).hexdigest()


def _seen(rows: "Rows", number: int, seen: str) -> Proposal:
    found = waiting(rows, number)
    if digest_of_proposal(found) != seen:
        raise ConflictError(
            f"proposal {number} is not the one that you looked at; look at it again"
        )
    return found


def _may_decide(person: Person) -> bool:
    return (
        Role.COMPLIANCE in person.roles
        and not person.ended
        and person.password is not None
    )
