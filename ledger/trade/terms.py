"""The terms of a scheme as dated rows: accounts, factors, prices, payment."""

from decimal import Decimal
from typing import Annotated, ClassVar, Final, Literal, Self

from pydantic import Field, model_validator

from ledger.trade.balance_terms import (
    AccountRule,
    CompositeRule,
    Conversion,
    JointOutputs,
    Label,
    LossNorm,
    MeasuredYields,
)
from ledger.trade.codes import Country
from ledger.trade.dues_terms import (
    AdvanceTerm,
    Fee,
    FuturesAverage,
    LateInterest,
    SeasonalDifferential,
)
from ledger.trade.money import UnitPrice
from ledger.trade.quantity import Count, Scale, Share
from ledger.trade.record import Day, Name, Record, Text, YesNo
from ledger.trade.tolerance import CountTolerance
from ledger.trade.words import (
    Commodity,
    Custody,
    Delivery,
    Form,
    Governing,
    Step,
    WeightBasis,
)

LimitValue = Annotated[
    Decimal,
    Scale(
        lowest=Decimal(-50),
        highest=Decimal(100000),
        places=3,
        written_places=0,
        way_out="round the limit to three decimals",
    ),
]
"""A limit, in the unit that its measure names."""


class MinimumPrice(Record):
    """One row of the guaranteed minimum price table."""

    valid_from: Day
    """First date the row governs."""
    commodity: Commodity = Commodity.COCOA
    """Commodity the row is for."""
    form: Form = Form.BEAN
    """Form the row is for."""
    origins: tuple[Country, ...] = ()
    """Countries of origin the row is for; none given means all others."""
    delivery: Delivery = Delivery.FOB
    """Delivery term at which the price is compared."""
    price: UnitPrice
    """Guaranteed minimum, conventional."""
    source: Text
    """Document and clause it comes from."""


class OrganicDifferential(Record):
    """One dated amount on top of the price for organic production."""

    valid_from: Day
    """First date the row governs."""
    commodity: Commodity = Commodity.COCOA
    """Commodity the row is for."""
    origins: tuple[Country, ...] = ()
    """Countries of origin the row is for; none given means all others."""
    price: UnitPrice
    """Amount on top of the higher of minimum and market."""
    source: Text
    """Document and clause it comes from."""


SELLER: Final = "seller"
"""Payee of a premium: the cooperative that sells."""
FARMERS: Final = "farmers"
"""Payee of a premium or a payment: the farmers of the selling cooperative, in cash."""


class PayeeShare(Record):
    """Who gets which part of a premium."""

    payee: Literal["seller", "farmers"] | Name = SELLER
    """The selling cooperative, its farmers in cash, or a named party."""
    share: Share
    """Part of the premium, 0 to 1."""


class Premium(Record):
    """One dated premium per unit of weight."""

    valid_from: Day
    """First date the row governs."""
    commodity: Commodity = Commodity.COCOA
    """Commodity the row is for."""
    origins: tuple[Country, ...] = ()
    """Countries of origin the row is for; none given means all others."""
    price: UnitPrice
    """Premium on top of everything else."""
    payees: tuple[PayeeShare, ...] = (PayeeShare(share=Decimal(1)),)
    """How it is split; the shares sum to one."""
    source: Text
    """Document and clause it comes from."""


class MarketReference(Record):
    """Which quoted series the guaranteed minimum is compared with."""

    market: Name
    """Name of the series that quotes are recorded under, or of the average."""
    commodity: Commodity = Commodity.COCOA
    """Commodity it is the market of; nothing else is compared with it."""
    form: Form = Form.BEAN
    """Form it is the market of; nothing else is compared with it."""
    average: FuturesAverage | None = None
    """The futures it is the average of; none given means that it is quoted itself."""
    fall_back_days: Annotated[Count, Field(ge=0, le=31)] = 5
    """How many days before a day without a quote the last one may be."""

    def is_of(self, commodity: Commodity, form: Form) -> bool:
        """Tell whether goods are what the market is of."""
        return commodity is self.commodity and form is self.form


class PaymentTerm(Record):
    """When something falls due."""

    days: Annotated[Count, Field(ge=0, le=366)]
    """Calendar days after the document's date."""
    after: Literal["contract", "shipment", "receipt"] = "receipt"
    """The document that starts the days."""


class TermsPublished(Record):
    """One dated version of a scheme's terms; it governs from `valid_from` on."""

    kind: ClassVar[str] = "terms.published"

    scheme: Name
    """Short name of the scheme."""
    version: Text
    """Version as the publisher names it."""
    valid_from: Day
    """First date this version governs."""
    source: Text
    """The published document that this file restates."""
    custody: tuple[Custody, ...]
    """Custody models that claims under the scheme may be made in."""
    commodities: tuple[Commodity, ...] = (Commodity.COCOA,)
    """Commodities the scheme certifies; each has its own account."""
    mass_balance_for: tuple[Commodity, ...] = ()
    """Commodities that mass balance is allowed for; none given means all of them."""
    organic_in_goods: YesNo = False
    """Whether goods that draw on an organic account must be organic themselves."""
    not_beside: tuple[Name, ...] = ()
    """Schemes under which the same goods may not be claimed."""
    account: AccountRule = AccountRule()
    """What accounts are kept by, and how they move."""
    method: Literal["credit", "rolling average percentage"] = "credit"
    """Method of mass balance (ISO 22095-2:2026 names both)."""
    window_months: Annotated[Count, Field(ge=1, le=36)] | None = None
    """Months that a rolling average percentage looks back; needed under that method."""
    reconciliation_months: Annotated[Count, Field(ge=1, le=12)] = 12
    """Length of the reconciliation period in months; it divides twelve."""
    reconciliation_starts: Annotated[Count, Field(ge=1, le=12)] = 1
    """Month in which a year's first period starts, 1 = January."""
    carry_over_periods: Annotated[Count, Field(ge=0, le=10)] = 1
    """Periods after its own in which an unused receipt may still be claimed."""
    conversions: tuple[Conversion, ...]
    """Factors to bean equivalent."""
    joint_outputs: tuple[JointOutputs, ...] = ()
    """Forms that come out of another together."""
    measured_yields: MeasuredYields | None = None
    """Forms whose factor is measured; none given means the factors above."""
    loss_norms: tuple[LossNorm, ...] = ()
    """Most that each step is expected to lose."""
    composite: CompositeRule | None = None
    """Least certified part of a product made to a recipe."""
    labels: tuple[Label, ...] = ()
    """Texts that claims may be made with; where there are any, a claim names one."""
    minimum_prices: tuple[MinimumPrice, ...] = ()
    """The guaranteed minimum price table."""
    market: MarketReference | None = None
    """The market that the minimum is compared with."""
    seasonal_differential: SeasonalDifferential | None = None
    """Minimum less national reference price, where it is paid beside the price."""
    organic_differentials: tuple[OrganicDifferential, ...] = ()
    """Amounts on top for organic production."""
    premiums: tuple[Premium, ...] = ()
    """Premiums and how they are split."""
    minimum_governed_by: Governing = Governing.CONTRACT
    """Date that picks the row of minimum price and organic differential."""
    market_governed_by: Governing = Governing.FIXATION
    """Date on which the market is read."""
    premium_governed_by: Governing = Governing.DELIVERY
    """Date that picks the row of the premium."""
    certificate_governed_by: Governing = Governing.SHIPMENT
    """Date on which the seller's certificate must be valid."""
    premium_weight: WeightBasis | None = None
    """Weight the premium is paid on; none given means the contract's own."""
    price_due: PaymentTerm = PaymentTerm(days=30)
    """When price and organic differential fall due."""
    premium_due: PaymentTerm = PaymentTerm(days=30)
    """When the premium falls due."""
    advance: AdvanceTerm | None = None
    """Advance payment that the seller may ask for."""
    late_interest: tuple[LateInterest, ...] = ()
    """Interest on what is paid late."""
    fees: tuple[Fee, ...] = ()
    """Fees on certified sales, by quarter."""
    retention_years: Annotated[Count, Field(ge=1, le=30)] = 5
    """Years for which records must be kept."""

    @model_validator(mode="after")
    def _periods_fill_the_year(self) -> Self:
        if 12 % self.reconciliation_months:
            msg = (
                f"reconciliation_months is {self.reconciliation_months}; periods must "
                "fill the year, so use 1, 2, 3, 4, 6 or 12"
            )
            raise ValueError(msg)
        return self

    @model_validator(mode="after")
    def _method_has_its_window(self) -> Self:
        is_rolling = self.method == "rolling average percentage"
        if is_rolling != (self.window_months is not None):
            msg = (
                f"method is {self.method}; the rolling average percentage, and only it, "
                "states window_months, so give it or take it out"
            )
            raise ValueError(msg)
        if is_rolling and self.account.transfers:
            msg = (
                "account.transfers move an amount, which a rolling average percentage "
                "does not have; take them out, or use the credit method"
            )
            raise ValueError(msg)
        return self

    @model_validator(mode="after")
    def _mass_balance_is_certified(self) -> Self:
        for commodity in self.mass_balance_for:
            if commodity not in self.commodities:
                msg = (
                    f"mass_balance_for names {commodity}, which commodities does not; "
                    "add it there or take it out here"
                )
                raise ValueError(msg)
        return self

    @model_validator(mode="after")
    def _premiums_are_shared_out(self) -> Self:
        for premium in self.premiums:
            total = sum(part.share for part in premium.payees)
            if total != 1:
                msg = (
                    f"payees of the premium valid from {premium.valid_from} share "
                    f"{total}; shares must sum to 1 exactly, so adjust one of them"
                )
                raise ValueError(msg)
        return self


class ProcessLimit(Record):
    """What is usual for one measure of one step."""

    step: Step
    """Step of making."""
    measure: Literal[
        "hours",
        "tasting interval hours",
        "entry temperature c",
        "exit temperature c",
        "carried kg",
        "cooling minutes",
        "racking minutes",
        "pieces per minute",
        "yield percent",
    ]
    """What is measured."""
    lowest: LimitValue | None = None
    """Lowest usual value."""
    highest: LimitValue | None = None
    """Highest usual value."""
    source: Text
    """Where the limit comes from."""


class LimitsPublished(Record):
    """The maker's own dated list of what is usual; outside it a batch is flagged."""

    kind: ClassVar[str] = "limits.published"

    version: Text
    """Name of this version."""
    valid_from: Day
    """First date this version governs."""
    limits: tuple[ProcessLimit, ...]
    """The limits."""
    count_tolerances: tuple[CountTolerance, ...] = ()
    """How far counts may lie from the book; none given means not at all."""
