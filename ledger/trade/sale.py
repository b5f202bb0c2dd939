"""Selling: goods that left under a claim, and goods that came back."""

from typing import Annotated, ClassVar

from pydantic import Field

from ledger.trade.codes import Gtin, Sscc
from ledger.trade.contract import Claim
from ledger.trade.money import Money
from ledger.trade.quantity import Count, PositiveKilograms
from ledger.trade.record import Measured, Name, Record, Text


class SaleClaim(Claim):
    """A claim that goods are sold with, and the text it is made with."""

    label: Text | None = None
    """Text it is made with, one of those in the terms where they list any."""


class SaleLine(Measured):
    """Mass of one lot sold."""

    lot: Name
    """The lot."""
    mass_kg: PositiveKilograms
    """Net mass, without wrapping."""
    pieces: Count | None = None
    """Number of pieces."""
    gtin: Gtin | None = None
    """Global Trade Item Number of the unit sold."""
    claims: tuple[SaleClaim, ...] = ()
    """Claims it is sold with; none for goods sold without a claim."""


class SaleDispatched(Record):
    """Goods left for a customer."""

    kind: ClassVar[str] = "sale.dispatched"
    sealed: ClassVar[tuple[str, ...]] = ("value",)

    sale: Name
    """Name of the sale."""
    document: Text
    """Number of the invoice or delivery note."""
    customer: Name
    """The party that bought."""
    site: Name | None = None
    """Site it left from; the first site where left out."""
    lines: Annotated[tuple[SaleLine, ...], Field(min_length=1)]
    """What left, lot by lot."""
    sscc: tuple[Sscc, ...] = ()
    """Serial Shipping Container Codes of the pallets."""
    value: Money | None = None
    """Invoiced value without tax; sealed."""


class ReturnLine(Measured):
    """Mass of one lot that came back."""

    lot: Name
    """The lot."""
    mass_kg: PositiveKilograms
    """Mass that came back."""
    pieces: Count | None = None
    """Number of pieces."""


class SaleReturned(Record):
    """Goods of a sale came back into stock, and their claims with them."""

    kind: ClassVar[str] = "sale.returned"

    return_: Annotated[Name, Field(alias="return")]
    """Name of the return."""
    sale: Name
    """The sale they were part of."""
    document: Text
    """Number of the credit note."""
    reason: Text
    """Why they came back."""
    lines: Annotated[tuple[ReturnLine, ...], Field(min_length=1)]
    """What came back, lot by lot."""


class WithdrawnLine(Measured):
    """Mass of one lot whose claim under one scheme is taken back."""

    lot: Name
    """The lot."""
    mass_kg: PositiveKilograms
    """Mass that is no longer claimed."""
    scheme: Name
    """Scheme under which it was claimed."""


class ClaimWithdrawn(Record):
    """A claim of a sale was taken back by credit note; the goods stay where they are."""

    kind: ClassVar[str] = "claim.withdrawn"

    withdrawal: Name
    """Name of the withdrawal."""
    sale: Name
    """The sale that made the claim."""
    document: Text
    """Number of the credit note, or of the letter to the customer."""
    reason: Text
    """Why the claim is taken back."""
    lines: Annotated[tuple[WithdrawnLine, ...], Field(min_length=1)]
    """What is no longer claimed, lot by lot and scheme by scheme."""
