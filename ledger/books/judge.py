"""Judging one entry: what it does, whether the books allow it, what else it changes."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from ledger.books.account import Account
from ledger.books.closing import closed_until
from ledger.books.correcting import Change, correct, restate
from ledger.books.day_order import receipts_first_in
from ledger.books.effect import Book, Effects, Recorded, Tally
from ledger.books.effects import effects_of, refuse_taken, warnings_of
from ledger.books.finding import EntryRefusedError, Finding, refusal, refuse, warning
from ledger.books.resting import CERTIFICATE_KINDS, counting_by
from ledger.books.running import Day, worse_days
from ledger.books.shelf import Movement, Run, Shelf
from ledger.trade.control import Correction
from ledger.trade.grams import show_kg

_FACTS: Final = CERTIFICATE_KINDS | {"shipment.dispatched", "lot.written_off"}
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
    refusals, breaches = _below_zero(shelf, change, may_breach=may_breach)
    if refusals:
        raise EntryRefusedError(refusals)
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
    if recorded.kind in CERTIFICATE_KINDS | {"shipment.dispatched"}:
        slots = sorted(counting_by(shelf, recorded, effects))
        restate(shelf, slots, change, closed=closed, on=recorded.occurred_on)
    return change


def _below_zero(
    shelf: Shelf, change: Change, *, may_breach: bool
) -> tuple[tuple[Finding, ...], tuple[Finding, ...]]:
    """Return what a change leaves below zero: refusals, and breaches that may stand."""
    refusals, breaches = [], []
    for tally, days in _changed(change).items():
        worse = list(_worse(shelf, tally, min(days), change))
        if not worse:
            continue
        if tally.book is Book.ACCOUNT and may_breach:
            breaches.append(_breach(tally, worse))
        else:
            refusals.append(_overdrawn(tally, worse))
    return tuple(refusals), tuple(breaches)


def _changed(change: Change) -> dict[Tally, set[date]]:
    days: dict[Tally, set[date]] = {}
    for old, new in change.values():
        if old.postings == new.postings:
            continue
        for posting in (*old.postings, *new.postings):
            days.setdefault(posting.tally, set()).add(posting.day)
    return dict(sorted(days.items()))


def _worse(shelf: Shelf, tally: Tally, since: date, change: Change) -> Iterator[Day]:
    after = shelf.run(tally, since=since)
    others = [m for m in after.movements if m.slot not in change]
    was = [
        Movement(posting.day, slot, line, posting.grams, posting.cause)
        for slot, (old, _) in change.items()
        for line, posting in enumerate(old.postings)
        if posting.tally == tally and posting.day >= since
    ]
    before = Run(after.opening_g, tuple(sorted([*others, *was])))
    yield from worse_days(before, after, receipts_first=receipts_first_in(shelf, tally))


def _overdrawn(tally: Tally, worse: list[Day]) -> Finding:
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


def _breach(tally: Tally, worse: list[Day]) -> Finding:
    first = worse[0]
    return warning(
        "breach-opened",
        "",
        f"account {Account.of(tally)} is {show_kg(-first.lowest_g)} kg of bean "
        f"equivalent below zero on {first.on}; the breach stays open until a receipt, a "
        "return or a correction makes it good, and the certifier will see it",
    )
