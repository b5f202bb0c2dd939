"""What a contract and the terms it was signed under settle about its dues."""

from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from ledger.books.effect import Recorded, Subject, SubjectKind
from ledger.books.finding import EntryRefusedError
from ledger.books.lookup import expect, terms_in_force
from ledger.books.receiving import trade_date
from ledger.books.shelf import Shelf
from ledger.books.source import SourceLot
from ledger.books.working import NotComputableError
from ledger.trade.contract import (
    ContractSigned,
    FixedPrice,
    PaymentMade,
    PriceFixed,
    PriceToBeFixed,
)
from ledger.trade.grams import to_grams
from ledger.trade.money import currency_of
from ledger.trade.terms import PaymentTerm, TermsPublished
from ledger.trade.words import Governing

_DOCUMENT_OF = {
    "contract": Governing.CONTRACT,
    "shipment": Governing.SHIPMENT,
    "receipt": Governing.DELIVERY,
}
_USUAL_FALL_BACK_DAYS = 5
"""Holidays bridged where the terms name no market: as many as where they do not say."""


@dataclass(frozen=True, slots=True)
class Tranche:
    """A part of a contract that has its price from one source.

    Attributes:
        fixed_on: Day on which the price was fixed: of the contract where it was agreed
            outright, of the fixation where it was to be fixed; None where it is not.
        fixation: The fixation, where there is one.
        entry: Sequence number of the fixation's entry.
        grams: How much it prices; None for all that is left.
        is_hidden: Whether the contract's price is sealed from this reader, so that
            nobody can tell how it is priced.
    """

    fixed_on: date | None
    fixation: PriceFixed | None = None
    entry: int | None = None
    grams: int | None = None
    is_hidden: bool = False

    @property
    def is_open(self) -> bool:
        """Whether the price is still to be fixed."""
        return self.fixed_on is None and not self.is_hidden


@dataclass(frozen=True, slots=True)
class TradeDates:
    """The dates of a receipt that dated rules ask for."""

    contract: date
    shipment: date
    delivery: date

    @classmethod
    def of(cls, shelf: Shelf, lot: SourceLot) -> "TradeDates":
        """Return the dates of the receipt that brought a lot in."""
        return cls(
            *(
                trade_date(shelf, lot, governing)
                for governing in (
                    Governing.CONTRACT,
                    Governing.SHIPMENT,
                    Governing.DELIVERY,
                )
            )
        )

    def on(self, governing: Governing) -> date:
        """Return one of them; a receipt as a whole has no date of fixation."""
        return {
            Governing.CONTRACT: self.contract,
            Governing.SHIPMENT: self.shipment,
            Governing.DELIVERY: self.delivery,
        }[governing]

    def due_on(self, term: PaymentTerm) -> date:
        """Return the day on which something falls due."""
        return self.on(_DOCUMENT_OF[term.after]) + timedelta(days=term.days)


@dataclass(frozen=True, slots=True)
class Bargain:
    """A contract and the terms it was signed under, as of a date.

    Terms change while contracts run. What is a setting (which date governs a row, which
    market is read, which weight a premium is paid on, when payment falls due) is taken
    from the version in force on the day the contract was signed, because that is what
    the parties agreed to. What is a figure (minimum, organic differential, premium) is
    taken from the version in force on the date that governs it.

    Attributes:
        shelf: What is recorded.
        recorded: The contract's entry.
        contract: The contract.
        as_of: Trade date up to which receipts, fixations and payments count.
        currency: Currency in which it is paid; None where the price is sealed from this
            reader and nothing was paid yet.
        terms: Terms of each scheme claimed, in force when it was signed.
        tranches: How it is priced, in the order in which receipts use them up.
    """

    shelf: Shelf
    recorded: Recorded
    contract: ContractSigned
    as_of: date
    currency: str | None
    terms: tuple[TermsPublished, ...]
    tranches: tuple[Tranche, ...]

    def terms_on(self, scheme: str, on: date) -> TermsPublished:
        """Return the version of a scheme's terms that has the figures of a date.

        Raises:
            NotComputableError: None governs yet.
        """
        try:
            return terms_in_force(self.shelf, scheme, on, field="claims")
        except EntryRefusedError as error:
            raise NotComputableError("no-terms", str(error)) from error

    def date_of(self, governing: Governing, dates: TradeDates, part: Tranche) -> date:
        """Return the date that governs a row for a part of a receipt.

        A price agreed outright was fixed when the contract was signed. What is not fixed
        yet is valued as if it were fixed on the date of the report.

        Raises:
            NotComputableError: The price is sealed, and with it when it was fixed.
        """
        if governing is not Governing.FIXATION:
            return dates.on(governing)
        if part.is_hidden:
            raise not_disclosed(self.contract.contract)
        return part.fixed_on or self.as_of

    def fall_back_days(self, scheme: str | None = None) -> int:
        """Return how many days a quote or rate may be older than the date asked for.

        As the market reference of the scheme says; for what the contract itself names,
        the fewest days that any of its schemes allows.
        """
        stated = [
            terms.market.fall_back_days
            for terms in self.terms
            if terms.market is not None and scheme in {None, terms.scheme}
        ]
        return min(stated, default=_USUAL_FALL_BACK_DAYS)


def not_disclosed(contract: str) -> NotComputableError:
    """Return the reason why a reader without the price sees no figure."""
    return NotComputableError(
        "not-disclosed",
        f"the price of contract {contract} is not disclosed to this reader, so no figure "
        "is given for it; ask the maker to disclose it",
        is_hidden=True,
    )


def bargain_of(shelf: Shelf, recorded: Recorded, as_of: date) -> Bargain:
    """Return a contract with the terms it was signed under.

    Raises:
        EntryRefusedError: A scheme's terms did not govern when it was signed.
    """
    contract = expect(recorded.record, ContractSigned)
    return Bargain(
        shelf=shelf,
        recorded=recorded,
        contract=contract,
        as_of=as_of,
        currency=_currency(shelf, contract),
        terms=tuple(
            terms_in_force(shelf, scheme, recorded.occurred_on, field="claims")
            for scheme in dict.fromkeys(claim.scheme for claim in contract.claims)
        ),
        tranches=_tranches(shelf, recorded, contract, as_of),
    )


def recorded_until(
    shelf: Shelf, contract: str, kind: str, as_of: date
) -> list[Recorded]:
    """Return the entries of a kind under a contract up to a date, by date, then slot."""
    subject = Subject(SubjectKind.CONTRACT, contract)
    found = (r for r in shelf.about(subject, kind) if r.occurred_on <= as_of)
    return sorted(found, key=lambda r: (r.occurred_on, r.slot))


def open_quantity_g(bargain: Bargain) -> int:
    """Return the grams of the contracted quantity whose price is still to be fixed."""
    if not isinstance(bargain.contract.price, PriceToBeFixed):
        return 0
    fixed_g = sum(part.grams or 0 for part in bargain.tranches)
    return to_grams(bargain.contract.quantity_kg) - fixed_g


def _currency(shelf: Shelf, contract: ContractSigned) -> str | None:
    """Return the currency that a contract is paid in.

    The books take payments in the currency of the price only, so that a payment tells
    it where the price is sealed and the payment is not.
    """
    match contract.price:
        case FixedPrice(price=price):
            return currency_of(price)
        case PriceToBeFixed(differential=differential):
            return currency_of(differential)
        case None:
            payments = recorded_until(
                shelf, contract.contract, "payment.made", date.max
            )
            sums = (expect(found.record, PaymentMade).money for found in payments)
            return next((money.currency for money in sums if money is not None), None)


def _tranches(
    shelf: Shelf, recorded: Recorded, contract: ContractSigned, as_of: date
) -> tuple[Tranche, ...]:
    if isinstance(contract.price, FixedPrice):
        return (Tranche(recorded.occurred_on),)
    fixed = tuple(
        Tranche(
            found.occurred_on,
            fixation := expect(found.record, PriceFixed),
            found.seq,
            to_grams(fixation.quantity_kg),
        )
        for found in recorded_until(shelf, contract.contract, "price.fixed", as_of)
    )
    is_hidden = contract.price is None and not fixed
    return (*fixed, Tranche(None, is_hidden=is_hidden))


def take(
    tranches: list[tuple[Tranche, Fraction | None]], grams: Fraction
) -> list[tuple[Tranche, Fraction]]:
    """Take some grams from tranches, first tranche first, and return what was taken.

    Args:
        tranches: What is left of each, in grams; None for one without end. Changed.
        grams: How much is taken.
    """
    taken = []
    while grams > 0:
        tranche, left = tranches[0]
        part = grams if left is None else min(grams, left)
        taken.append((tranche, part))
        grams -= part
        if part == left:
            tranches.pop(0)
        elif left is not None:
            tranches[0] = (tranche, left - part)
    return taken
