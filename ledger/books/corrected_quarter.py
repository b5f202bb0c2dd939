"""What was corrected in a quarter after the books were closed over it."""

from datetime import date

from ledger.books.hindsight import corrections_by_slot
from ledger.books.lookup import expect
from ledger.books.quarter import Quarter
from ledger.books.shelf import Shelf
from ledger.trade.control import Correction, PeriodClosed


def corrected_since_closed(shelf: Shelf, quarter: Quarter) -> tuple[int, ...]:
    """Return the numbers of corrections of what a quarter was closed with.

    Masses of a closed quarter stay as they were signed off, but not every figure of it is
    a mass: what is claimed or invoiced is read from the entries as they count now.

    Args:
        shelf: What is recorded.
        quarter: The quarter.
    """
    closes = shelf.of_kind("period.closed")
    return tuple(
        correction.seq
        for slot, corrections in corrections_by_slot(shelf).items()
        if (days := _days(shelf, slot, quarter))
        for correction in corrections
        if any(
            close.seq < correction.seq
            and expect(close.record, PeriodClosed).end >= min(days)
            for close in closes
        )
    )


def _days(shelf: Shelf, slot: int, quarter: Quarter) -> list[date]:
    found = shelf.at(slot)
    days = [posting.day for posting in shelf.effects(slot).postings]
    if found is not None and not isinstance(found.record, Correction):
        days.append(found.occurred_on)
    return [day for day in days if quarter.first <= day <= quarter.last]
