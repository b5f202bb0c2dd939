"""Random factory floors, with a plain note of everything that was done in them."""

from collections import defaultdict
from dataclasses import dataclass, field
from fractions import Fraction

from hypothesis import strategies as st

from tests.books.making_world import MakingWorld

CUSTOMERS = ("ann", "ben", "cy")


@dataclass
class Floor:
    """A world and what was done in it, noted apart from the books.

    Attributes:
        world: The world.
        received: Grams of every received lot.
        seller: Cooperative of every received lot.
        batches: Inputs and outputs of every batch, by lot.
        batch_days: Day of every batch.
        sold: Grams by sale, lot and customer.
        returned: Grams by sale and lot.
        gone: Grams written off, by lot.
        moves: Day, lot and grams with sign of everything that changed a stock.
    """

    world: MakingWorld = field(default_factory=MakingWorld)
    received: dict[str, int] = field(default_factory=dict)
    seller: dict[str, str] = field(default_factory=dict)
    batches: list[tuple[dict[str, int], dict[str, int]]] = field(default_factory=list)
    batch_days: list[int] = field(default_factory=list)
    sold: dict[tuple[str, str, str], int] = field(default_factory=dict)
    returned: dict[tuple[str, str], int] = field(default_factory=dict)
    gone: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    moves: list[tuple[int, str, int]] = field(default_factory=list)

    @property
    def lots(self) -> list[str]:
        """Every lot, in the order of making."""
        return [*self.received, *(lot for _, made in self.batches for lot in made)]

    def left(self, on: int = 9999) -> dict[str, int]:
        """Return grams on hand when a day is over, as a plain sum."""
        found = dict.fromkeys(self.lots, 0)
        for day, lot, grams in self.moves:
            if day <= on:
                found[lot] += grams
        return found

    def whole(self, lot: str) -> int:
        """Return the grams of a whole lot."""
        made = {name: g for _, outputs in self.batches for name, g in outputs.items()}
        return {**self.received, **made}[lot]

    def edges(self) -> set[tuple[str, str]]:
        """Return which lot went into which."""
        return {
            (source, target)
            for inputs, outputs in self.batches
            for source in inputs
            for target in outputs
        }

    def naive_shares(self, lot: str) -> dict[str, Fraction]:
        """Return what a lot consists of, by calling oneself for every input."""
        found: dict[str, Fraction] = {}
        inputs = self.inputs_of(lot)
        for source, grams in inputs.items():
            for name, share in self.naive_shares(source).items():
                part = share * grams / sum(inputs.values())
                found[name] = found.get(name, Fraction(0)) + part
        return found or {lot: Fraction(1)}

    def inputs_of(self, lot: str) -> dict[str, int]:
        """Return what the batch that gave a lot took; nothing for a received lot."""
        return next((used for used, made in self.batches if lot in made), {})


@st.composite
def floors(draw: st.DrawFn, *, steps: int = 12) -> Floor:
    """Draw a floor on which batches blend, split, lose, and take rework."""
    floor = Floor()
    for number in range(draw(st.integers(1, 4))):
        _receive(draw, floor, f"L{number}")
    for on in range(1, draw(st.integers(0, steps)) + 1):
        step = draw(st.sampled_from((_make, _make, _make, _sell, _return, _write_off)))
        step(draw, floor, on)
    return floor


def _receive(draw: st.DrawFn, floor: Floor, lot: str) -> None:
    grams = draw(st.integers(1, 9_999))
    seller = draw(st.sampled_from(("north", "south")))
    floor.world.receive({lot: grams}, seller=seller)
    floor.received[lot] = grams
    floor.seller[lot] = seller
    floor.moves.append((0, lot, grams))


def _some(draw: st.DrawFn, floor: Floor, most: int) -> dict[str, int]:
    """Draw masses of lots of which something is left."""
    left = {lot: grams for lot, grams in floor.left().items() if grams}
    if not left:
        return {}
    chosen = draw(st.lists(st.sampled_from(sorted(left)), min_size=1, unique=True))
    return {lot: draw(st.integers(1, left[lot])) for lot in chosen[:most]}


def _make(draw: st.DrawFn, floor: Floor, on: int) -> None:
    inputs = _some(draw, floor, 3)
    rest = sum(inputs.values())
    outputs: dict[str, int] = {}
    while rest and len(outputs) < draw(st.integers(1, 3)):
        grams = draw(st.integers(1, rest))
        outputs[f"M{len(floor.batches)}-{len(outputs)}"] = grams
        rest -= grams
    if not outputs:
        return
    floor.world.make(inputs, outputs, on=on)
    floor.batches.append((inputs, outputs))
    floor.batch_days.append(on)
    floor.moves += [(on, lot, -grams) for lot, grams in inputs.items()]
    floor.moves += [(on, lot, grams) for lot, grams in outputs.items()]


def _sell(draw: st.DrawFn, floor: Floor, on: int) -> None:
    lines = _some(draw, floor, 2)
    if not lines:
        return
    customer = draw(st.sampled_from(CUSTOMERS))
    floor.world.sell(f"S{on}", lines, customer=customer, on=on)
    for lot, grams in lines.items():
        floor.sold[f"S{on}", lot, customer] = grams
        floor.moves.append((on, lot, -grams))


def _return(draw: st.DrawFn, floor: Floor, on: int) -> None:
    left = {
        (sale, lot): grams - floor.returned.get((sale, lot), 0)
        for (sale, lot, _), grams in floor.sold.items()
    }
    open_lines = sorted(line for line, grams in left.items() if grams)
    if not open_lines:
        return
    sale, lot = draw(st.sampled_from(open_lines))
    grams = draw(st.integers(1, left[sale, lot]))
    floor.world.take_back(sale, {lot: grams}, on=on)
    floor.returned[sale, lot] = floor.returned.get((sale, lot), 0) + grams
    floor.moves.append((on, lot, grams))


def _write_off(draw: st.DrawFn, floor: Floor, on: int) -> None:
    for lot, grams in list(_some(draw, floor, 1).items()):
        floor.world.write_off(lot, grams, on=on)
        floor.gone[lot] += grams
        floor.moves.append((on, lot, -grams))
