"""What a trace shows: the lots some goods came through or went into, mass by mass.

A trace is a flow. What comes in at its origins passes from lot to lot and leaves in its
outcomes, and at every lot as much leaves as came in, exactly. Masses are fractions of a
gram, because a part of a well-mixed lot rarely falls on a whole one.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from fractions import Fraction
from typing import TypeVar

from ledger.books.effect import Recorded, Subject
from ledger.books.source import MadeLot, SourceLot, exact_sum
from ledger.trade.grams import to_grams
from ledger.trade.words import Form

K = TypeVar("K", bound=str)


class Direction(StrEnum):
    """Which way a trace goes."""

    BACK = "back"
    FORWARD = "forward"


class Way(StrEnum):
    """A way in which mass leaves a lot other than into another lot."""

    SOLD = "sold"
    IN_STOCK = "in stock"
    LOST = "lost in making"
    WRITTEN_OFF = "written off"


@dataclass(frozen=True, slots=True)
class TracedLot:
    """A lot that a trace passes through.

    Attributes:
        what: What the lot is.
        grams: Traced back, how much of the goods came through it; traced forward, how
            much of what is traced went into it.
    """

    what: SourceLot | MadeLot
    grams: Fraction

    @property
    def lot(self) -> str:
        """Lot number."""
        return self.what.lot

    @property
    def form(self) -> Form:
        """Form the lot is in."""
        return self.what.form

    @property
    def recorded(self) -> Recorded:
        """The receipt or batch that gave the lot."""
        return recorded_of(self.what)

    @property
    def whole_g(self) -> int:
        """Grams of the whole lot, as landed or as made; none of a rejected lot."""
        return whole_g(self.what)

    @property
    def part(self) -> Fraction:
        """The part of the whole lot that `grams` is, 0 to 1."""
        return self.grams / self.whole_g if self.whole_g else Fraction(0)


@dataclass(frozen=True, slots=True)
class Flow:
    """Traced mass that went from one lot into another."""

    source: str
    target: str
    grams: Fraction


@dataclass(frozen=True, slots=True)
class Origin:
    """Traced mass that came in with a lot.

    Attributes:
        lot: Lot number.
        grams: How much.
        source: The received lot, or None where the trace starts at a lot that was made.
    """

    lot: str
    grams: Fraction
    source: SourceLot | None


@dataclass(frozen=True, slots=True)
class Outcome:
    """Traced mass that left a lot and went into no other.

    Attributes:
        way: How it left.
        lot: The lot it left.
        grams: How much; of a sale, what was not returned.
        name: The sale, or the batch that lost it; empty for stock and what is written
            off.
        customer: Who bought it; empty where it was not sold.
        reason: Why it was lost or written off; empty otherwise.
        returned_g: Grams of the sale that came back, and are in the stock again.
    """

    way: Way
    lot: str
    grams: Fraction
    name: str = ""
    customer: str = ""
    reason: str = ""
    returned_g: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True)
class Trace:
    """Where goods came from, or where they went.

    Attributes:
        direction: Back to where it came from, or forward to where it went.
        asked: What was asked about: a lot, batch, sale or shipment.
        until: Last day that was looked at, or None for all that is recorded.
        grams: Mass traced: what origins sum to, and, forward, what outcomes sum to.
        lots: Every lot on the way, each after all lots that went into it.
        flows: Mass that went from lot to lot, in the order of `lots`.
        origins: Where the mass came in.
        outcomes: Where it left. A trace back has them only for what a sale sold.
    """

    direction: Direction
    asked: Subject
    until: date | None
    grams: Fraction
    lots: tuple[TracedLot, ...]
    flows: tuple[Flow, ...]
    origins: tuple[Origin, ...]
    outcomes: tuple[Outcome, ...]

    def share(self, grams: Fraction) -> Fraction:
        """Return which part of the mass traced some grams are, 0 to 1."""
        return grams / self.grams if self.grams else Fraction(0)

    @property
    def goods(self) -> dict[str, Fraction]:
        """Grams that the trace starts from, by lot, in the order of making.

        Forward that is what came in; back, what is in a lot beyond what it passed on.
        """
        if self.direction is Direction.FORWARD:
            return {origin.lot: origin.grams for origin in self.origins}
        rest = {found.lot: found.grams for found in self.lots}
        for flow in self.flows:
            rest[flow.source] -= flow.grams
        return {lot: grams for lot, grams in rest.items() if grams}

    @property
    def suppliers(self) -> dict[str, Fraction]:
        """Grams by the cooperative or other supplier they came from."""
        return totals((o.source.supplier, o.grams) for o in self.origins if o.source)

    @property
    def contracts(self) -> dict[str, Fraction]:
        """Grams by the contract they were bought under, where there was one."""
        return totals(
            (origin.source.contract, origin.grams)
            for origin in self.origins
            if origin.source is not None and origin.source.contract is not None
        )

    @property
    def customers(self) -> dict[str, Fraction]:
        """Grams by customer, returns taken off: none where all of it came back."""
        return totals((o.customer, o.grams) for o in self.outcomes if o.way is Way.SOLD)

    @property
    def ways(self) -> dict[Way, Fraction]:
        """Grams by the way they left, for every way, none included."""
        found = totals((outcome.way, outcome.grams) for outcome in self.outcomes)
        return {way: found.get(way, Fraction(0)) for way in Way}


def totals(parts: Iterable[tuple[K, Fraction]]) -> dict[K, Fraction]:
    """Return sums by name, sorted by name."""
    found: dict[K, list[Fraction]] = {}
    for name, grams in parts:
        found.setdefault(name, []).append(grams)
    return {name: exact_sum(found[name]) for name in sorted(found)}


def recorded_of(what: SourceLot | MadeLot) -> Recorded:
    """Return the receipt or batch that gave a lot."""
    return what.receipt if isinstance(what, SourceLot) else what.batch


def whole_g(what: SourceLot | MadeLot) -> int:
    """Return the grams of a whole lot, as landed or as made; none of a rejected lot."""
    if isinstance(what, MadeLot):
        return to_grams(what.output.mass_kg)
    return to_grams(what.part.net_landed_kg) if what.part.decision == "accepted" else 0
