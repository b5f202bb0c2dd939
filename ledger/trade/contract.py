"""Buying: the contract, the fixation of its price, and payments under it."""

from fractions import Fraction
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from ledger.trade.codes import Country
from ledger.trade.market import FuturesMonth
from ledger.trade.money import Differential, Money, UnitPrice
from ledger.trade.quantity import Percent, PositiveKilograms, Share
from ledger.trade.record import Day, Measured, Name, Record, Text, YesNo
from ledger.trade.words import Commodity, Custody, Delivery, Duty, Form, WeightBasis


class Claim(Record):
    """Under which scheme, and in which custody model, goods carry a claim."""

    scheme: Name
    """The scheme."""
    custody: Custody
    """Chain-of-custody model (ISO 22095:2020, 3.3)."""
    proportion: Share | None = None
    """Known part that carries the claim, 0 to 1; of a controlled blend only."""

    @model_validator(mode="after")
    def _blend_is_known(self) -> Self:
        blended = self.custody is Custody.CONTROLLED_BLENDING
        if blended != bool(self.proportion):
            msg = (
                f"the claim under {self.scheme} is {self.custody}; controlled blending, "
                "and only it, states the known proportion, above 0, so give it or take "
                "it out"
            )
            raise ValueError(msg)
        return self

    @property
    def part(self) -> Fraction:
        """Part of the goods that carries the claim: all, or the known proportion."""
        return Fraction(1 if self.proportion is None else self.proportion)


class FixedPrice(Record):
    """A price agreed outright."""

    basis: Literal["fixed"]
    """Marks a fixed price."""
    price: UnitPrice
    """Price per unit of weight, before organic differential and premium."""


class PriceToBeFixed(Record):
    """A price to be fixed against a named month of a named market."""

    basis: Literal["to be fixed"]
    """Marks a price to be fixed."""
    market: Name
    """Series against which it is fixed."""
    month: FuturesMonth
    """Futures month named in the contract, such as 2025-12."""
    differential: Differential
    """Amount over (or, negative, under) the market."""
    call: Literal["seller", "buyer"]
    """Who may call the fixation."""
    fix_by: Day | None = None
    """Last day on which it may be fixed."""


class ContractSigned(Measured):
    """A purchase contract."""

    kind: ClassVar[str] = "contract.signed"
    sealed: ClassVar[tuple[str, ...]] = ("price",)
    sealed_required: ClassVar[tuple[str, ...]] = ("price",)

    contract: Name
    """Contract number."""
    seller: Name
    """The party that sells, usually a grower cooperative."""
    claims: tuple[Claim, ...] = ()
    """Schemes under which the goods are bought; none for uncertified goods."""
    commodity: Commodity = Commodity.COCOA
    """What is bought."""
    form: Form = Form.BEAN
    """Form it is bought in."""
    origin: Country
    """Country of origin, ISO 3166-1 alpha-2."""
    region: Text | None = None
    """Region or valley within the country."""
    organic: YesNo = False
    """Whether it is bought as organic."""
    grade: Name | None = None
    """Grade it is bought as, where the goods are graded."""
    crop: Text
    """Crop year, such as 2024/25."""
    quantity_kg: PositiveKilograms
    """Quantity contracted, net."""
    tolerance_percent: Percent | None = None
    """By how much the shipped quantity may differ."""
    price: (
        Annotated[FixedPrice | PriceToBeFixed, Field(discriminator="basis")] | None
    ) = None
    """Price or price basis; sealed."""
    delivery: Delivery = Delivery.FOB
    """Delivery term."""
    delivery_place: Text
    """Place that goes with the delivery term."""
    weight_basis: WeightBasis
    """Whether shipped or landed weight settles the price."""
    franchise_percent: Percent | None = None
    """Natural loss in weight that the buyer bears before claiming."""
    ship_from: Day | None = None
    """First day of the shipment period."""
    ship_until: Day | None = None
    """Last day of the shipment period."""


class PriceFixed(Measured):
    """The price of a contract, or of a part of it, was fixed."""

    kind: ClassVar[str] = "price.fixed"
    sealed: ClassVar[tuple[str, ...]] = ("level",)
    sealed_required: ClassVar[tuple[str, ...]] = ("level",)

    fixation: Name
    """Name of the fixation."""
    contract: Name
    """Contract that is fixed."""
    quantity_kg: PositiveKilograms
    """Quantity that is fixed."""
    level: UnitPrice | None = None
    """Level of the market at which it is fixed, before the differential; sealed."""


class AdvanceRequested(Record):
    """The seller asked for a part of the price before goods arrive."""

    kind: ClassVar[str] = "advance.requested"
    sealed: ClassVar[tuple[str, ...]] = ("money",)
    sealed_required: ClassVar[tuple[str, ...]] = ("money",)

    request: Name
    """Name of the request."""
    contract: Name
    """Contract it is asked for under."""
    money: Money | None = None
    """Amount that the seller asks for; sealed."""
    document: Text
    """Letter or message in which it was asked for."""


class PaymentMade(Record):
    """Money that reached a payee.

    What was paid for a known weight tells the price, so the amount is sealed with it.
    """

    kind: ClassVar[str] = "payment.made"
    sealed: ClassVar[tuple[str, ...]] = ("money",)
    sealed_required: ClassVar[tuple[str, ...]] = ("money",)

    payment: Name
    """Name of the payment."""
    contract: Name
    """Contract under which it is paid."""
    payee: Name
    """The party that got it; "farmers" for the farmers of the seller, in cash."""
    towards: Duty
    """What it is for."""
    money: Money | None = None
    """Amount that reached the payee; bank charges are the maker's; sealed."""
    document: Text
    """Bank's reference or receipt number."""
    shipment: Name | None = None
    """Shipment it is for, where it names one."""

    @model_validator(mode="after")
    def _is_something(self) -> Self:
        if self.money is not None and self.money.amount == 0:
            msg = "0 was paid; a payment is more than 0, so leave the entry out"
            raise ValueError(msg)
        return self
