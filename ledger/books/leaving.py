"""How a lot is used up: into batches, to customers, written off, or not yet."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction

from ledger.books.effect import Subject, SubjectKind
from ledger.books.shelf import Shelf
from ledger.books.trace import Flow, Outcome, TracedLot, Way
from ledger.trade.batch import BatchMade, Input
from ledger.trade.grams import to_grams
from ledger.trade.lot import LotWrittenOff
from ledger.trade.record import Record
from ledger.trade.sale import ReturnLine, SaleDispatched, SaleLine, SaleReturned


@dataclass(slots=True)
class _Sold:
    """Grams of one lot under one sale, as its dispatch and its returns add up."""

    customer: str = ""
    sold_g: int = 0
    returned_g: int = 0


@dataclass(slots=True)
class _Uses:
    """Everything that was done with one lot, in whole grams."""

    batches: list[BatchMade] = field(default_factory=list)
    sales: dict[str, _Sold] = field(default_factory=dict)
    losses: list[LotWrittenOff] = field(default_factory=list)


def leaving(
    shelf: Shelf, traced: TracedLot, *, until: date | None
) -> Iterator[Flow | Outcome]:
    """Yield where the traced mass in a lot went; the masses sum to it, exactly.

    What is traced is mixed well with the rest of the lot, so it left with every kilogram
    in the same proportion.

    Args:
        shelf: What is recorded.
        traced: The lot, and how much of what is traced is in it.
        until: Last day to look at, or None for all that is recorded.
    """
    lot, part = traced.lot, traced.part
    uses = _uses_of(shelf, lot, until)
    left_g = traced.whole_g
    for batch in uses.batches:
        taken_g = _of_lot(batch.inputs, lot)
        left_g -= taken_g
        yield from _spread(batch, lot, part * taken_g)
    for sale, sold in sorted(uses.sales.items()):
        kept_g = sold.sold_g - sold.returned_g
        left_g -= kept_g
        yield Outcome(
            Way.SOLD,
            lot,
            part * kept_g,
            name=sale,
            customer=sold.customer,
            returned_g=part * sold.returned_g,
        )
    for loss in uses.losses:
        gone_g = to_grams(loss.mass_kg)
        left_g -= gone_g
        yield Outcome(Way.WRITTEN_OFF, lot, part * gone_g, reason=loss.reason)
    if left_g:
        yield Outcome(Way.IN_STOCK, lot, part * left_g)


def _uses_of(shelf: Shelf, lot: str, until: date | None) -> _Uses:
    uses = _Uses()
    for found in shelf.about(Subject(SubjectKind.LOT, lot)):
        if until is None or found.occurred_on <= until:
            _note(uses, lot, found.record)
    return uses


def _note(uses: _Uses, lot: str, record: Record) -> None:
    if isinstance(record, BatchMade) and _of_lot(record.inputs, lot):
        uses.batches.append(record)
    elif isinstance(record, SaleDispatched):
        sold = uses.sales.setdefault(record.sale, _Sold())
        sold.customer = record.customer
        sold.sold_g += _of_lot(record.lines, lot)
    elif isinstance(record, SaleReturned):
        sold = uses.sales.setdefault(record.sale, _Sold())
        sold.returned_g += _of_lot(record.lines, lot)
    elif isinstance(record, LotWrittenOff):
        uses.losses.append(record)


def _of_lot(parts: Iterable[Input | SaleLine | ReturnLine], lot: str) -> int:
    return sum(to_grams(part.mass_kg) for part in parts if part.lot == lot)


def _spread(batch: BatchMade, lot: str, grams: Fraction) -> Iterator[Flow | Outcome]:
    """Yield the parts of an input that went into the outputs and losses of its batch."""
    total_g = sum(to_grams(part.mass_kg) for part in batch.inputs)
    for output in batch.outputs:
        part = Fraction(to_grams(output.mass_kg), total_g)
        yield Flow(lot, output.lot, grams * part)
    lost: dict[str, int] = {}
    for loss in batch.losses:
        lost[loss.reason] = lost.get(loss.reason, 0) + to_grams(loss.mass_kg)
    for reason, lost_g in lost.items():
        part = Fraction(lost_g, total_g)
        yield Outcome(Way.LOST, lot, grams * part, name=batch.batch, reason=reason)
