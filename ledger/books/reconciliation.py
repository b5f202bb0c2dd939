"""Whether all masses add up: what was there, came, went and is there, form by form.

opening + bought + made - used - lost - sold + returned - written off = closing, to the
gram. Opening and closing are what the stock book says; made, used and lost are what the
batches say. What they do not explain between them is shown as a difference and never
absorbed: it appears where a batch of a closed period was corrected later, since the closed
stock stays as it was signed off. Where such a correction lands it has a column of its own.

Source: 7 CFR 205.403(d)(4), the mass balance of an inspection, which works through
A + B - D = C: opening stock and what came in, less the closing stock, is what went out.
"""

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass, field, fields
from datetime import date
from typing import Final, TypeVar

from ledger.books.counting import Counted, counts_between
from ledger.books.effect import (
    Book,
    Cause,
    Posting,
    Recorded,
    Subject,
    SubjectKind,
)
from ledger.books.shelf import Movement, Shelf
from ledger.books.source import MadeLot, lot_named
from ledger.trade.batch import BatchMade
from ledger.trade.grams import to_grams
from ledger.trade.lot import LotWrittenOff
from ledger.trade.words import Commodity, Form, LossReason

K = TypeVar("K", bound=Hashable)

LOSSES_SHARED_OUT: Final = (
    "What a batch lost is parted among the forms of its inputs by mass, to the gram; the "
    "grams that are left over go to the forms with the largest remainders."
)
"""How a loss is told form by form where a batch takes several."""


@dataclass(frozen=True, slots=True, order=True)
class Goods:
    """Lots that are counted alike.

    Attributes:
        form: Form.
        commodity: What it is, where it is one commodity.
        recipe: Recipe it is made to, where it has one.
    """

    form: Form
    commodity: Commodity | None
    recipe: str | None


@dataclass(slots=True)
class Flow:
    """Some goods over a period, in grams.

    Attributes:
        opening_g: Stock before the first day.
        bought_g: Received.
        made_g: Made in batches.
        used_g: Gone into what batches made.
        lost_g: Lost in batches.
        sold_g: Dispatched.
        returned_g: Come back from customers.
        written_off_g: Written off.
        corrected_g: What corrections of earlier periods changed in this one, signed.
        closing_g: Stock after the last day.
    """

    opening_g: int = 0
    bought_g: int = 0
    made_g: int = 0
    used_g: int = 0
    lost_g: int = 0
    sold_g: int = 0
    returned_g: int = 0
    written_off_g: int = 0
    corrected_g: int = 0
    closing_g: int = 0

    @property
    def expected_g(self) -> int:
        """What the closing stock should be by all that moved."""
        came_g = self.opening_g + self.bought_g + self.made_g + self.returned_g
        went_g = self.used_g + self.lost_g + self.sold_g + self.written_off_g
        return came_g - went_g + self.corrected_g

    @property
    def difference_g(self) -> int:
        """Closing stock beyond what all that moved explains; 0 where it adds up."""
        return self.closing_g - self.expected_g

    @classmethod
    def of(cls, flows: Iterable["Flow"]) -> "Flow":
        """Return several flows together."""
        total = cls()
        for flow in flows:
            for part in fields(cls):
                so_far: int = getattr(total, part.name)
                setattr(total, part.name, so_far + getattr(flow, part.name))
        return total


@dataclass(frozen=True, slots=True)
class Reconciliation:
    """All masses of all sites over a period.

    Attributes:
        since: First trade date.
        until: Last trade date.
        flows: By goods; None stands for lots that a correction took out, which a closed
            period still shows.
        losses: Grams lost in batches, by reason.
        written_off: Grams written off, by reason.
        counts: Counts in the period beside the book.
        entries: Entries that moved stock in the period.
        corrected: Batches of the period that are not as they were when it was closed.
    """

    since: date
    until: date
    flows: Mapping[Goods | None, Flow]
    losses: Mapping[LossReason, int]
    written_off: Mapping[LossReason, int]
    counts: tuple[Counted, ...]
    entries: tuple[int, ...]
    corrected: tuple[int, ...]

    @property
    def forms(self) -> dict[Form | None, Flow]:
        """Flows by form, in the order in which forms are reached."""
        alike: dict[Form | None, list[Flow]] = defaultdict(list)
        for goods, flow in self.flows.items():
            alike[None if goods is None else goods.form].append(flow)
        order: list[Form | None] = [*Form, None]
        return {form: Flow.of(alike[form]) for form in order if form in alike}

    @property
    def whole(self) -> Flow:
        """All goods together."""
        return Flow.of(self.flows.values())

    @property
    def outgoing_g(self) -> int:
        """C: what went out: sold less returned, lost and written off."""
        whole = self.whole
        return whole.sold_g - whole.returned_g + whole.lost_g + whole.written_off_g

    @property
    def unexplained_g(self) -> int:
        """A + B - D - C, corrections of earlier periods set aside; 0 if it adds up."""
        whole = self.whole
        came_g = whole.opening_g + whole.bought_g + whole.corrected_g
        return came_g - whole.closing_g - self.outgoing_g

    @property
    def adds_up(self) -> bool:
        """Whether nothing is unexplained, in any form or in all together."""
        return not self.unexplained_g and not any(
            flow.difference_g for flow in self.flows.values()
        )


@dataclass(slots=True)
class _Gathered:
    flows: dict[Goods | None, Flow] = field(default_factory=lambda: defaultdict(Flow))
    of_lot: dict[str, Goods | None] = field(default_factory=dict)
    making: dict[int, list[tuple[Flow, Movement]]] = field(
        default_factory=lambda: defaultdict(list)
    )
    losses: Counter[LossReason] = field(default_factory=Counter)
    written_off: Counter[LossReason] = field(default_factory=Counter)
    slots: set[int] = field(default_factory=set)
    corrected: set[int] = field(default_factory=set)


def reconcile(shelf: Shelf, *, since: date, until: date) -> Reconciliation:
    """Return how all masses of all sites add up over a period.

    Args:
        shelf: What is recorded.
        since: First trade date.
        until: Last trade date.
    """
    gathered = _Gathered()
    for tally in shelf.tallies(Book.STOCK):
        run = shelf.run(tally, since=since, until=until)
        if run.opening_g or run.movements:
            flow = gathered.flows[_goods(shelf, gathered, tally.key)]
            flow.opening_g += run.opening_g
            flow.closing_g += run.closing_g
            for movement in run.movements:
                _note(shelf, gathered, flow, movement)
    for slot in sorted(gathered.making):
        _note_making(shelf, gathered, slot)
    return Reconciliation(
        since=since,
        until=until,
        flows=dict(gathered.flows),
        losses=_in_order(gathered.losses),
        written_off=_in_order(gathered.written_off),
        counts=counts_between(shelf, since=since, until=until),
        entries=_entries(shelf, gathered.slots),
        corrected=_entries(shelf, gathered.corrected),
    )


def _goods(shelf: Shelf, gathered: _Gathered, lot: str) -> Goods | None:
    if lot not in gathered.of_lot:
        is_known = shelf.introducer(Subject(SubjectKind.LOT, lot)) is not None
        gathered.of_lot[lot] = goods_of_lot(shelf, lot) if is_known else None
    return gathered.of_lot[lot]


def goods_of_lot(shelf: Shelf, lot: str) -> Goods:
    """Return the goods that a lot is one of.

    A made lot without a recipe is cocoa, unless its form says it is another ingredient.

    Raises:
        EntryRefusedError: The lot is not recorded.
    """
    what = lot_named(shelf, lot, field="lot")
    if not isinstance(what, MadeLot):
        return Goods(what.form, what.commodity, None)
    if what.output.recipe is not None:
        return Goods(what.form, None, what.output.recipe)
    is_cocoa = what.form is not Form.INGREDIENT
    return Goods(what.form, Commodity.COCOA if is_cocoa else None, None)


def _note(shelf: Shelf, gathered: _Gathered, flow: Flow, movement: Movement) -> None:
    gathered.slots.add(movement.slot)
    match movement.cause:
        case Cause.RECEIVED:
            flow.bought_g += movement.grams
        case Cause.SOLD:
            flow.sold_g -= movement.grams
        case Cause.RETURNED:
            flow.returned_g += movement.grams
        case Cause.WRITTEN_OFF:
            flow.written_off_g -= movement.grams
            found = shelf.at(movement.slot)
            if found is not None and isinstance(found.record, LotWrittenOff):
                gathered.written_off[found.record.reason] -= movement.grams
        case _:
            gathered.making[movement.slot].append((flow, movement))


def _note_making(shelf: Shelf, gathered: _Gathered, slot: int) -> None:
    """Note what one batch did: as its entry says, if it happened in the period.

    A batch that happened earlier moved something in the period only by a correction. A
    batch that was made void after its period was closed has only its movements left.
    """
    moved = gathered.making[slot]
    happened = any(movement.cause is Cause.USED for _, movement in moved)
    found = shelf.at(slot)
    if happened and found is not None and isinstance(found.record, BatchMade):
        _note_batch(shelf, gathered, found, found.record)
        return
    for flow, movement in moved:
        if movement.cause is Cause.USED:
            flow.used_g -= movement.grams
            gathered.corrected.add(slot)
        elif movement.cause is Cause.MADE:
            flow.made_g += movement.grams
        else:
            flow.corrected_g += movement.grams


def _note_batch(
    shelf: Shelf, gathered: _Gathered, recorded: Recorded, batch: BatchMade
) -> None:
    taken: Counter[Goods | None] = Counter()
    for part in batch.inputs:
        taken[_goods(shelf, gathered, part.lot)] += to_grams(part.mass_kg)
    lost_g = 0
    for loss in batch.losses:
        lost_g += to_grams(loss.mass_kg)
        gathered.losses[loss.reason] += to_grams(loss.mass_kg)
    lost = shared_out(lost_g, taken)
    for goods, grams in taken.items():
        flow = gathered.flows[goods]
        flow.used_g += grams - lost[goods]
        flow.lost_g += lost[goods]
    for output in batch.outputs:
        goods = _goods(shelf, gathered, output.lot)
        gathered.flows[goods].made_g += to_grams(output.mass_kg)
    if any(move.cause is Cause.CORRECTED for move in _postings(shelf, recorded)):
        gathered.corrected.add(recorded.slot)


def _postings(shelf: Shelf, recorded: Recorded) -> Iterable[Posting]:
    return shelf.effects(recorded.slot).postings


def shared_out(grams: int, by_mass: Mapping[K, int]) -> dict[K, int]:
    """Return whole grams parted by mass; they sum to what was parted.

    Each gets its part rounded down, and the grams left over go one by one to the largest
    remainders, the earlier one first where they are equal.

    Args:
        grams: What is parted, 0 or more.
        by_mass: Masses to part it by; at least one above 0.
    """
    total = sum(by_mass.values())
    parts = {name: divmod(grams * mass, total) for name, mass in by_mass.items()}
    left = grams - sum(whole for whole, _ in parts.values())
    largest = sorted(parts, key=lambda name: -parts[name][1])[:left]
    return {name: whole + (name in largest) for name, (whole, _) in parts.items()}


def _in_order(found: Counter[LossReason]) -> dict[LossReason, int]:
    return {reason: found[reason] for reason in LossReason if found[reason]}


def _entries(shelf: Shelf, slots: Iterable[int]) -> tuple[int, ...]:
    found = (shelf.at(slot) for slot in slots)
    return tuple(sorted({one.seq for one in found if one is not None}))
