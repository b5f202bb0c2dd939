"""Holds: what may not move, since when and why, and when it was let go."""

from dataclasses import dataclass
from datetime import date

from ledger.books.effect import Recorded, Subject, SubjectKind, Tally
from ledger.books.lookup import expect
from ledger.books.shelf import Shelf
from ledger.trade.lot import HoldPlaced, HoldReleased, LotRejected


@dataclass(frozen=True, slots=True)
class Held:
    """One hold.

    Attributes:
        hold: Its name.
        placed: The entry that placed it, or that rejected a lot.
        lots: Lots under it, each with the grams that are left of it.
        reason: Why.
        released: The entry that released it; None while it holds.
    """

    hold: str
    placed: Recorded
    lots: tuple[tuple[str, int], ...]
    reason: str
    released: Recorded | None

    def holds_on(self, day: date) -> bool:
        """Tell whether nothing under it may move on a day."""
        is_over = self.released is not None and self.released.occurred_on <= day
        return self.placed.occurred_on <= day and not is_over


def all_holds(shelf: Shelf, on: date) -> tuple[Held, ...]:
    """Return every hold that was ever placed, the last first.

    Args:
        shelf: What is recorded.
        on: Day whose stock is told.
    """
    placed = [*shelf.of_kind("hold.placed"), *shelf.of_kind("lot.rejected")]
    placed.sort(key=lambda found: (found.occurred_on, found.slot), reverse=True)
    return tuple(_held(shelf, found, on) for found in placed)


def open_holds(shelf: Shelf, on: date) -> tuple[Held, ...]:
    """Return the holds under which something may not move on a day, the last first."""
    return tuple(held for held in all_holds(shelf, on) if held.holds_on(on))


def _held(shelf: Shelf, placed: Recorded, on: date) -> Held:
    if isinstance(placed.record, LotRejected):
        lots: tuple[str, ...] = (placed.record.lot,)
        hold, reason = placed.record.hold, placed.record.reason
    else:
        given = expect(placed.record, HoldPlaced)
        lots, hold, reason = given.lots, given.hold, given.reason
    releases = shelf.about(Subject(SubjectKind.HOLD, hold), "hold.released")
    released = min(releases, key=lambda one: one.occurred_on, default=None)
    left = tuple((lot, shelf.run(Tally.stock(lot), until=on).closing_g) for lot in lots)
    return Held(hold, placed, left, reason, released)


def reason_of_release(held: Held) -> str:
    """Return why a hold was released; empty while it holds."""
    if held.released is None:
        return ""
    return expect(held.released.record, HoldReleased).reason
