"""Corrections: an entry is void or replaced, and what rests on it is counted again."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from typing import Final

from ledger.books.converted_anew import by_leftovers, by_yields
from ledger.books.effect import (
    Cause,
    Effects,
    Posting,
    Recorded,
    SubjectKind,
    Tally,
)
from ledger.books.effects import effects_of, refuse_taken
from ledger.books.finding import EntryRefusedError, refuse
from ledger.books.lapsing import restate_lapses
from ledger.books.lookup import expect
from ledger.books.opening import replacement_in
from ledger.books.resting import resting_on
from ledger.books.shelf import Shelf
from ledger.trade.control import Correction
from ledger.trade.opening import LedgerOpened

_NOTES = frozenset({SubjectKind.SHORTFALL, SubjectKind.MADE_GOOD})

Change = dict[int, tuple[Effects, Effects]]
"""Effects before and after, by the slot that changed."""

UNCORRECTABLE: Final = frozenset(
    {
        "period.closed",
        "checkpoint.signed",
        "key.rotated",
        "key.revoked",
        "disclosure.erased",
        "access.granted",
        "access.ended",
        "finding.noted",
        "finding.closed",
        "correction",
    }
)
"""Kinds that stay as they are: what they say was so when they were recorded."""


def correct(
    shelf: Shelf, recorded: Recorded, correction: Correction, *, closed: date | None
) -> tuple[Change, Recorded | None]:
    """Void or replace the entry that a correction names.

    Args:
        shelf: What is recorded.
        recorded: The correction, as recorded.
        correction: What it says.
        closed: Last day of the closed periods. What lies in them stays as signed off,
            and the difference lands on the correction's own date.

    Returns:
        What changed, and the record that counts from now on, if one does.

    Raises:
        EntryRefusedError: The entry cannot be corrected, the replacement is refused, or
            a later entry rests on what it takes away.
    """
    slot = _slot_of(shelf, correction.target)
    replacement = replacement_in(recorded, slot=slot)
    _check(shelf, recorded, slot, replacement, closed=closed)
    _refuse_other_key(shelf.at(slot), replacement)
    was, old = shelf.take(slot)
    resting = resting_on(shelf, was, old)
    new = Effects()
    if replacement is not None:
        new = with_notes(old, effects_of(shelf, replacement))
        refuse_taken(shelf, new)
    _refuse_orphans(shelf, old, new)
    kept = carried_forward(old, new, closed=closed, on=recorded.occurred_on)
    if replacement is None and kept.postings:
        shelf.put(replace(recorded, slot=slot), kept)
    else:
        shelf.put(recorded, Effects())
    if replacement is not None:
        shelf.put(replacement, kept)
        resting |= resting_on(shelf, replacement, kept)
    change = {slot: (old, kept)}
    restate(shelf, sorted(resting), change, closed=closed, on=recorded.occurred_on)
    restate_the_rest(shelf, change, closed=closed, on=recorded.occurred_on)
    return change, replacement


def _slot_of(shelf: Shelf, target: int) -> int:
    """Return the slot in which what an entry recorded counts.

    Raises:
        EntryRefusedError: The entry is not there, or no longer counts.
    """
    slot = target
    counting = shelf.at(slot)
    while counting is not None and _stands_by_itself(counting):
        slot = expect(counting.record, Correction).target
        counting = shelf.at(slot)
    if counting is None or counting.seq != target:
        instead = (
            "it is void or not recorded, so record what is missing as a new entry"
            if counting is None or isinstance(counting.record, Correction)
            else f"entry {counting.seq} stands in its place; correct that one"
        )
        raise refuse(
            "nothing-to-correct",
            "target",
            f"target is {target}, but what entry {target} recorded does not count: "
            f"{instead}",
        )
    return slot


def _stands_by_itself(recorded: Recorded) -> bool:
    """Tell a correction in its own slot from one that keeps a void entry's postings."""
    return isinstance(recorded.record, Correction) and recorded.seq == recorded.slot


def _refuse_other_key(counting: Recorded | None, replacement: Recorded | None) -> None:
    """Refuse to change the key of a ledger by correcting its opening."""
    if counting is None or replacement is None:
        return
    was, now = counting.record, replacement.record
    if (
        isinstance(was, LedgerOpened)
        and isinstance(now, LedgerOpened)
        and was.public_key != now.public_key
    ):
        raise refuse(
            "opening-key-differs",
            "replacement.body.public_key",
            f"replacement.body.public_key is {now.public_key or 'left out'}, but the "
            f"ledger was opened with {was.public_key}; copy that line, and change the key "
            "with `evenweight rotate-key`",
        )


def _check(
    shelf: Shelf,
    recorded: Recorded,
    slot: int,
    replacement: Recorded | None,
    *,
    closed: date | None,
) -> None:
    counting = shelf.at(slot)
    if counting is None or counting.kind in UNCORRECTABLE:
        kind = "nothing" if counting is None else counting.kind
        raise refuse(
            "not-correctable",
            "target",
            f"target is entry {slot}, which is {kind}; it stays as it is, so correct the "
            "entry whose figures are wrong and the difference lands in the open period",
        )
    if slot == 0 and replacement is None:
        raise refuse(
            "opening-not-void",
            "target",
            "target is 0, the entry that opens the ledger; it can be replaced but not "
            "made void",
        )
    if replacement is not None and replacement.kind != counting.kind:
        raise refuse(
            "kind-differs",
            "replacement.entry_kind",
            f"replacement.entry_kind is {replacement.kind}, but entry {slot} is "
            f"{counting.kind}; make that one void and record the other by itself",
        )
    if closed is not None and recorded.occurred_on <= closed:
        raise refuse(
            "period-closed",
            "occurred_on",
            f"occurred_on is {recorded.occurred_on}, but the books are closed up to "
            f"{closed}; date the correction in the open period",
        )
    if (
        replacement is not None
        and replacement.occurred_on > recorded.recorded_at.date()
        and replacement.occurred_on > recorded.occurred_on
    ):
        raise refuse(
            "date-in-future",
            "replacement.occurred_on",
            f"replacement.occurred_on is {replacement.occurred_on}, which has not come "
            "yet; an entry says what has happened",
        )


def _refuse_orphans(shelf: Shelf, old: Effects, new: Effects) -> None:
    """Refuse to take away a name that another entry uses.

    A receipt names its shipment whether or not a bill of lading is recorded, so that may
    go; whatever else rests on it is judged again.
    """
    for subject in sorted(set(old.introduces) - set(new.introduces)):
        if subject.kind is SubjectKind.SHIPMENT:
            continue
        for found in shelf.about(subject):
            # What a certifier noted binds nobody's hands: it stays beside the correction.
            if found.kind == "finding.noted":
                continue
            raise refuse(
                "still-used",
                "target",
                f"{subject} would no longer be recorded, but entry {found.seq} still "
                "names it; correct that entry first",
            )


def restate(
    shelf: Shelf, slots: Iterable[int], change: Change, *, closed: date | None, on: date
) -> None:
    """Let earlier entries count as they do now that something they rest on changed.

    Args:
        shelf: What is recorded.
        slots: The entries, in slot order.
        change: Collects what changed.
        closed: Last day of the closed periods.
        on: Date on which a difference in a closed period lands.

    Raises:
        EntryRefusedError: One of them no longer holds.
    """
    for slot in slots:
        recorded, old = shelf.take(slot)
        again = with_notes(old, _again(shelf, recorded, old))
        new = carried_forward(old, again, closed=closed, on=on)
        shelf.put(recorded, new)
        if old != new:
            before, _ = change.get(slot, (old, new))
            change[slot] = (before, new)


def restate_the_rest(
    shelf: Shelf, change: Change, *, closed: date | None, on: date
) -> None:
    """Let what names nothing that changed count as it does now, too.

    That is what converts by measured yields, what draws on what is left over, and what
    lapsed with periods that were closed.

    Args:
        shelf: What is recorded.
        change: What changed; collects what changes more.
        closed: Last day of the closed periods.
        on: Date on which a difference in a closed period lands.

    Raises:
        EntryRefusedError: One of them no longer holds.
    """
    for found in (by_yields, by_leftovers):
        restate(shelf, found(shelf, change), change, closed=closed, on=on)
    _lapse_again(shelf, change, closed=closed, on=on)


def _lapse_again(
    shelf: Shelf, change: Change, *, closed: date | None, on: date
) -> None:
    """Let what lapsed with closed periods count as it does now; differences land."""
    for recorded, old, new in [*restate_lapses(shelf, change, closed=closed)]:
        kept = carried_forward(old, new, closed=closed, on=on, cause=Cause.LAPSED)
        if kept != old:
            shelf.take(recorded.slot)
            shelf.put(recorded, kept)
            change[recorded.slot] = (old, kept)


def _again(shelf: Shelf, recorded: Recorded, old: Effects) -> Effects:
    if recorded.kind in UNCORRECTABLE:
        return old
    try:
        return effects_of(shelf, recorded)
    except EntryRefusedError as error:
        raise refuse(
            "later-entry-breaks",
            "",
            f"entry {recorded.seq} ({recorded.kind} of {recorded.occurred_on}) rests on "
            f"this and would no longer hold: {error}; correct that entry first",
        ) from error


def with_notes(old: Effects, new: Effects) -> Effects:
    """Return new effects that still name the accounts the entry broke or made whole."""
    notes = tuple(subject for subject in old.mentions if subject.kind in _NOTES)
    kept = (note for note in notes if note not in new.mentions)
    return replace(new, mentions=(*new.mentions, *kept)) if notes else new


def carried_forward(
    old: Effects,
    new: Effects,
    *,
    closed: date | None,
    on: date,
    cause: Cause = Cause.CORRECTED,
) -> Effects:
    """Return new effects that leave closed periods as they were signed off.

    Where old or new postings lie in a closed period, the old ones stay, and what is
    different lands on `on`, in the open period, under the entry it corrects.

    Raises:
        EntryRefusedError: Something would land, but `on` lies in a closed period.
    """
    touched = (*old.postings, *new.postings)
    if closed is None or all(posting.day > closed for posting in touched):
        return new
    difference: dict[Tally, int] = {}
    for posting in new.postings:
        difference[posting.tally] = difference.get(posting.tally, 0) + posting.grams
    for posting in old.postings:
        difference[posting.tally] = difference.get(posting.tally, 0) - posting.grams
    if on <= closed and any(difference.values()):
        raise refuse(
            "period-closed",
            "occurred_on",
            f"occurred_on is {on}, but the books are closed up to {closed} and this "
            "changes figures in them; date it in the open period, where the difference "
            "lands",
        )
    landed = tuple(
        Posting(tally, on, grams, cause)
        for tally, grams in sorted(difference.items())
        if grams
    )
    return replace(new, postings=(*old.postings, *landed))
