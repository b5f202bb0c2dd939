"""What the market said: quotes of a series, and exchange rates."""

from decimal import Decimal
from typing import Annotated, ClassVar

from ledger.trade.money import Currency, PriceUnit
from ledger.trade.quantity import Scale
from ledger.trade.record import Day, Name, Record, Text

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
    source: Text
    """Where the rates were read."""
    rates: tuple[DatedRate, ...]
    """The rates by day."""
