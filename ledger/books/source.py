"""What a lot is: its form, its making, and the received lots it came from."""

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import lcm

from ledger.books.effect import Edge, Recorded, Subject, SubjectKind
from ledger.books.finding import refuse
from ledger.books.lookup import contract_named, require
from ledger.books.shelf import Shelf
from ledger.trade.batch import BatchMade, Output
from ledger.trade.contract import Claim
from ledger.trade.shipment import ReceivedLot, ShipmentReceived
from ledger.trade.words import Commodity, Form


@dataclass(frozen=True, slots=True)
class SourceLot:
    """A received lot, with what its contract says filled in.

    Attributes:
        lot: Lot number.
        receipt: The receipt that brought it in.
        shipment: Shipment it came with.
        supplier: Party it came from.
        commodity: What it is.
        form: Form it came in.
        origin: Country of origin, where known.
        organic: Whether it was bought as organic.
        claims: Claims under which it was bought, whether or not they counted.
        grade: Grade, where one is stated.
        accepted: Whether the maker took it.
        landed_g: Net landed weight in grams.
        part: The lot as the receipt states it.
    """

    lot: str
    receipt: Recorded
    shipment: str
    contract: str | None
    supplier: str
    commodity: Commodity
    form: Form
    origin: str | None
    organic: bool
    claims: tuple[Claim, ...]
    grade: str | None
    part: ReceivedLot


@dataclass(frozen=True, slots=True)
class MadeLot:
    """A lot that a batch gave.

    Attributes:
        lot: Lot number.
        batch: The record of the batch.
        made: What the batch was.
        output: The lot as the batch states it.
    """

    lot: str
    batch: Recorded
    made: BatchMade
    output: Output

    @property
    def form(self) -> Form:
        """Form it has reached."""
        return self.output.form


def lot_named(shelf: Shelf, lot: str, *, field: str) -> SourceLot | MadeLot:
    """Return what a lot is.

    Raises:
        EntryRefusedError: No lot of that number is recorded.
    """
    found = require(shelf, Subject(SubjectKind.LOT, lot), field=field)
    if isinstance(found.record, BatchMade):
        output = next(part for part in found.record.outputs if part.lot == lot)
        return MadeLot(lot, found, found.record, output)
    if isinstance(found.record, ShipmentReceived):
        part = next(part for part in found.record.lots if part.lot == lot)
        return source_lot(shelf, found, found.record, part)
    raise TypeError(f"lot {lot} is introduced by {found.kind}")


def source_lots(shelf: Shelf, receipt: Recorded) -> Iterator[SourceLot]:
    """Yield the lots of a receipt."""
    record = receipt.record
    if isinstance(record, ShipmentReceived):
        for part in record.lots:
            yield source_lot(shelf, receipt, record, part)


def source_lot(
    shelf: Shelf, receipt: Recorded, record: ShipmentReceived, part: ReceivedLot
) -> SourceLot:
    """Return a received lot with what its contract says filled in.

    Raises:
        EntryRefusedError: The contract is not recorded, or without a contract the lot
            does not say what it is.
    """
    if record.contract is not None:
        contract = contract_named(shelf, record.contract, field="contract")
        return SourceLot(
            lot=part.lot,
            receipt=receipt,
            shipment=record.shipment,
            contract=record.contract,
            supplier=contract.seller,
            commodity=part.commodity or contract.commodity,
            form=part.form or contract.form,
            origin=part.origin or contract.origin,
            organic=contract.organic if part.organic is None else part.organic,
            claims=contract.claims,
            grade=part.grade or contract.grade,
            part=part,
        )
    if part.commodity is None or part.form is None or record.supplier is None:
        raise refuse(
            "lot-undescribed",
            "lots",
            f"lot {part.lot} comes without a contract and does not state commodity and "
            "form; state both, or name the contract",
        )
    return SourceLot(
        lot=part.lot,
        receipt=receipt,
        shipment=record.shipment,
        contract=None,
        supplier=record.supplier,
        commodity=part.commodity,
        form=part.form,
        origin=part.origin,
        organic=bool(part.organic),
        claims=(),
        grade=part.grade,
        part=part,
    )


def composition(shelf: Shelf, lot: str) -> dict[str, Fraction]:
    """Return the share of every source lot in a lot, exact, summing to one.

    Well mixed: each output of a batch has the composition of all that went in.

    Args:
        shelf: What is recorded.
        lot: Lot number.
    """
    into = edges_upstream(shelf, [lot])
    through = passing(into, {lot: Fraction(1)})
    return {name: share for name, share in through if not into[name]}


def edges_upstream(shelf: Shelf, lots: Iterable[str]) -> dict[str, list[Edge]]:
    """Return what went into some lots and into every lot upstream, by the lot it made.

    Source lots have no edges. The shelf is asked once for each generation of lots.
    """
    into: dict[str, list[Edge]] = {}
    wanted = set(lots)
    while wanted:
        into |= {name: [] for name in wanted}
        found = shelf.edges_into(wanted)
        for edge in found:
            into[edge.target].append(edge)
        wanted = {edge.source for edge in found} - into.keys()
    return into


def passing(
    into: Mapping[str, Sequence[Edge]], goods: Mapping[str, Fraction]
) -> Iterator[tuple[str, Fraction]]:
    """Yield how much of some goods came through each lot upstream, exact.

    Every lot comes after all that was made from it, and once, so a deep chain of tank
    fills needs neither recursion nor the amounts of lots that are dealt with.

    Args:
        into: What went into the goods and into every lot upstream, by target.
        goods: Amount of each lot asked about, in any unit.
    """
    waiting = Counter(edge.source for edges in into.values() for edge in edges)
    parts = {name: [amount] for name, amount in goods.items()}
    ready = [name for name in goods if not waiting[name]]
    while ready:
        name = ready.pop()
        amount = exact_sum(parts.pop(name))
        yield name, amount
        total_g = sum(edge.grams for edge in into[name])
        for edge in into[name]:
            part = amount * Fraction(edge.grams, total_g)
            parts.setdefault(edge.source, []).append(part)
            waiting[edge.source] -= 1
            if not waiting[edge.source]:
                ready.append(edge.source)


def exact_sum(parts: Collection[Fraction]) -> Fraction:
    """Return the sum of fractions, reduced once at the end.

    Reducing after every addition is what takes the time where thousands of tank fills
    make long denominators that have nearly everything in common.
    """
    if len(parts) == 1:
        return next(iter(parts))
    numerator, denominator = 0, 1
    for part in parts:
        common = lcm(denominator, part.denominator)
        numerator *= common // denominator
        numerator += part.numerator * (common // part.denominator)
        denominator = common
    return Fraction(numerator, denominator)
