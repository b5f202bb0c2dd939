"""What the rejection of a lot after it was taken does: it no longer counts, and is held.

The goods stay in the stock and in everything that was made from them: a trace still shows
them. What changes is that nothing may be claimed on them any more.
"""

from datetime import date

from ledger.books.effect import Effects, Recorded, Subject, SubjectKind
from ledger.books.finding import refuse
from ledger.books.lookup import expect
from ledger.books.shelf import Shelf
from ledger.books.source import MadeLot, lot_named
from ledger.trade.lot import LotRejected


def effects_of_rejection(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what rejecting a received lot does: it is known, and a hold begins.

    The credits of its receipt are counted again, since they rest on this.

    Raises:
        EntryRefusedError: The lot was not received, was never accepted, is rejected
            already, or the rejection is dated before its receipt.
    """
    rejected = expect(recorded.record, LotRejected)
    lot = rejected.lot
    found = lot_named(shelf, lot, field="lot")
    if isinstance(found, MadeLot):
        raise refuse(
            "rejected-not-received",
            "lot",
            f"lot names {lot}, which batch {found.made.batch} made; only a received lot "
            "is rejected, so place a hold on this one and write off what is spoiled",
        )
    if found.part.decision == "rejected":
        raise refuse(
            "rejected-at-receipt",
            "lot",
            f"lot {lot} was rejected when it was received (entry {found.receipt.seq}), so "
            "it never counted; nothing is left to reject",
        )
    for other in _rejections(shelf, lot):
        if other.slot != recorded.slot:
            raise refuse(
                "rejected-twice",
                "lot",
                f"lot {lot} is rejected already by entry {other.seq}; correct that entry "
                "if its date or reason is wrong",
            )
    for field, day in (
        ("from_on", rejected.from_on),
        ("occurred_on", recorded.occurred_on),
    ):
        if day < found.receipt.occurred_on:
            raise refuse(
                "rejected-before-receipt",
                field,
                f"{field} is {day}, but lot {lot} was received on "
                f"{found.receipt.occurred_on}; use that day or a later one",
            )
    if rejected.from_on > recorded.occurred_on:
        raise refuse(
            "rejected-in-future",
            "from_on",
            f"from_on is {rejected.from_on}, after the rejection on "
            f"{recorded.occurred_on}; use that day or an earlier one",
        )
    return Effects(
        introduces=(Subject(SubjectKind.HOLD, rejected.hold),),
        mentions=(Subject(SubjectKind.LOT, lot),),
    )


def rejection_of(shelf: Shelf, lot: str) -> LotRejected | None:
    """Return the rejection of a received lot after it was taken, if it was rejected."""
    for found in _rejections(shelf, lot):
        return expect(found.record, LotRejected)
    return None


def is_rejected(shelf: Shelf, lot: str, on: date) -> bool:
    """Tell whether a received lot no longer counts on a date, because it was rejected."""
    rejected = rejection_of(shelf, lot)
    return rejected is not None and rejected.from_on <= on


def _rejections(shelf: Shelf, lot: str) -> list[Recorded]:
    return list(shelf.about(Subject(SubjectKind.LOT, lot), "lot.rejected"))
