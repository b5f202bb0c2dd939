"""What terms say about dues beyond price tables: futures, seasons, advances, fees."""

from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from ledger.trade.codes import Country
from ledger.trade.money import Currency, UnitPrice
from ledger.trade.quantity import Count, Percent
from ledger.trade.record import Day, Name, Record, Text
from ledger.trade.words import Commodity, Form, Governing

MonthOfYear = Annotated[Count, Field(ge=1, le=12)]
"""A month, 1 = January."""


def _check_months(months: tuple[int, ...]) -> tuple[int, ...]:
    if len(set(months)) < len(months):
        raise ValueError("a month stands more than once; name each once")
    return tuple(sorted(months))


class FuturesMarket(Record):
    """One futures market that goes into an average."""

    market: Name
    """Name that the quotes of its months are recorded under."""
    months: Annotated[
        tuple[MonthOfYear, ...], Field(min_length=1), AfterValidator(_check_months)
    ]
    """Months of the year that it trades, 1 = January."""
    leaves_days: Annotated[Count, Field(ge=0, le=92)] = 0
    """Days before a month begins on which it stops being active; 0 if as it begins."""


class FuturesAverage(Record):
    """A reference that is the average of the nearest active months of some markets."""

    markets: Annotated[tuple[FuturesMarket, ...], Field(min_length=1)]
    """The markets; each weighs the same."""
    nearest: Annotated[Count, Field(ge=1, le=12)] = 3
    """How many months of each are averaged, nearest first."""
    currency: Currency
    """Currency that the average is in."""
    forward_months: Annotated[Count, Field(ge=1, le=60)] | None = None
    """Forward rate that converts another currency, in months; none given means spot."""
    source: Text
    """Document and clause it comes from."""


class Season(Record):
    """The national reference price of one season."""

    season_from: Day
    """First day of the season."""
    season_until: Day
    """Last day of the season."""
    commodity: Commodity = Commodity.COCOA
    """Commodity the row is for."""
    form: Form = Form.BEAN
    """Form the row is for."""
    origins: Annotated[tuple[Country, ...], Field(min_length=1)]
    """Countries of origin whose price it is."""
    reference: UnitPrice
    """National reference price, at the delivery term of the minimum."""
    source: Text
    """Document and clause it comes from."""


def _check_seasons(seasons: tuple[Season, ...]) -> tuple[Season, ...]:
    for place, season in enumerate(seasons):
        if season.season_until < season.season_from:
            raise ValueError(
                f"the season from {season.season_from} ends on {season.season_until}, "
                "before it begins; correct one of the dates"
            )
        for other in seasons[:place]:
            if _are_alike(season, other) and (
                season.season_from <= other.season_until
                and other.season_from <= season.season_until
            ):
                raise ValueError(
                    f"the seasons from {other.season_from} and from "
                    f"{season.season_from} overlap for {season.commodity} {season.form}; "
                    "a day has one reference price, so correct one of them"
                )
    return seasons


def _are_alike(season: Season, other: Season) -> bool:
    return (
        season.commodity is other.commodity
        and season.form is other.form
        and not set(season.origins).isdisjoint(other.origins)
    )


class SeasonalDifferential(Record):
    """Minimum less national reference price, paid beside the price by season."""

    governed_by: Governing = Governing.DELIVERY
    """Date that picks the season."""
    seasons: Annotated[
        tuple[Season, ...], Field(min_length=1), AfterValidator(_check_seasons)
    ]
    """The seasons; an origin that has one has one for every date asked for."""


class AdvanceTerm(Record):
    """What the seller may ask for before goods arrive."""

    percent: Percent
    """Highest advance, in per cent of the contract's value."""
    days: Annotated[Count, Field(ge=0, le=366)] = 30
    """Calendar days after the request within which it is paid."""
    source: Text
    """Document and clause it comes from."""


DayCount = Literal["actual/365", "actual/360", "actual/actual", "30/360"]
"""How days become years: the conventions of the 2006 ISDA Definitions, section 4.16."""


class LateInterest(Record):
    """One dated rate of simple interest on what is paid late."""

    valid_from: Day
    """First due date the rate is for."""
    percent_per_year: Percent
    """Simple interest, in per cent per year."""
    day_count: DayCount
    """How days become years."""
    source: Text
    """Document and clause it comes from."""


class FeeOnMass(Record):
    """One dated fee by the weight that is sold under the claim."""

    basis: Literal["bean equivalent"]
    """Marks a fee by weight."""
    valid_from: Day
    """First date of sale the fee is for."""
    commodity: Commodity = Commodity.COCOA
    """Commodity it is charged on."""
    price: UnitPrice
    """Fee per unit of weight in bean equivalent."""
    payee: Name
    """Who is paid, usually the scheme."""
    due_days: Annotated[Count, Field(ge=0, le=366)] = 30
    """Calendar days after the quarter's end within which it is paid."""
    source: Text
    """Document and clause it comes from."""


class FeeOnValue(Record):
    """One dated fee by the value that is invoiced for goods sold under the claim."""

    basis: Literal["invoiced value"]
    """Marks a fee by value."""
    valid_from: Day
    """First date of sale the fee is for."""
    percent: Percent
    """Fee in per cent of the value invoiced without tax."""
    payee: Name
    """Who is paid, usually the scheme."""
    due_days: Annotated[Count, Field(ge=0, le=366)] = 30
    """Calendar days after the quarter's end within which it is paid."""
    source: Text
    """Document and clause it comes from."""


Fee = Annotated[FeeOnMass | FeeOnValue, Field(discriminator="basis")]
"""One dated fee on certified sales."""
