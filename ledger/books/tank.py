"""What is in the holding tanks: lots by tank, and the lots bought that are in them.

A tank's content is well mixed, so each part of it has the composition of the whole.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from ledger.books.shelf import Shelf
from ledger.books.source import MadeLot, SourceLot, composition, exact_sum, lot_named
from ledger.books.stock import OnHand
from ledger.trade.words import Step


@dataclass(frozen=True, slots=True)
class Portion:
    """Part of a tank's content that came from one lot bought.

    Attributes:
        source: The lot bought, such as beans of one receipt, butter or sugar.
        share: Its share of the content by mass, exact.
        grams: Grams of it, exact.
    """

    source: SourceLot
    share: Fraction
    grams: Fraction


@dataclass(frozen=True, slots=True)
class Tank:
    """One tank with something in it.

    Attributes:
        place: Name of the tank.
        lots: Lots in it, the largest first; as a rule one.
        portions: What they came from, the largest first; shares sum to one.
    """

    place: str
    lots: tuple[OnHand, ...]
    portions: tuple[Portion, ...]

    @property
    def grams(self) -> int:
        """Grams in it."""
        return sum(held.grams for held in self.lots)

    @property
    def hold(self) -> str | None:
        """Hold under which nothing may leave it, if any."""
        return next((held.hold for held in self.lots if held.hold), None)


def tanks_in(shelf: Shelf, stock: Iterable[OnHand]) -> tuple[Tank, ...]:
    """Return the tanks that hold something, by name.

    A place is a tank where something was put by the step of that name.

    Args:
        shelf: What is recorded.
        stock: What is on hand.
    """
    lying: dict[str, list[OnHand]] = {}
    for held in stock:
        if held.place is not None:
            lying.setdefault(held.place, []).append(held)
    return tuple(
        tank_of(shelf, place, lots)
        for place, lots in sorted(lying.items())
        if any(_is_from_tank(shelf, held.lot) for held in lots)
    )


def tank_of(shelf: Shelf, place: str, lots: Iterable[OnHand]) -> Tank:
    """Return a tank with what its content came from."""
    held = tuple(sorted(lots, key=lambda one: (-one.grams, one.lot)))
    parts: dict[str, list[Fraction]] = {}
    for one in held:
        for source, share in composition(shelf, one.lot).items():
            parts.setdefault(source, []).append(share * one.grams)
    total = sum(one.grams for one in held)
    portions = [
        Portion(_source(shelf, name), exact_sum(masses) / total, exact_sum(masses))
        for name, masses in parts.items()
    ]
    portions.sort(key=lambda one: (-one.share, one.source.lot))
    return Tank(place, held, tuple(portions))


def _is_from_tank(shelf: Shelf, lot: str) -> bool:
    what = lot_named(shelf, lot, field="lot")
    return isinstance(what, MadeLot) and what.made.step is Step.TANK


def _source(shelf: Shelf, lot: str) -> SourceLot:
    what = lot_named(shelf, lot, field="lot")
    if not isinstance(what, SourceLot):
        raise TypeError(lot)
    return what
