"""How much of an account was received lately: receipts are used oldest first.

What is moved from one account to another, or parted into other forms, keeps its age, so
that moving it there and back makes nothing younger.
"""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction

from ledger.books.account import Account
from ledger.books.effect import Book, Cause, Tally
from ledger.books.rounding import credited
from ledger.books.shelf import Movement, Shelf
from ledger.trade.shipment import ShipmentReceived

_MOVED = frozenset({Cause.TRANSFERRED, Cause.CONVERTED})
_BY_RECEIPTS = frozenset({Cause.RECEIVED, Cause.WRITTEN_OFF, Cause.CORRECTED})


@dataclass(frozen=True, slots=True)
class RecentMove:
    """What one movement changed about what is recent in an account.

    Attributes:
        movement: The movement.
        recent_g: Grams that became recent there, or no longer are, with a sign.
        on_the_way: Of what was moved into it: recent grams, and all; None else.
    """

    movement: Movement
    recent_g: int
    on_the_way: tuple[int, int] | None = None


def recent_moves(
    shelf: Shelf, tally: Tally, since: date, until: date
) -> tuple[RecentMove, ...]:
    """Return the movements that make up what came into an account in a stretch of time.

    It is what receipts of the time added, as they count now, and of what was moved in,
    the part that was received in it; what was moved out again is left out. It may exceed
    what the account still holds.

    Args:
        shelf: What is recorded; in hindsight (`ledger.books.hindsight`) where a period
            was closed, since what is corrected in one lands later.
        tally: The account.
        since: First trade date.
        until: Last trade date.
    """
    movements = shelf.run(tally, since, until).movements
    if not any(movement.cause in _MOVED for movement in movements):
        return tuple(
            RecentMove(m, m.grams) for m in movements if _of_a_receipt(shelf, m)
        )
    related = {
        found: shelf.run(found, since, until) for found in related_to(shelf, tally)
    }
    ages = _Ages(defaultdict(int, {t: run.opening_g for t, run in related.items()}))
    everything = [
        (movement, found)
        for found, run in related.items()
        for movement in run.movements
    ]
    moves = (
        (found, ages.move(found, movement, received=_of_a_receipt(shelf, movement)))
        for movement, found in sorted(everything, key=_as_recorded)
    )
    return tuple(move for found, move in moves if found == tally and move.recent_g)


def related_to(shelf: Shelf, tally: Tally) -> list[Tally]:
    """Return the accounts between which the bean equivalent of an account may move."""
    account = Account.of(tally)
    return [
        found
        for found in shelf.tallies(Book.ACCOUNT)
        if (other := Account.of(found)).scheme == account.scheme
        and other.commodity == account.commodity
    ]


def _of_a_receipt(shelf: Shelf, movement: Movement) -> bool:
    """Tell whether a movement is what a receipt adds, or what was taken off it since."""
    if movement.cause not in _BY_RECEIPTS:
        return False
    found = shelf.at(movement.slot)
    return found is not None and isinstance(found.record, ShipmentReceived)


def _as_recorded(item: tuple[Movement, Tally]) -> tuple[date, int, int]:
    movement, _ = item
    return movement.day, movement.slot, movement.line


@dataclass(slots=True)
class _Ages:
    """What related accounts hold, and how much of it is recent, as movements go by.

    Attributes:
        standing_g: What each account holds.
        recent_g: How much of that was received in the stretch looked at.
        on_the_way: Of what each entry last took out to move: recent grams, and all.
    """

    standing_g: defaultdict[Tally, int]
    recent_g: defaultdict[Tally, int] = field(default_factory=lambda: defaultdict(int))
    on_the_way: dict[int, tuple[int, int]] = field(default_factory=dict)

    def move(self, tally: Tally, movement: Movement, *, received: bool) -> RecentMove:
        """Take in one movement; what is taken out is the oldest there is."""
        move = (
            RecentMove(movement, movement.grams)
            if received
            else self._moved(tally, movement)
        )
        self.recent_g[tally] += move.recent_g
        self.standing_g[tally] += movement.grams
        return move

    def _moved(self, tally: Tally, movement: Movement) -> RecentMove:
        grams = movement.grams
        if movement.cause not in _MOVED:
            return RecentMove(movement, 0)
        if grams < 0:
            old_g = max(0, self.standing_g[tally] - self.recent_g[tally])
            recent_g = max(0, -grams - old_g)
            self.on_the_way[movement.slot] = recent_g, -grams
            return RecentMove(movement, -recent_g)
        recent_g, whole_g = self.on_the_way.get(movement.slot, (0, 1))
        moved_g = credited(Fraction(grams * recent_g, whole_g))
        return RecentMove(movement, moved_g, (recent_g, whole_g))
