"""What a cooperative should be able to read: delivered, owed, paid, open, and the rule."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from ledger.books.bargain import Bargain, bargain_of, recorded_until
from ledger.books.dues import ContractDues, dues_of
from ledger.books.effect import Recorded, Subject, SubjectKind
from ledger.books.lookup import expect, require
from ledger.books.owing import Shortfall, shortfalls
from ledger.books.parcel import receipts_of
from ledger.books.shelf import Shelf
from ledger.errors import NotFoundError
from ledger.trade.contract import ContractSigned, PaymentMade
from ledger.trade.grams import to_grams
from ledger.trade.money import money_of
from ledger.trade.party import PartyRegistered
from ledger.trade.shipment import ShipmentDispatched, ShipmentReceived
from ledger.trade.terms import TermsPublished

_LONGEST_NAME = 64


@dataclass(frozen=True, slots=True)
class Delivery:
    """One receipt under a contract.

    Attributes:
        shipment: Name of the shipment.
        entry: Sequence number of the receipt's entry.
        bill_of_lading: Number of the bill of lading, where it is recorded.
        shipped_on: Its date.
        received_on: Day of receipt.
        taken: Lots that the maker took.
        rejected: Lots that it did not take, with the reason of each.
        shipped_g: Net shipped weight of the lots taken.
        landed_g: Net landed weight of the same.
        payable_g: Grams that are paid for.
    """

    shipment: str
    entry: int
    bill_of_lading: str | None
    shipped_on: date | None
    received_on: date
    taken: tuple[str, ...]
    rejected: tuple[tuple[str, str], ...]
    shipped_g: int
    landed_g: int
    payable_g: Fraction


@dataclass(frozen=True, slots=True)
class Settling:
    """What is short, and the entry that would settle it once it is paid.

    Attributes:
        shortfall: What should have been paid.
        payment: The entry, with a document still to be filled in.
    """

    shortfall: Shortfall
    payment: PaymentMade


@dataclass(frozen=True, slots=True)
class Statement:
    """Everything about one contract that its seller should be able to read.

    Attributes:
        contract: The contract.
        seller: The cooperative's name as registered.
        terms: Terms of each scheme claimed, in force when it was signed: what the
            parties agreed to.
        in_force: The same schemes' terms in force on the date of the statement: their
            tables have the later rows too.
        deliveries: What was delivered, oldest first.
        dues: What is owed and was paid.
        settling: What is short, longest overdue first.
    """

    contract: ContractSigned
    seller: str
    terms: tuple[TermsPublished, ...]
    in_force: tuple[TermsPublished, ...]
    deliveries: tuple[Delivery, ...]
    dues: ContractDues
    settling: tuple[Settling, ...]


DOCUMENT = "write the bank's reference here"
"""What stands for the document of a payment that was not made yet."""


def statements_for(shelf: Shelf, name: str, as_of: date) -> tuple[Statement, ...]:
    """Return the statement of a contract, or of every contract of a cooperative.

    Args:
        shelf: What is recorded.
        name: Contract number, or party; of one name for both, the contract.
        as_of: Receipts, fixations and payments up to this date count.

    Raises:
        NotFoundError: Neither is recorded, or the party has no contract by then.
    """
    if shelf.introducer(Subject(SubjectKind.CONTRACT, name)) is not None:
        return (statement_of(shelf, name, as_of),)
    contracts = sorted(
        contract.contract
        for found in shelf.about(Subject(SubjectKind.PARTY, name), "contract.signed")
        if (contract := expect(found.record, ContractSigned)).seller == name
        and found.occurred_on <= as_of
    )
    if not contracts:
        raise NotFoundError(
            f"{name} is no contract, and no seller with a contract signed by {as_of}; "
            "check the name and the date, or list contracts with the dues command"
        )
    return tuple(statement_of(shelf, contract, as_of) for contract in contracts)


def statement_of(shelf: Shelf, contract: str, as_of: date) -> Statement:
    """Return the statement of one contract, as of a trade date.

    Raises:
        NotFoundError: No contract of that number was signed by then.
    """
    dues = dues_of(shelf, contract, as_of)
    subject = Subject(SubjectKind.CONTRACT, contract)
    recorded = require(shelf, subject, field="contract")
    bargain = bargain_of(shelf, recorded, as_of)
    return Statement(
        contract=bargain.contract,
        seller=_seller_name(shelf, bargain.contract.seller),
        terms=bargain.terms,
        in_force=tuple(bargain.terms_on(one.scheme, as_of) for one in bargain.terms),
        deliveries=tuple(_deliveries(bargain)),
        dues=dues,
        settling=tuple(settling_of(shelf, dues)),
    )


def _seller_name(shelf: Shelf, seller: str) -> str:
    found = require(shelf, Subject(SubjectKind.PARTY, seller), field="seller")
    return expect(found.record, PartyRegistered).legal_name or seller


def _deliveries(bargain: Bargain) -> Iterator[Delivery]:
    """Yield every receipt, also one of which nothing was taken."""
    contract = bargain.contract.contract
    payable = {
        receipt.recorded.seq: sum(
            (one.payable_g for one in receipt.parcels), Fraction(0)
        )
        for receipt in receipts_of(bargain)
    }
    for recorded in recorded_until(
        bargain.shelf, contract, "shipment.received", bargain.as_of
    ):
        grams = payable.get(recorded.seq, Fraction(0))
        yield _delivery(bargain.shelf, recorded, grams)


def _delivery(shelf: Shelf, recorded: Recorded, payable_g: Fraction) -> Delivery:
    receipt = expect(recorded.record, ShipmentReceived)
    shipped = shelf.introducer(Subject(SubjectKind.SHIPMENT, receipt.shipment))
    bill = None
    if shipped is not None:
        carriage = expect(shipped.record, ShipmentDispatched).carriage
        bill = carriage.bill_of_lading
    taken = [lot for lot in receipt.lots if lot.decision == "accepted"]
    return Delivery(
        shipment=receipt.shipment,
        entry=recorded.seq,
        bill_of_lading=bill,
        shipped_on=None if shipped is None else shipped.occurred_on,
        received_on=recorded.occurred_on,
        taken=tuple(lot.lot for lot in taken),
        rejected=tuple(
            (lot.lot, lot.rejected_because or "")
            for lot in receipt.lots
            if lot not in taken
        ),
        shipped_g=sum(to_grams(lot.net_shipped_kg) for lot in taken),
        landed_g=sum(to_grams(lot.net_landed_kg) for lot in taken),
        payable_g=payable_g,
    )


def settling_of(shelf: Shelf, dues: ContractDues) -> Iterator[Settling]:
    """Yield what is short under a contract, with the payment that would settle it.

    Paid on the date of the statement, it leaves nothing of it open.
    """
    used: set[str] = set()
    for short in shortfalls([dues]):
        name = _free_name(shelf, short, used)
        used.add(name)
        yield Settling(
            short,
            PaymentMade(
                payment=name,
                contract=short.contract,
                payee=short.payee,
                towards=short.duty,
                money=money_of(short.outstanding_minor, currency=short.currency),
                document=DOCUMENT,
                shipment=short.shipments[0] if len(short.shipments) == 1 else None,
            ),
        )


def _free_name(shelf: Shelf, short: Shortfall, used: set[str]) -> str:
    number = 1
    while True:
        ending = f"-settles-{number}"
        name = short.contract[: _LONGEST_NAME - len(ending)] + ending
        taken = shelf.introducer(Subject(SubjectKind.PAYMENT, name))
        if taken is None and name not in used:
            return name
        number += 1
