"""Corrections: an entry is void or replaced, and what rests on it is counted again."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date

from ledger.books.effect import (
    Cause,
    Effects,
    Posting,
    Recorded,
    Subject,
    Tally,
)
from ledger.books.effects import effects_of, refuse_taken
from ledger.books.finding import EntryRefusedError, refuse
from ledger.books.opening import replacement_in
from ledger.books.shelf import Shelf
from ledger.trade.control import Correction

Change = dict[int, tuple[Effects, Effects]]
"""Effects before and after, by the slot that changed."""

_UNCORRECTABLE = frozenset({"period.closed", "checkpoint.signed", "correction"})


def correct(
    shelf: Shelf, recorded: Recorded, correction: Correction, *, closed: date | None
) -> Change:
    """Void or replace the entry that a correction names; return what changed.

    Args:
        shelf: What is recorded.
        recorded: The correction, as recorded.
        correction: What it says.
        closed: Last day of the closed periods. What lies in them stays as signed off,
            and the difference lands on the correction's own date.

    Raises:
        EntryRefusedError: The entry cannot be corrected, the replacement is refused, or
            a later entry rests on what it takes away.
    """
    slot = _slot_of(shelf, correction.target)
    replacement = replacement_in(recorded, slot=slot)
    _check(shelf, recorded, slot, replacement, closed=closed)
    resting = _resting_on(shelf, slot)
    _, old = shelf.take(slot)
    new = Effects()
    if replacement is not None:
        new = effects_of(shelf, replacement)
        refuse_taken(shelf, new)
    _refuse_orphans(shelf, old, new, resting)
    kept = carried_forward(old, new, closed=closed, on=recorded.occurred_on)
    if replacement is None and kept.postings:
        shelf.put(replace(recorded, slot=slot), kept)
    else:
        shelf.put(recorded, Effects())
    if replacement is not None:
        shelf.put(replacement, kept)
    change = {slot: (old, kept)}
    restate(shelf, resting, change, closed=closed, on=recorded.occurred_on)
    return change


def _slot_of(shelf: Shelf, target: int) -> int:
    """Return the slot in which what an entry recorded counts.

    Raises:
        EntryRefusedError: The entry is not there, or no longer counts.
    """
    named = shelf.at(target)
    slot = target
    while named is not None and isinstance(named.record, Correction):
        slot = named.record.target
        named = shelf.at(slot)
        if named is not None and named.seq == target:
            return slot
        if named is not None and named.seq == slot:
            break
    counting = shelf.at(slot)
    if counting is None or counting.seq != target:
        instead = (
            "it is void or not recorded"
            if counting is None
            else f"entry {counting.seq} stands in its place; correct that one"
        )
        raise refuse(
            "nothing-to-correct",
            "target",
            f"target is {target}, but what entry {target} recorded does not count: "
            f"{instead}",
        )
    return slot


def _check(
    shelf: Shelf,
    recorded: Recorded,
    slot: int,
    replacement: Recorded | None,
    *,
    closed: date | None,
) -> None:
    counting = shelf.at(slot)
    if counting is None or counting.kind in _UNCORRECTABLE:
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


def _resting_on(shelf: Shelf, slot: int) -> list[int]:
    """Return the slots that rest on what a slot brings in, directly or not, in order."""
    found: set[int] = set()
    waiting: list[Subject] = list(shelf.effects(slot).introduces)
    while waiting:
        subject = waiting.pop()
        for recorded in shelf.about(subject):
            if recorded.slot not in found | {slot}:
                found.add(recorded.slot)
                waiting += shelf.effects(recorded.slot).introduces
    return sorted(found)


def _refuse_orphans(
    shelf: Shelf, old: Effects, new: Effects, resting: Iterable[int]
) -> None:
    lost = set(old.introduces) - set(new.introduces)
    for slot in resting:
        missed = lost.intersection(shelf.effects(slot).mentions)
        if missed:
            raise refuse(
                "still-used",
                "target",
                f"{min(missed)} would no longer be recorded, but entry {slot} still "
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
        new = carried_forward(old, _again(shelf, recorded, old), closed=closed, on=on)
        shelf.put(recorded, new)
        if old != new:
            before, _ = change.get(slot, (old, new))
            change[slot] = (before, new)


def _again(shelf: Shelf, recorded: Recorded, old: Effects) -> Effects:
    if recorded.kind in _UNCORRECTABLE:
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


def carried_forward(
    old: Effects, new: Effects, *, closed: date | None, on: date
) -> Effects:
    """Return new effects that leave closed periods as they were signed off.

    Where old or new postings lie in a closed period, the old ones stay, and what is
    different lands on `on`, in the open period, under the entry it corrects.
    """
    touched = (*old.postings, *new.postings)
    if closed is None or all(posting.day > closed for posting in touched):
        return new
    difference: dict[Tally, int] = {}
    for posting in new.postings:
        difference[posting.tally] = difference.get(posting.tally, 0) + posting.grams
    for posting in old.postings:
        difference[posting.tally] = difference.get(posting.tally, 0) - posting.grams
    landed = tuple(
        Posting(tally, on, grams, Cause.CORRECTED)
        for tally, grams in sorted(difference.items())
        if grams
    )
    return replace(new, postings=(*old.postings, *landed))
