"""Judging one entry: what it does, whether the books allow it, what else it changes."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final

from ledger.books.account import Account
from ledger.books.closing import closed_until
from ledger.books.correcting import Change, correct, restate
from ledger.books.day_order import receipts_first_in
from ledger.books.effect import (
    Book,
    Effects,
    Recorded,
    Subject,
    SubjectKind,
    Tally,
)
from ledger.books.effects import effects_of, refuse_taken, warnings_of
from ledger.books.finding import EntryRefusedError, Finding, refusal, refuse, warning
from ledger.books.resting import DECIDING_KINDS, counting_by
from ledger.books.running import Day, ReceiptsFirst, days, worse_days
from ledger.books.shelf import Movement, Run, Shelf
from ledger.trade.control import Correction
from ledger.trade.grams import show_kg

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
    compared = _compared(shelf, change)
    refusals, breaches = _below_zero(compared, may_breach=may_breach)
    if refusals:
        raise EntryRefusedError(refusals)
    _note_breaches(shelf, _place_of(shelf, recorded, change), compared)
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
    if recorded.kind in DECIDING_KINDS:
        slots = sorted(counting_by(shelf, recorded, effects))
        restate(shelf, slots, change, closed=closed, on=recorded.occurred_on)
    return change


@dataclass(frozen=True, slots=True)
class _Compared:
    """A running total before and after a change, from the first day it touches.

    Attributes:
        tally: The total.
        worse: Dates on which it is below zero and lower than it was.
        made_good: Whether it was below zero and now is no longer: in the end, or on any
            date.
    """

    tally: Tally
    worse: tuple[Day, ...]
    made_good: bool


def _below_zero(
    compared: Iterable[_Compared], *, may_breach: bool
) -> tuple[tuple[Finding, ...], tuple[Finding, ...]]:
    """Return what a change leaves below zero: refusals, and breaches that may stand."""
    refusals, breaches = [], []
    for total in compared:
        if not total.worse:
            continue
        if total.tally.book is Book.ACCOUNT and may_breach:
            breaches.append(_breach(total.tally, total.worse))
        else:
            refusals.append(_overdrawn(total.tally, total.worse))
    return tuple(refusals), tuple(breaches)


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


def _note_breaches(shelf: Shelf, slot: int, compared: Iterable[_Compared]) -> None:
    """Let an entry name the accounts that it left short, or made whole again.

    That is how a breach is found later with the entry that opened it, without judging
    every entry again.
    """
    noted = [
        Subject(kind, total.tally.key)
        for total in compared
        if total.tally.book is Book.ACCOUNT
        for kind, holds in (
            (SubjectKind.SHORTFALL, bool(total.worse)),
            (SubjectKind.MADE_GOOD, total.made_good),
        )
        if holds
    ]
    if noted:
        counting, effects = shelf.take(slot)
        mentions = (*effects.mentions, *noted)
        shelf.put(counting, replace(effects, mentions=mentions))


def _changed(change: Change) -> dict[Tally, set[date]]:
    touched: dict[Tally, set[date]] = {}
    for old, new in change.values():
        if old.postings == new.postings:
            continue
        for posting in (*old.postings, *new.postings):
            touched.setdefault(posting.tally, set()).add(posting.day)
    return dict(sorted(touched.items()))


def _compared(shelf: Shelf, change: Change) -> tuple[_Compared, ...]:
    return tuple(
        _compare(shelf, tally, min(touched), change)
        for tally, touched in _changed(change).items()
    )


def _compare(shelf: Shelf, tally: Tally, since: date, change: Change) -> _Compared:
    after = shelf.run(tally, since=since)
    others = [m for m in after.movements if m.slot not in change]
    was = [
        Movement(posting.day, slot, line, posting.grams, posting.cause)
        for slot, (old, _) in change.items()
        for line, posting in enumerate(old.postings)
        if posting.tally == tally and posting.day >= since
    ]
    before = Run(after.opening_g, tuple(sorted([*others, *was])))
    order = receipts_first_in(shelf, tally)
    return _Compared(
        tally=tally,
        worse=tuple(worse_days(before, after, receipts_first=order)),
        made_good=before.closing_g < 0 <= after.closing_g
        or (_is_short(before, order) and not _is_short(after, order)),
    )


def _is_short(run: Run, order: ReceiptsFirst) -> bool:
    lows = (day.lowest_g for day in days(run, receipts_first=order))
    return run.opening_g < 0 or any(low < 0 for low in lows)


def _overdrawn(tally: Tally, worse: tuple[Day, ...]) -> Finding:
    first = worse[0]
    short = show_kg(-first.lowest_g)
    if tally.book is Book.STOCK:
        return refusal(
            "stock-below-zero",
            "mass_kg",
            f"lot {tally.key} would be {short} kg below zero on {first.on}; a lot cannot "
            "give more than it has on any date, so correct the mass or the date, or "
            "record first what brought it in",
        )
    return refusal(
        "account-below-zero",
        "claims",
        f"account {Account.of(tally)} would be {short} kg of bean equivalent below zero "
        f"on {first.on}; claims may never exceed certified receipts, so sell less under "
        "the claim, sell without it, or record first the receipt that covers it",
    )


def _breach(tally: Tally, worse: tuple[Day, ...]) -> Finding:
    first = worse[0]
    return warning(
        "breach-opened",
        "",
        f"account {Account.of(tally)} is {show_kg(-first.lowest_g)} kg of bean "
        f"equivalent below zero on {first.on}; the breach stays open until a receipt, a "
        "return or a correction makes it good, and the certifier will see it",
    )
