"""Recording payments to growers, and advances that they ask for."""

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Final

from ledger.books.dues import dues_of
from ledger.books.effect import Subject, SubjectKind
from ledger.books.shelf import Shelf
from ledger.errors import LedgerError
from ledger.reports.phrases import told
from ledger.trade.contract import ContractSigned
from ledger.trade.terms import FARMERS
from ledger.trade.words import Duty, PartyRole
from ledger.web.access import BUYER
from ledger.web.asked import Asked
from ledger.web.entry_fields import Choice, Field, Group
from ledger.web.entry_page import Body, EntryForm, Worked
from ledger.web.foretold import money_words
from ledger.web.known import contracts, parties, words
from ledger.web.page import Page
from ledger.web.pages.contract_forms import contract_page


def _payees(shelf: Shelf) -> Iterator[Choice]:
    roles = (PartyRole.COOPERATIVE, PartyRole.SUPPLIER, PartyRole.PAYEE)
    yield from parties(*roles)(shelf)
    yield FARMERS, "farmers of the seller, in cash"


def _first(asked: Asked, shelf: Shelf) -> Mapping[str, str]:
    """Return seller and currency of the contract that the address names."""
    contract = asked.query("contract")
    signed = shelf.introducer(Subject(SubjectKind.CONTRACT, contract))
    if signed is None or not isinstance(signed.record, ContractSigned):
        return {}
    currency = dues_of(shelf, contract, date.max).currency
    return {"payee": signed.record.seller, "money.currency": currency or ""}


def _still_owed(asked: Asked, on: date, body: Body) -> Worked:
    """Return what is owed under the contract before the payment counts."""
    says = asked.tongue.says
    with asked.books() as books:
        try:
            found = dues_of(books.shelf, str(body.get("contract", "")), on)
        except LedgerError:
            return ()
    return tuple(
        (
            told(says("Open now: {1} to {2}"), says(str(part.duty)), part.payee),
            money_words(part.outstanding_minor, part.currency, asked.tongue),
        )
        for part in found.settlements
        if part.currency is not None and part.outstanding_minor
    )


_MONEY: Final = (
    Field("money.amount", "Amount", required=True),
    Field(
        "money.currency",
        "Currency",
        hint="That of the contract, ISO 4217.",
        required=True,
    ),
)

PAY: Final = EntryForm(
    kind="payment.made",
    address="/record-payment",
    title="Record a payment",
    day="Reached the payee on",
    groups=(
        Group(
            "The payment",
            (
                Field("payment", "Name of the payment", required=True),
                Field(
                    "contract", "Contract", "choice", required=True, choices=contracts
                ),
                Field("payee", "Payee", "choice", required=True, choices=_payees),
                Field(
                    "towards",
                    "What it is for",
                    "choice",
                    required=True,
                    choices=words(Duty),
                ),
                *_MONEY,
                Field(
                    "document",
                    "Bank's reference or receipt number",
                    required=True,
                ),
                Field("shipment", "Shipment", hint="If the payment names one."),
            ),
        ),
    ),
    done=contract_page,
    first=_first,
    worked_out=_still_owed,
    lead="Record what reached the payee: bank charges are the maker's. This entry moves "
    "no money.",
)

ADVANCE: Final = EntryForm(
    kind="advance.requested",
    address="/record-advance",
    title="Record that an advance was asked for",
    day="Asked for on",
    groups=(
        Group(
            "The request",
            (
                Field("request", "Name of the request", required=True),
                Field(
                    "contract", "Contract", "choice", required=True, choices=contracts
                ),
                *_MONEY,
                Field(
                    "document", "Letter or message in which it was asked", required=True
                ),
            ),
        ),
    ),
    done=contract_page,
    first=_first,
    lead="Paying it is recorded as a payment towards an advance.",
)

PAGES: Final[tuple[Page, ...]] = (*PAY.pages(BUYER), *ADVANCE.pages(BUYER))
