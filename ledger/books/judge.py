"""Judging one entry: what it does, whether the books allow it, what else it changes."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final

from ledger.books.below_floor import Compared, compared, shortfalls
from ledger.books.closing import closed_until
from ledger.books.correcting import Change, correct, restate, restate_the_rest
from ledger.books.effect import (
    Book,
    Effects,
    Recorded,
    Subject,
    SubjectKind,
)
from ledger.books.effects import effects_of, refuse_taken, warnings_of
from ledger.books.finding import EntryRefusedError, Finding, refuse
from ledger.books.resting import DECIDING_KINDS, counted_anew_by
from ledger.books.shelf import Shelf
from ledger.trade.control import Correction

_FACTS: Final = DECIDING_KINDS | {"lot.written_off"}
"""What must be recorded even if it leaves an account short, because it is so."""


@dataclass(frozen=True, slots=True)
class Judgement:
    """What came of judging an entry that was let in.

    Attributes:
        warnings: What is unusual about it, breaches that it opens included.
        restated: Slots of earlier entries that count differently because of it.
    """

    warnings: tuple[Finding, ...]
    restated: tuple[int, ...]


def judge(shelf: Shelf, recorded: Recorded) -> Judgement:
    """Let an entry count on the shelf, if the books allow it.

    On refusal the shelf is left half-changed: its owner goes back to the state before,
    by rolling back a transaction or dropping the shelf.

    Raises:
        EntryRefusedError: The books refuse it; the error carries every reason.
    """
    _check_date(recorded)
    closed = closed_until(shelf)
    counting: Recorded | None = recorded
    if isinstance(recorded.record, Correction):
        change, counting = correct(shelf, recorded, recorded.record, closed=closed)
        may_breach = recorded.record.accept_breach
    else:
        change = _let_in(shelf, recorded, closed)
        may_breach = recorded.kind in _FACTS
    found = () if counting is None else warnings_of(shelf, counting)
    over_by = recorded.recorded_at.date() - timedelta(days=1)
    totals = compared(shelf, change, over_by=over_by)
    refusals, breaches = shortfalls(shelf, totals, change, may_breach=may_breach)
    if refusals:
        raise EntryRefusedError(refusals)
    _note_breaches(shelf, _place_of(shelf, recorded, change), totals)
    return Judgement(
        warnings=(*found, *breaches),
        restated=tuple(sorted(change.keys() - {recorded.slot})),
    )


def _check_date(recorded: Recorded) -> None:
    if recorded.occurred_on > recorded.recorded_at.date() + timedelta(days=1):
        raise refuse(
            "date-in-future",
            "occurred_on",
            f"occurred_on is {recorded.occurred_on}, but it is recorded on "
            f"{recorded.recorded_at.date()}; an entry says what has happened, so record "
            "it when it has",
        )


def _let_in(shelf: Shelf, recorded: Recorded, closed: date | None) -> Change:
    effects = effects_of(shelf, recorded)
    refuse_taken(shelf, effects)
    early = [p.day for p in effects.postings if closed is not None and p.day <= closed]
    if early and recorded.kind != "period.closed":
        raise refuse(
            "period-closed",
            "occurred_on",
            f"occurred_on is {min(early)}, but the books are closed up to {closed}; "
            "date it in the open period, and note when it really happened",
        )
    shelf.put(recorded, effects)
    change = {recorded.slot: (Effects(), effects)}
    slots = sorted(counted_anew_by(shelf, recorded, effects))
    restate(shelf, slots, change, closed=closed, on=recorded.occurred_on)
    restate_the_rest(shelf, change, closed=closed, on=recorded.occurred_on)
    return change


def _place_of(shelf: Shelf, recorded: Recorded, change: Change) -> int:
    """Return the slot of an entry just let in; a correction may keep a void one's."""
    for slot in change:
        found = shelf.at(slot)
        if (
            found is not None
            and found.seq == recorded.seq
            and isinstance(found.record, Correction)
        ):
            return slot
    return recorded.slot


def _note_breaches(shelf: Shelf, slot: int, totals: Iterable[Compared]) -> None:
    """Let an entry name the accounts that it left short, or made whole again.

    That is how a breach is found later with the entry that opened it, without judging
    every entry again.
    """
    noted = [
        Subject(kind, total.tally.key)
        for total in totals
        if total.tally.book is Book.ACCOUNT
        for kind, holds in (
            (SubjectKind.SHORTFALL, total.is_short),
            (SubjectKind.MADE_GOOD, total.made_good),
        )
        if holds
    ]
    if noted:
        counting, effects = shelf.take(slot)
        mentions = (*effects.mentions, *noted)
        shelf.put(counting, replace(effects, mentions=mentions))
