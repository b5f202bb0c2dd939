"""How far a contract is carried out: fixed, shipped, received, and what is late."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from math import ceil

from ledger.books.bargain import bargain_of, open_quantity_g, recorded_until
from ledger.books.effect import Recorded, Subject, SubjectKind
from ledger.books.lookup import expect
from ledger.books.shelf import Shelf
from ledger.trade.contract import ContractSigned, PriceToBeFixed
from ledger.trade.grams import to_grams
from ledger.trade.shipment import ShipmentDispatched, ShipmentReceived


@dataclass(frozen=True, slots=True)
class Consignment:
    """One shipment under a contract.

    Attributes:
        shipment: Name of the shipment.
        shipped_on: Day of the bill of lading; None where only its arrival is recorded.
        received_on: Day of arrival; None while it is on the way.
        shipped_g: Grams shipped, net.
        received_g: Grams landed of the lots that were accepted.
        rejected_g: Grams shipped of the lots that were rejected.
    """

    shipment: str
    shipped_on: date | None
    received_on: date | None
    shipped_g: int
    received_g: int = 0
    rejected_g: int = 0

    def days_on_the_way(self, as_of: date) -> int | None:
        """Return how many days it is on the way; None once it arrived."""
        if self.shipped_on is None or self.received_on is not None:
            return None
        return (as_of - self.shipped_on).days


@dataclass(frozen=True, slots=True)
class Fulfilment:
    """How far one contract is carried out, as of a date.

    Attributes:
        contract: The contract.
        signed_on: Day on which it was signed.
        entry: Sequence number of its entry.
        as_of: Trade date up to which everything counts.
        to_fix_g: Grams whose price is still to be fixed.
        consignments: Its shipments, in order of date.
    """

    contract: ContractSigned
    signed_on: date
    entry: int
    as_of: date
    to_fix_g: int
    consignments: tuple[Consignment, ...]

    @property
    def contracted_g(self) -> int:
        """Grams contracted."""
        return to_grams(self.contract.quantity_kg)

    @property
    def fixed_g(self) -> int:
        """Grams that have a price; all of them where it was agreed outright."""
        return self.contracted_g - self.to_fix_g

    @property
    def shipped_g(self) -> int:
        """Grams shipped, what was rejected left out."""
        return sum(one.shipped_g - one.rejected_g for one in self.consignments)

    @property
    def received_g(self) -> int:
        """Grams landed and accepted."""
        return sum(one.received_g for one in self.consignments)

    @property
    def on_the_way_g(self) -> int:
        """Grams shipped and not yet received."""
        return sum(
            one.shipped_g for one in self.consignments if one.received_on is None
        )

    @property
    def to_ship_g(self) -> int:
        """Grams still to be shipped; none once the least that is allowed was."""
        least_g = ceil(
            self.contracted_g
            * (100 - Fraction(self.contract.tolerance_percent or 0))
            / 100
        )
        if self.shipped_g >= least_g:
            return 0
        return self.contracted_g - self.shipped_g

    @property
    def is_done(self) -> bool:
        """Whether everything is shipped, received and priced."""
        return not (self.to_ship_g or self.on_the_way_g or self.to_fix_g)

    @property
    def ship_late_days(self) -> int:
        """Days since the shipment period ended with goods still to be shipped."""
        return self._late(self.contract.ship_until, self.to_ship_g)

    @property
    def fix_late_days(self) -> int:
        """Days since the price was to be fixed, while some of it is not."""
        price = self.contract.price
        by = price.fix_by if isinstance(price, PriceToBeFixed) else None
        return self._late(by, self.to_fix_g)

    def _late(self, last: date | None, open_g: int) -> int:
        return 0 if last is None or not open_g else max(0, (self.as_of - last).days)


def fulfilment_of(shelf: Shelf, recorded: Recorded, as_of: date) -> Fulfilment:
    """Return how far a contract is carried out.

    Args:
        shelf: What is recorded.
        recorded: The contract's entry.
        as_of: Trade date up to which fixations and shipments count.

    Raises:
        EntryRefusedError: A scheme's terms did not govern when it was signed.
    """
    contract = expect(recorded.record, ContractSigned)
    return Fulfilment(
        contract=contract,
        signed_on=recorded.occurred_on,
        entry=recorded.seq,
        as_of=as_of,
        to_fix_g=open_quantity_g(bargain_of(shelf, recorded, as_of)),
        consignments=tuple(_consignments(shelf, contract.contract, as_of)),
    )


def fulfilments(shelf: Shelf, as_of: date) -> Iterator[Fulfilment]:
    """Yield how far every contract signed up to a date is carried out, by number."""
    for subject in shelf.subjects(SubjectKind.CONTRACT):
        recorded = shelf.introducer(subject)
        if recorded is not None and recorded.occurred_on <= as_of:
            yield fulfilment_of(shelf, recorded, as_of)


def on_the_way(shelf: Shelf, as_of: date) -> Iterator[tuple[ContractSigned, Recorded]]:
    """Yield contract and entry of each shipment that left and has not arrived."""
    for subject in shelf.subjects(SubjectKind.SHIPMENT):
        left = shelf.introducer(subject)
        arrival = Subject(SubjectKind.ARRIVAL, subject.name)
        if left is None or left.occurred_on > as_of:
            continue
        arrived = shelf.introducer(arrival)
        if arrived is not None and arrived.occurred_on <= as_of:
            continue
        named = expect(left.record, ShipmentDispatched).contract
        signed = shelf.introducer(Subject(SubjectKind.CONTRACT, named))
        if signed is not None:
            yield expect(signed.record, ContractSigned), left


def _consignments(shelf: Shelf, contract: str, as_of: date) -> Iterator[Consignment]:
    left = {
        expect(found.record, ShipmentDispatched).shipment: found
        for found in recorded_until(shelf, contract, "shipment.dispatched", as_of)
    }
    arrived = {
        expect(found.record, ShipmentReceived).shipment: found
        for found in recorded_until(shelf, contract, "shipment.received", as_of)
    }
    for name in dict.fromkeys((*left, *arrived)):
        yield consignment(name, left.get(name), arrived.get(name))


def consignment(
    name: str, left: Recorded | None, arrived: Recorded | None
) -> Consignment:
    """Return a shipment from the entries of its leaving and its arrival.

    Args:
        name: Name of the shipment.
        left: Entry of what left; None where only the arrival is recorded.
        arrived: Entry of what arrived; None while it is on the way.
    """
    shipped_on = None if left is None else left.occurred_on
    if arrived is None:
        sent = left and expect(left.record, ShipmentDispatched)
        return Consignment(
            name, shipped_on, None, to_grams(sent.net_shipped_kg) if sent else 0
        )
    lots = expect(arrived.record, ShipmentReceived).lots
    taken = [lot for lot in lots if lot.decision == "accepted"]
    shipped_g = sum(to_grams(lot.net_shipped_kg) for lot in lots)
    return Consignment(
        shipment=name,
        shipped_on=shipped_on,
        received_on=arrived.occurred_on,
        shipped_g=shipped_g,
        received_g=sum(to_grams(lot.net_landed_kg) for lot in taken),
        rejected_g=shipped_g - sum(to_grams(lot.net_shipped_kg) for lot in taken),
    )
