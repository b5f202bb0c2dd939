"""Signing a contract, and fixing its price."""

from collections.abc import Mapping
from datetime import date
from typing import Final
from urllib.parse import quote

from ledger.books.shelf import Shelf
from ledger.desk.weighing import converted
from ledger.trade.words import (
    Commodity,
    Custody,
    Delivery,
    Form,
    PartyRole,
    WeightBasis,
)
from ledger.web.access import BUYER
from ledger.web.asked import Asked
from ledger.web.entry_fields import Field, Group
from ledger.web.entry_page import Body, EntryForm, Worked
from ledger.web.known import contracts, markets, parties, schemes, words
from ledger.web.page import Page
from ledger.web.prices import price_facts

PRICE_UNITS: Final = (
    *(f"{currency}/t" for currency in ("USD", "GBP", "EUR")),
    "USc/lb",
    *(f"USD/{unit}" for unit in ("qq46", "short_ton", "long_ton")),
)
"""Offered; any other unit of price may be typed."""
_UNITS: Final = tuple((unit, "") for unit in PRICE_UNITS)


def conversions(kind: str, body: Body, asked: Asked) -> Worked:
    """Return what every figure typed in a unit of its own comes to."""
    return tuple(
        (typed, f"{asked.tongue.figure(figure)} kg")
        for typed, figure in converted(kind, body)
    )


def contract_page(body: Body) -> str:
    """Return the page of the contract that a body names."""
    return f"/contracts/{quote(str(body.get('contract', '')), safe='')}"


def _first_of_contract(_asked: Asked, _shelf: Shelf) -> Mapping[str, str]:
    return {"price.basis": "fixed"}


def _worked_out_of_contract(asked: Asked, _on: date, body: Body) -> Worked:
    return conversions("contract.signed", body, asked)


def _worked_out_of_fixation(asked: Asked, on: date, body: Body) -> Worked:
    return (
        *conversions("price.fixed", body, asked),
        *price_facts(asked, str(body.get("contract", "")), on),
    )


SIGN: Final = EntryForm(
    kind="contract.signed",
    address="/sign-contract",
    title="Sign a contract",
    day="Signed on",
    groups=(
        Group(
            "The contract",
            (
                Field("contract", "Contract number", required=True),
                Field(
                    "seller",
                    "Seller",
                    "choice",
                    required=True,
                    choices=parties(PartyRole.COOPERATIVE, PartyRole.SUPPLIER),
                ),
                Field(
                    "quantity",
                    "Quantity, net",
                    hint="In kg, or with a unit: 12.5 t, 185 bags of 152 lb, 250 qq46.",
                    required=True,
                    unit="kg",
                ),
                Field("tolerance_percent", "Tolerance", unit="%"),
                Field("crop", "Crop year", hint="Such as 2026/27.", required=True),
            ),
        ),
        Group(
            "The goods",
            (
                Field(
                    "origin",
                    "Country of origin",
                    hint="Two letters of ISO 3166-1, such as PE.",
                    required=True,
                ),
                Field("region", "Region"),
                Field("form", "Form", "choice", choices=words(Form), first="bean"),
                Field("organic", "Bought as organic", "tick"),
            ),
            further=(
                Field(
                    "commodity",
                    "Commodity",
                    "choice",
                    choices=words(Commodity),
                    first="cocoa",
                ),
                Field("grade", "Grade"),
            ),
        ),
        Group(
            "Claim",
            (
                Field("claims.*.scheme", "Scheme", "choice", choices=schemes),
                Field(
                    "claims.*.custody",
                    "Custody model",
                    "choice",
                    hint="ISO 22095: as the seller's certificate says.",
                    choices=words(Custody),
                ),
                Field(
                    "claims.*.proportion",
                    "Known part that carries the claim",
                    hint="Of a controlled blend only, 0 to 1.",
                ),
            ),
            rows=1,
        ),
        Group(
            "Price",
            (
                Field(
                    "price.basis",
                    "The price is",
                    "choice",
                    required=True,
                    choices=(
                        ("fixed", "agreed outright"),
                        ("to be fixed", "to be fixed"),
                    ),
                ),
                Field("price.price.amount", "Price agreed", hint="Without premium."),
                Field("price.price.unit", "Its unit", "pick", choices=_UNITS),
            ),
        ),
        Group(
            "If the price is to be fixed",
            (
                Field("price.market", "Market", "pick", choices=markets),
                Field("price.month", "Futures month", hint="Such as 2026-12."),
                Field(
                    "price.differential.amount",
                    "Differential",
                    hint="Negative for a discount.",
                ),
                Field("price.differential.unit", "Its unit", "pick", choices=_UNITS),
                Field(
                    "price.call",
                    "Who calls the fixation",
                    "choice",
                    choices=(("seller", "the seller"), ("buyer", "the buyer")),
                ),
                Field("price.fix_by", "To be fixed by", "day"),
            ),
        ),
        Group(
            "Delivery",
            (
                Field(
                    "delivery",
                    "Delivery term",
                    "choice",
                    choices=words(Delivery),
                    first="FOB",
                ),
                Field("delivery_place", "Place", required=True),
                Field(
                    "weight_basis",
                    "Weight that is paid for",
                    "choice",
                    required=True,
                    choices=words(WeightBasis),
                ),
                Field(
                    "franchise_percent",
                    "Franchise",
                    hint="Natural loss that the buyer bears before claiming.",
                    unit="%",
                ),
                Field("ship_from", "Shipment from", "day"),
                Field("ship_until", "Shipment until", "day"),
            ),
        ),
    ),
    done=contract_page,
    first=_first_of_contract,
    worked_out=_worked_out_of_contract,
    caution="The signed paper is what binds; this entry says what it says. Attach the "
    "paper itself under Papers.",
)

FIX: Final = EntryForm(
    kind="price.fixed",
    address="/fix-price",
    title="Fix a price",
    day="Fixed on",
    groups=(
        Group(
            "The fixation",
            (
                Field("fixation", "Name of the fixation", required=True),
                Field(
                    "contract", "Contract", "choice", required=True, choices=contracts
                ),
                Field(
                    "quantity",
                    "Quantity",
                    hint="In kg, or with a unit, such as 10 t.",
                    required=True,
                    unit="kg",
                ),
                Field(
                    "level.amount",
                    "Level of the market",
                    hint="Before the differential.",
                    required=True,
                ),
                Field("level.unit", "Its unit", "pick", required=True, choices=_UNITS),
            ),
        ),
    ),
    done=contract_page,
    worked_out=_worked_out_of_fixation,
    lead="A fixation sets the market's level for a part of a contract; what is owed is "
    "still never less than the guaranteed minimum.",
)

PAGES: Final[tuple[Page, ...]] = (*SIGN.pages(BUYER), *FIX.pages(BUYER))
