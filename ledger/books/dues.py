"""What is owed to growers, contract by contract, and what was paid of it.

Read with `ledger.books.bargain` (which terms and dates govern), `ledger.books.parcel`
(which weight is paid for), `ledger.books.price` and `ledger.books.on_top` (what a tonne
is owed), `ledger.books.reckoning` (from there to lines), `ledger.books.payment` (what was
paid), `ledger.books.interest` and `ledger.books.advance`. Scheme rules, contracts and
local law have the last word on what is really owed: a statement of dues helps to find
what was missed.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from ledger.books.advance import findings_of_advances
from ledger.books.bargain import (
    Bargain,
    TradeDates,
    bargain_of,
    open_quantity_g,
    recorded_until,
)
from ledger.books.due_line import DueLine
from ledger.books.effect import Subject, SubjectKind
from ledger.books.finding import Finding, warning
from ledger.books.interest import interest_of
from ledger.books.lookup import expect
from ledger.books.parcel import receipts_of
from ledger.books.payment import Settlement, settle
from ledger.books.reckoning import lines_of, parts_of
from ledger.books.shelf import Shelf
from ledger.errors import NotFoundError
from ledger.trade.contract import PaymentMade, PriceToBeFixed
from ledger.trade.grams import show_kg
from ledger.trade.shipment import ShipmentDispatched
from ledger.trade.words import Duty


@dataclass(frozen=True, slots=True)
class ContractDues:
    """What is owed and was paid under one contract.

    Attributes:
        contract: Contract number.
        cooperative: The party that sells.
        signed_on: Day of the contract.
        as_of: Trade date up to which receipts, fixations and payments count.
        currency: Currency of the contract, ISO 4217; None where it is not disclosed.
        settlements: By duty, payee and currency.
        findings: What a reader should know: figures that are missing, lots that do not
            carry their claim, fixations that are overdue.
    """

    contract: str
    cooperative: str
    signed_on: date
    as_of: date
    currency: str | None
    settlements: tuple[Settlement, ...]
    findings: tuple[Finding, ...]

    @property
    def lines(self) -> tuple[DueLine, ...]:
        """Every due line, by duty and payee, oldest due first."""
        return tuple(line for part in self.settlements for line in part.lines)


def dues_of(shelf: Shelf, contract: str, as_of: date) -> ContractDues:
    """Return what is owed and was paid under a contract, as of a trade date.

    Args:
        shelf: What is recorded.
        contract: Contract number.
        as_of: Receipts, fixations and payments up to this date count.

    Raises:
        NotFoundError: No contract of that number was signed by then.
    """
    recorded = shelf.introducer(Subject(SubjectKind.CONTRACT, contract))
    if recorded is None or recorded.occurred_on > as_of:
        signed = "is recorded" if recorded is None else f"was signed by {as_of}"
        raise NotFoundError(
            f"no contract {contract} {signed}; check its number and the date"
        )
    bargain = bargain_of(shelf, recorded, as_of)
    receipts = tuple(receipts_of(bargain))
    parts = [part for receipt in receipts for part in parts_of(bargain, receipt)]
    findings = (
        *(finding for receipt in receipts for finding in receipt.findings),
        *(part.missing for part in parts if part.missing is not None),
        *_open_past_its_day(bargain),
        *_due_before_arrival(bargain),
        *findings_of_advances(bargain),
    )
    return ContractDues(
        contract=contract,
        cooperative=bargain.contract.seller,
        signed_on=recorded.occurred_on,
        as_of=as_of,
        currency=bargain.currency,
        settlements=_settled(bargain, lines_of(parts)),
        findings=tuple(dict.fromkeys(findings)),
    )


def _settled(bargain: Bargain, lines: Iterable[DueLine]) -> tuple[Settlement, ...]:
    """Return what is owed with what was paid of it, and the interest on what was late."""
    contract = bargain.contract.contract
    payments = recorded_until(bargain.shelf, contract, "payment.made", bargain.as_of)
    of_interest = [
        found
        for found in payments
        if expect(found.record, PaymentMade).towards is Duty.INTEREST
    ]
    others = [found for found in payments if found not in of_interest]
    settled = settle(contract, lines, others)
    return settled + settle(contract, interest_of(bargain, settled), of_interest)


def all_dues(shelf: Shelf, as_of: date) -> tuple[ContractDues, ...]:
    """Return the dues of every contract signed up to a trade date, sorted by number."""
    signed = contracts_signed(shelf, as_of)
    return tuple(dues_of(shelf, contract, as_of) for contract in signed)


def contracts_signed(shelf: Shelf, as_of: date) -> Iterator[str]:
    """Yield the number of every contract signed up to a trade date, in their order."""
    for subject in shelf.subjects(SubjectKind.CONTRACT):
        recorded = shelf.introducer(subject)
        if recorded is not None and recorded.occurred_on <= as_of:
            yield subject.name


def _open_past_its_day(bargain: Bargain) -> Iterator[Finding]:
    price, left_g = bargain.contract.price, open_quantity_g(bargain)
    if (
        isinstance(price, PriceToBeFixed)
        and price.fix_by is not None
        and price.fix_by < bargain.as_of
        and left_g > 0
    ):
        yield warning(
            "not-fixed-in-time",
            "price",
            f"contract {bargain.contract.contract} was to be fixed by {price.fix_by}, but "
            f"{show_kg(left_g)} kg of it are not fixed; agree the fixation with the "
            f"{price.call} and record it with price.fixed",
        )


def _due_before_arrival(bargain: Bargain) -> Iterator[Finding]:
    """Yield shipments whose price falls due before they are received.

    What is owed is counted from the weights and lots of the receipt, so the day may
    pass while the goods are at sea; the reader should know.
    """
    contract, as_of = bargain.contract.contract, bargain.as_of
    for found in recorded_until(bargain.shelf, contract, "shipment.dispatched", as_of):
        shipment = expect(found.record, ShipmentDispatched).shipment
        arrival = bargain.shelf.introducer(Subject(SubjectKind.ARRIVAL, shipment))
        if arrival is not None and arrival.occurred_on <= as_of:
            continue
        # Nothing after receipt is asked for, so its date may stand for any.
        dates = TradeDates(
            bargain.recorded.occurred_on, found.occurred_on, found.occurred_on
        )
        days = [
            dates.due_on(term)
            for terms in bargain.terms
            for term in (terms.price_due, terms.premium_due)
            if term.after != "receipt" and dates.due_on(term) < as_of
        ]
        if days:
            yield warning(
                "due-before-arrival",
                "shipment",
                f"shipment {shipment} of contract {contract} fell due on {min(days)} and "
                f"is not received by {as_of}; what is owed for it is counted once it is, "
                "so see to its payment by the shipping documents",
            )
