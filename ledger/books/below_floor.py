"""What a change leaves below its floor: refused, or a breach that stays open.

The floor is zero, or what the terms allow within a reconciliation period; a period that is
over must have ended at zero or above. Under a rolling average percentage, no more may be
claimed than the percentage allows.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from ledger.books.account import Account
from ledger.books.correcting import Change
from ledger.books.day_order import receipts_first_in
from ledger.books.effect import Book, Tally
from ledger.books.finding import Finding, refusal, warning
from ledger.books.floor import floor_of, unsettled
from ledger.books.rolling import Average, exceeded
from ledger.books.rounding import shown
from ledger.books.running import Day, Floor, ReceiptsFirst, days, worse_days
from ledger.books.shelf import Movement, Run, Shelf
from ledger.trade.grams import show_kg


@dataclass(frozen=True, slots=True)
class Compared:
    """A running total before and after a change, from the first day it touches.

    Attributes:
        tally: The total.
        worse: Dates on which it is below its floor and lower than it was.
        late: Ends of periods, over by then, at which it is below zero and lower than it
            was.
        floor_g: Its floor on the first of those dates.
        made_good: Whether it was short and now is no longer: in the end, or on any date.
    """

    tally: Tally
    worse: tuple[Day, ...]
    late: tuple[tuple[date, int], ...]
    floor_g: int
    made_good: bool

    @property
    def is_short(self) -> bool:
        """Whether the change leaves it short where it was not, or shorter."""
        return bool(self.worse or self.late)


def compared(shelf: Shelf, change: Change, *, over_by: date) -> tuple[Compared, ...]:
    """Return every running total that a change moves, before and after it.

    Args:
        shelf: What is recorded, after the change.
        change: Effects before and after, by the slot that changed.
        over_by: Last day that is over; reconciliation periods that ended by then must
            have ended settled.
    """
    return tuple(
        _compare(shelf, tally, min(touched), change, over_by)
        for tally, touched in _changed(change).items()
        if tally.book in {Book.STOCK, Book.ACCOUNT}
    )


def shortfalls(
    shelf: Shelf, totals: Iterable[Compared], change: Change, *, may_breach: bool
) -> tuple[tuple[Finding, ...], tuple[Finding, ...]]:
    """Return what a change leaves short: refusals, and breaches that may stand.

    Args:
        shelf: What is recorded, after the change.
        totals: The running totals that it moves.
        change: Effects before and after, by the slot that changed.
        may_breach: Whether an account may be left short.
    """
    refusals: list[Finding] = []
    breaches: list[Finding] = []
    for total in totals:
        if not total.is_short:
            continue
        if total.tally.book is Book.ACCOUNT and may_breach:
            breaches.append(_breach(total))
        else:
            refusals.append(_overdrawn(total))
    for average in exceeded(shelf, change):
        if may_breach:
            breaches.append(_percentage_breach(average))
        else:
            refusals.append(_beyond_percentage(average))
    return tuple(refusals), tuple(breaches)


def _changed(change: Change) -> dict[Tally, set[date]]:
    touched: dict[Tally, set[date]] = {}
    for old, new in change.values():
        if old.postings == new.postings:
            continue
        for posting in (*old.postings, *new.postings):
            touched.setdefault(posting.tally, set()).add(posting.day)
    return dict(sorted(touched.items()))


def _compare(
    shelf: Shelf, tally: Tally, since: date, change: Change, over_by: date
) -> Compared:
    after = shelf.run(tally, since=since)
    others = [m for m in after.movements if m.slot not in change]
    was = [
        Movement(posting.day, slot, line, posting.grams, posting.cause)
        for slot, (old, _) in change.items()
        for line, posting in enumerate(old.postings)
        if posting.tally == tally and posting.day >= since
    ]
    before = Run(after.opening_g, tuple(sorted([*others, *was])))
    order, floor = receipts_first_in(shelf, tally), floor_of(shelf, tally)
    worse = tuple(worse_days(before, after, receipts_first=order, floor=floor))
    late_before, late = (
        dict(unsettled(shelf, tally, run, since=since, until=over_by))
        for run in (before, after)
    )
    worse_late = tuple(
        (end, grams) for end, grams in late.items() if grams < late_before.get(end, 0)
    )
    was_short = _is_short(before, order, floor, since) or bool(late_before)
    still_short = _is_short(after, order, floor, since) or bool(late)
    return Compared(
        tally=tally,
        worse=worse,
        late=worse_late,
        floor_g=floor(worse[0].on) if worse else 0,
        made_good=was_short
        and (before.closing_g < 0 <= after.closing_g or not still_short),
    )


def _is_short(run: Run, order: ReceiptsFirst, floor: Floor, since: date) -> bool:
    lows = [(since, run.opening_g)]
    lows += ((day.on, day.lowest_g) for day in days(run, receipts_first=order))
    return any(low < 0 and low < floor(on) for on, low in lows)


def _overdrawn(total: Compared) -> Finding:
    tally = total.tally
    if tally.book is Book.STOCK:
        first = total.worse[0]
        return refusal(
            "stock-below-zero",
            "mass_kg",
            f"lot {tally.key} would be {show_kg(-first.lowest_g)} kg below zero on "
            f"{first.on}; a lot cannot give more than it has on any date, so correct the "
            "mass or the date, or record first what brought it in",
        )
    on, low_g, allowed = _first(total)
    return refusal(
        "account-below-zero",
        "claims",
        f"account {Account.of(tally)} would be {show_kg(-low_g)} kg of bean equivalent "
        f"below zero on {on}{allowed}; claims may never exceed certified receipts, so "
        "sell less under the claim, sell without it, or record first the receipt that "
        "covers it",
    )


def _first(total: Compared) -> tuple[date, int, str]:
    """Return the first date on which an account is short, how low, and what is allowed."""
    if not total.worse:
        end, low_g = total.late[0]
        return end, low_g, ", when its reconciliation period ended"
    first = total.worse[0]
    if not total.floor_g:
        return first.on, first.lowest_g, ""
    allowed = f", where the terms allow {show_kg(-total.floor_g)} kg within a period"
    return first.on, first.lowest_g, allowed


def _breach(total: Compared) -> Finding:
    on, low_g, allowed = _first(total)
    return warning(
        "breach-opened",
        "",
        f"account {Account.of(total.tally)} is {show_kg(-low_g)} kg of bean "
        f"equivalent below zero on {on}{allowed}; the breach stays open until a receipt, "
        "a return or a correction makes it good, and the certifier will see it",
    )


def _beyond_percentage(average: Average) -> Finding:
    return refusal(
        "percentage-exceeded",
        "claims",
        f"account {average.account} would claim {_percentages(average)}; sell less under "
        "the claim, sell without it, or record first the receipt that covers it",
    )


def _percentage_breach(average: Average) -> Finding:
    return warning(
        "percentage-breach-opened",
        "",
        f"account {average.account} claims {_percentages(average)}; the breach stays open "
        "until a return or a correction makes it good, and the certifier will see it",
    )


def _percentages(average: Average) -> str:
    """Say which part of the output is claimed, and which may be."""
    claimed = shown(average.claimed_part * 100)
    return (
        f"{claimed} per cent of what was sold from {average.since} to {average.on}, but "
        f"{shown(average.allowed * 100)} per cent of what came in was certified"
    )
