"""What the market said: quotes of a series, and exchange rates."""

import re
from decimal import Decimal
from typing import Annotated, ClassVar, Final

from pydantic import AfterValidator, Field, WithJsonSchema

from ledger.trade.money import Currency, PriceUnit
from ledger.trade.quantity import Count, Scale
from ledger.trade.record import Day, Name, Record, Text
from ledger.trade.refusal import as_given

Level = Annotated[
    Decimal,
    Scale(
        lowest=Decimal("0.0001"),
        highest=Decimal(10**7),
        places=4,
        written_places=2,
        way_out="round the quote to four decimals",
    ),
]
"""A quoted figure, in the unit that stands beside it."""
Rate = Annotated[
    Decimal,
    Scale(
        lowest=Decimal("0.000001"),
        highest=Decimal(10**6),
        places=6,
        written_places=4,
        way_out="round the rate to six decimals",
    ),
]
"""Units of the second currency for one unit of the first."""

_MONTH: Final = r"[0-9]{4}-(0[1-9]|1[0-2])"


def _check_month(month: str) -> str:
    if not re.fullmatch(_MONTH, month):
        raise ValueError(
            f"{as_given(month)} is not a futures month; write year and month, such as "
            "2025-12"
        )
    return month


FuturesMonth = Annotated[
    str,
    AfterValidator(_check_month),
    WithJsonSchema({"type": "string", "pattern": f"^{_MONTH}$"}),
]
"""The month in which a futures contract is delivered, such as 2025-12."""


class Quote(Record):
    """One day's figure."""

    on: Day
    """Trading day."""
    level: Level
    """Figure, in the unit of the series."""


class QuoteRecorded(Record):
    """One or more days of a market series; a day may be given only once."""

    kind: ClassVar[str] = "quote.recorded"

    market: Name
    """Name of the series."""
    month: FuturesMonth | None = None
    """Futures month that is quoted, such as 2025-12; none given for a plain series."""
    unit: PriceUnit
    """Unit of the figures, such as USD/t."""
    source: Text
    """Where the figures were read."""
    quotes: tuple[Quote, ...]
    """The figures by day."""


class DatedRate(Record):
    """One day's exchange rate."""

    on: Day
    """Day of the rate."""
    rate: Rate
    """Units of `to` for one unit of `base`."""


class RateRecorded(Record):
    """One or more days of an exchange rate."""

    kind: ClassVar[str] = "rate.recorded"

    base: Currency
    """Currency that is one unit."""
    to: Currency
    """Currency it is expressed in."""
    forward_months: Annotated[Count, Field(ge=1, le=60)] | None = None
    """Months ahead, for a forward rate; none given means the spot rate."""
    source: Text
    """Where the rates were read."""
    rates: tuple[DatedRate, ...]
    """The rates by day."""
