"""Where a running total goes below zero, and whether a change made that worse."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from ledger.books.shelf import Movement, Run


@dataclass(frozen=True, slots=True)
class Day:
    """One date of a running total.

    Attributes:
        on: The date.
        lowest_g: Lowest it stood on that date after any movement.
        closing_g: What it stood at when the date was over.
    """

    on: date
    lowest_g: int
    closing_g: int


def in_order(
    movements: Iterable[Movement], *, receipts_first: bool = False
) -> list[Movement]:
    """Return movements in the order in which they count.

    By date, and within a date as recorded, or with what adds before what takes away.
    """
    if receipts_first:
        return sorted(movements, key=lambda m: (m.day, m.grams < 0, m.slot, m.line))
    return sorted(movements)


def days(run: Run, *, receipts_first: bool = False) -> Iterator[Day]:
    """Yield every date on which a running total moved, in order."""
    total = run.opening_g
    ordered = in_order(run.movements, receipts_first=receipts_first)
    for on, movements in groupby(ordered, key=lambda movement: movement.day):
        lowest = None
        for movement in movements:
            total += movement.grams
            lowest = total if lowest is None else min(lowest, total)
        yield Day(on, total if lowest is None else lowest, total)


def worse_days(
    before: Run, after: Run, *, receipts_first: bool = False
) -> Iterator[Day]:
    """Yield the dates on which `after` is below zero and lower than `before`.

    Both runs start on the same date. A total that was already below zero and is not
    made worse is no reason to refuse an entry.
    """
    was = {day.on: day for day in days(before, receipts_first=receipts_first)}
    now = {day.on: day for day in days(after, receipts_first=receipts_first)}
    total_before, total_after = before.opening_g, after.opening_g
    for on in sorted({*was, *now}):
        old = was.get(on, Day(on, total_before, total_before))
        new = now.get(on, Day(on, total_after, total_after))
        if new.lowest_g < 0 and new.lowest_g < old.lowest_g:
            yield new
        total_before, total_after = old.closing_g, new.closing_g
