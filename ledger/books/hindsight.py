"""Accounts in hindsight: every movement lies on the day it belongs to, as it counts now.

A closed period keeps the figures that were signed off, and what is corrected in it lands
later. How old a receipt is, and what had lapsed when, is a question about the days on
which things happened, so it is asked here.
"""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date

from ledger.books.effect import Book, Cause, Posting, Recorded, Tally
from ledger.books.front import FrontShelf
from ledger.books.lookup import expect
from ledger.books.shelf import Movement, Run, Shelf
from ledger.trade.control import Correction

_MAY_LAND_LATER = frozenset({Cause.CORRECTED, Cause.WRITTEN_OFF})


def corrections_by_slot(shelf: Shelf) -> Mapping[int, list[Recorded]]:
    """Return every correction, in order, by the slot that it is about."""
    slots: dict[int, int] = {}
    found: dict[int, list[Recorded]] = {}
    for recorded in sorted(shelf.of_kind("correction"), key=lambda one: one.seq):
        target = expect(recorded.record, Correction).target
        slots[recorded.seq] = slots.get(target, target)
        found.setdefault(slots[recorded.seq], []).append(recorded)
    return found


class Hindsight(FrontShelf):
    """Passes every question on, but for the movements of accounts.

    All that an entry moves lies on the day on which it happened, also what a correction
    or a rejection took off later. What lapsed is left out until it is told.
    """

    def __init__(self, behind: Shelf) -> None:
        """Take the shelf that answers."""
        super().__init__(behind)
        self._corrected = corrections_by_slot(behind).keys()
        self._placed: dict[Tally, list[Movement]] = {}

    def let_lapse(self, slot: int, posting: Posting) -> None:
        """Take in what lapses when the period of a slot is closed."""
        moved = self._moved(posting.tally)
        lapsed = Movement(posting.day, slot, len(moved), posting.grams, posting.cause)
        self._placed[posting.tally] = sorted((*moved, lapsed))

    def run(
        self, tally: Tally, since: date | None = None, until: date | None = None
    ) -> Run:
        """Return a running total from `since` to `until`, both included."""
        if tally.book is not Book.ACCOUNT:
            return super().run(tally, since, until)
        moved = self._moved(tally)
        before = (m.grams for m in moved if since is not None and m.day < since)
        return Run(
            sum(before),
            tuple(
                m
                for m in moved
                if (since is None or since <= m.day)
                and (until is None or m.day <= until)
            ),
        )

    def _moved(self, tally: Tally) -> list[Movement]:
        if tally not in self._placed:
            self._placed[tally] = sorted(self._in_their_place(tally))
        return self._placed[tally]

    def _in_their_place(self, tally: Tally) -> Iterator[Movement]:
        for movement in super().run(tally).movements:
            if movement.cause is Cause.LAPSED:
                continue
            if movement.cause in _MAY_LAND_LATER or movement.slot in self._corrected:
                found = self.at(movement.slot)
                # All that a void entry moved comes to nothing.
                if found is not None and not isinstance(found.record, Correction):
                    yield replace(movement, day=found.occurred_on)
            else:
                yield movement
