"""Who may act in the ledger, as the record itself says it."""

from ledger.books.effect import Effects, Recorded, Subject, SubjectKind
from ledger.books.finding import refuse
from ledger.books.lookup import expect, opening
from ledger.books.shelf import Shelf
from ledger.trade.access import AccessEnded, AccessGranted


def effects_of_grant(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what granting access does: the person can be looked up.

    Raises:
        EntryRefusedError: The ledger is not open yet.
    """
    opening(shelf)
    granted = expect(recorded.record, AccessGranted)
    return Effects(mentions=(Subject(SubjectKind.PERSON, granted.person),))


def effects_of_end(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what ending access does: the person stays to be looked up.

    Raises:
        EntryRefusedError: The person has no access that could end.
    """
    ended = expect(recorded.record, AccessEnded)
    if access_of(shelf, ended.person) is None:
        raise refuse(
            "no-access",
            "person",
            f"person is {ended.person}, who may not act in this ledger, so nothing ends; "
            "correct the name",
        )
    return Effects(mentions=(Subject(SubjectKind.PERSON, ended.person),))


def access_of(shelf: Shelf, person: str) -> AccessGranted | None:
    """Return what was last granted to a person, or None where nothing holds."""
    found = shelf.about(Subject(SubjectKind.PERSON, person))
    last = found[-1].record if found else None
    return last if isinstance(last, AccessGranted) else None
