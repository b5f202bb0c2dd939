"""What rests on an entry: which earlier entries count differently when it changes.

Most entries rest on the names they mention. A few rest on more than a name: receipts on
the certificates of their supplier and on the bill of lading, all that moves an account
on the terms of its scheme, moves on the holds of a lot, and nearly everything on the
sites that the ledger was opened for. What an entry does to the books is always a
function of the records that count, so whatever changes those is followed here.
"""

from collections.abc import Iterable, Iterator
from typing import Final

from ledger.books.effect import Effects, Recorded, Subject, SubjectKind
from ledger.books.shelf import Shelf
from ledger.trade.terms import TermsPublished

CERTIFICATE_KINDS: Final = frozenset(
    {
        "certificate.recorded",
        "certificate.suspended",
        "certificate.withdrawn",
        "certificate.reinstated",
    }
)
"""Entries that decide on which dates a certificate counts."""

DECIDING_KINDS: Final = CERTIFICATE_KINDS | {"shipment.dispatched", "lot.rejected"}
"""Entries that decide whether goods received earlier count."""

_AT_A_SITE: Final = (
    "shipment.received",
    "batch.made",
    "lot.moved",
    "lot.written_off",
    "sale.dispatched",
    "sale.returned",
    "claim.transferred",
)
_UNDER_TERMS: Final = (
    "contract.signed",
    "shipment.received",
    "sale.dispatched",
    "claim.transferred",
)
_COMING_BACK: Final = ("sale.returned", "claim.withdrawn")
_MOVING: Final = ("batch.made", "lot.moved", "sale.dispatched")


def resting_on(shelf: Shelf, recorded: Recorded, effects: Effects) -> set[int]:
    """Return the slots of the entries that rest on an entry, directly or not.

    Args:
        shelf: What is recorded.
        recorded: The entry, which need not be on the shelf.
        effects: What it does.
    """
    kind = recorded.kind
    if kind in DECIDING_KINDS:
        found = set(counting_by(shelf, recorded, effects))
        found |= set(_held(shelf, effects)) | _named_in(shelf, effects.introduces)
    elif isinstance(recorded.record, TermsPublished):
        found = set(_under_terms(shelf, effects))
        found |= set(_throughput(shelf, recorded.record))
    elif kind in {"hold.placed", "hold.released"}:
        found = set(_held(shelf, effects)) | _named_in(shelf, effects.introduces)
    elif kind == "ledger.opened":
        found = {one.slot for kind in _AT_A_SITE for one in shelf.of_kind(kind)}
    elif kind in _COMING_BACK:
        found = {
            slot
            for back in _COMING_BACK
            for slot in _slots(shelf, effects.mentions, SubjectKind.SALE, back)
        }
    else:
        found = _downstream(shelf, effects.introduces)
    return found - {recorded.slot}


def counted_anew_by(
    shelf: Shelf, recorded: Recorded, effects: Effects
) -> Iterator[int]:
    """Yield the slots of earlier entries that a new entry lets count differently."""
    if recorded.kind in DECIDING_KINDS:
        yield from counting_by(shelf, recorded, effects)
    elif isinstance(recorded.record, TermsPublished):
        yield from _throughput(shelf, recorded.record)


def counting_by(shelf: Shelf, recorded: Recorded, effects: Effects) -> Iterator[int]:
    """Yield what certificates, bills of lading and rejections decide about.

    Receipts of the supplier, shipment or lot are credited or not, and what is written
    off draws on the accounts as far as it counts. A sale is not judged again: what was
    claimed to a customer was claimed, and stays drawn until it is corrected.
    """
    if recorded.kind == "shipment.dispatched":
        of, subjects = SubjectKind.SHIPMENT, effects.introduces
    elif recorded.kind == "lot.rejected":
        of, subjects = SubjectKind.LOT, effects.mentions
    else:
        of, subjects = SubjectKind.PARTY, effects.mentions
    receipts = list(_slots(shelf, subjects, of, "shipment.received"))
    if receipts:
        yield from receipts
        yield from (found.slot for found in shelf.of_kind("lot.written_off"))


def _under_terms(shelf: Shelf, effects: Effects) -> Iterator[int]:
    yield from (found.slot for found in shelf.of_kind("lot.written_off"))
    for kind in _UNDER_TERMS:
        for slot in _slots(shelf, effects.mentions, SubjectKind.SCHEME, kind):
            yield slot
            if kind == "sale.dispatched":
                yield from _named_in(shelf, shelf.effects(slot).introduces)


def _throughput(shelf: Shelf, terms: TermsPublished) -> Iterator[int]:
    """Yield all that came in or was sold under terms that average percentages."""
    if terms.window_months is None:
        return
    for kind in ("shipment.received", "sale.dispatched", "sale.returned"):
        for found in shelf.of_kind(kind):
            if found.occurred_on >= terms.valid_from:
                yield found.slot


def _held(shelf: Shelf, effects: Effects) -> Iterator[int]:
    """Yield what moved the lots of a hold."""
    mentions = list(effects.mentions)
    for hold in mentions:
        placed = shelf.introducer(hold) if hold.kind is SubjectKind.HOLD else None
        if placed is not None:
            mentions += shelf.effects(placed.slot).mentions
    for kind in _MOVING:
        yield from _slots(shelf, mentions, SubjectKind.LOT, kind)


def _downstream(shelf: Shelf, subjects: Iterable[Subject]) -> set[int]:
    """Return whatever names the subjects, or what those entries bring in, and so on."""
    found: set[int] = set()
    waiting = set(subjects)
    while waiting:
        new = _named_in(shelf, waiting) - found
        found |= new
        waiting = {s for slot in new for s in shelf.effects(slot).introduces}
    return found


def _named_in(shelf: Shelf, subjects: Iterable[Subject]) -> set[int]:
    return {found.slot for subject in subjects for found in shelf.about(subject)}


def _slots(
    shelf: Shelf, subjects: Iterable[Subject], of: SubjectKind, kind: str
) -> Iterator[int]:
    for subject in subjects:
        if subject.kind is of:
            yield from (found.slot for found in shelf.about(subject, kind))
