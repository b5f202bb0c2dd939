"""Where a running total goes below zero, and whether a change made that worse.

What one entry does to a total on one date counts as one moment. Moments of a date follow
in the order recorded, or, where the terms say so, what adds before what takes away. What
had lapsed and no longer did comes first: it was there all along.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from ledger.books.effect import Cause
from ledger.books.shelf import Movement, Run

ReceiptsFirst = Callable[[date], bool]
"""Tells whether, on a date, what adds counts before what takes away."""

_Moment = tuple[date, int, int]
"""Date, place among what adds and takes away, slot: sorts as it counts."""


Floor = Callable[[date], int]
"""Tells the lowest that a running total may stand at on a date, in grams, 0 or below."""


def at_zero(_on: date) -> int:
    """Tell that a running total may not fall below zero, on any date."""
    return 0


def as_recorded(_on: date) -> bool:
    """Tell that movements of a date count in the order recorded, on every date."""
    return False


@dataclass(frozen=True, slots=True)
class Day:
    """One date of a running total.

    Attributes:
        on: The date.
        lowest_g: Lowest it stood on that date after any entry.
        closing_g: What it stood at when the date was over.
    """

    on: date
    lowest_g: int
    closing_g: int


def in_order(
    movements: Iterable[Movement], *, receipts_first: ReceiptsFirst = as_recorded
) -> list[Movement]:
    """Return movements in the order in which they count: by date, and within a date."""
    found = sorted(movements)
    turned = _turned(found, receipts_first)
    return sorted(found, key=lambda m: (*_moment(m, turned), m.line))


def days(run: Run, *, receipts_first: ReceiptsFirst = as_recorded) -> Iterator[Day]:
    """Yield every date on which a running total moved, in order."""
    total = run.opening_g
    turned = _turned(run.movements, receipts_first)
    moments = sorted(_by_moment(run, turned).items())
    for on, moved in groupby(moments, key=lambda item: item[0][0]):
        stood = []
        for _, grams in moved:
            total += grams
            stood.append(total)
        yield Day(on, min(stood), total)


def worse_days(
    before: Run,
    after: Run,
    *,
    receipts_first: ReceiptsFirst = as_recorded,
    floor: Floor = at_zero,
) -> Iterator[Day]:
    """Yield the dates on which `after` is at some moment both below its floor and lower.

    Lower than `before` was at the same moment, that is. Both runs start on the same
    date. A total that was already below its floor and is not made worse is no reason to
    refuse an entry; but an earlier low of the same date excuses nothing.
    """
    turned = _turned((*before.movements, *after.movements), receipts_first)
    was, now = _by_moment(before, turned), _by_moment(after, turned)
    total_before, total_after = before.opening_g, after.opening_g
    for on, moments in groupby(sorted({*was, *now}), key=lambda moment: moment[0]):
        worse = []
        for moment in moments:
            total_before += was.get(moment, 0)
            total_after += now.get(moment, 0)
            # The floor is zero or below, and asked for only where it matters.
            if total_after < min(0, total_before) and total_after < floor(on):
                worse.append(total_after)
        if worse:
            yield Day(on, min(worse), total_after)


def _turned(
    movements: Iterable[Movement], receipts_first: ReceiptsFirst
) -> frozenset[date]:
    """Return the dates on which what adds is moved before what takes away.

    The terms are asked only about dates on which it makes a difference.
    """
    first_taken: dict[date, int] = {}
    last_added: dict[date, int] = {}
    for movement in sorted(movements):
        if movement.grams < 0:
            first_taken.setdefault(movement.day, movement.slot)
        else:
            last_added[movement.day] = movement.slot
    return frozenset(
        on
        for on, taken in first_taken.items()
        if last_added.get(on, taken) > taken and receipts_first(on)
    )


def _moment(movement: Movement, turned: frozenset[date]) -> _Moment:
    if movement.grams > 0 and movement.cause is Cause.LAPSED:
        return movement.day, -1, movement.slot
    takes = movement.grams < 0 and movement.day in turned
    return movement.day, int(takes), movement.slot


def _by_moment(run: Run, turned: frozenset[date]) -> dict[_Moment, int]:
    found: dict[_Moment, int] = {}
    for movement in run.movements:
        moment = _moment(movement, turned)
        found[moment] = found.get(moment, 0) + movement.grams
    return found
