"""Recording what the market said: quotes of a series, and exchange rates."""

from typing import Final

from ledger.web.access import BUYER
from ledger.web.entry_fields import Field, Group
from ledger.web.entry_page import Body, EntryForm
from ledger.web.known import markets
from ledger.web.page import Page
from ledger.web.pages.contract_forms import PRICE_UNITS

_DAYS_SHOWN: Final = 5
"""A week of trading."""
_BUYING: Final = "/buying"


def _last_day(rows: str, body: Body) -> str:
    """Return the last of the days that the rows of a body are of."""
    listed = body.get(rows)
    days = [
        str(row["on"])
        for row in (listed if isinstance(listed, list) else ())
        if isinstance(row, dict) and "on" in row
    ]
    return max(days, default="")


def _day_of_quotes(body: Body) -> str:
    return _last_day("quotes", body)


def _day_of_rates(body: Body) -> str:
    return _last_day("rates", body)


def _to_buying(_body: Body) -> str:
    return _BUYING


QUOTES: Final = EntryForm(
    kind="quote.recorded",
    address="/record-quotes",
    title="Record quotes",
    groups=(
        Group(
            "The series",
            (
                Field("market", "Market", "pick", required=True, choices=markets),
                Field(
                    "month",
                    "Futures month",
                    hint="Such as 2026-12; empty for a plain series.",
                ),
                Field(
                    "unit",
                    "Unit of the figures",
                    "pick",
                    required=True,
                    choices=tuple((unit, "") for unit in PRICE_UNITS),
                ),
                Field(
                    "source",
                    "Where they were read",
                    hint="So that somebody else finds the same figures.",
                    required=True,
                ),
            ),
        ),
        Group(
            "Day",
            (
                Field("quotes.*.on", "Trading day", "day"),
                Field("quotes.*.level", "Figure"),
            ),
            rows=_DAYS_SHOWN,
        ),
    ),
    done=_to_buying,
    day_of=_day_of_quotes,
    lead="A year of quotes is quicker as a file: see Upload.",
)

RATES: Final = EntryForm(
    kind="rate.recorded",
    address="/record-rates",
    title="Record exchange rates",
    groups=(
        Group(
            "The currencies",
            (
                Field(
                    "base", "One unit of", hint="ISO 4217, such as GBP.", required=True
                ),
                Field(
                    "to",
                    "In units of",
                    hint="ISO 4217, such as USD.",
                    required=True,
                ),
                Field(
                    "forward_months",
                    "Months ahead",
                    hint="For a forward rate; empty for the rate of the day.",
                ),
                Field("source", "Where they were read", required=True),
            ),
        ),
        Group(
            "Day",
            (
                Field("rates.*.on", "Day", "day"),
                Field("rates.*.rate", "Rate"),
            ),
            rows=_DAYS_SHOWN,
        ),
    ),
    done=_to_buying,
    day_of=_day_of_rates,
)

PAGES: Final[tuple[Page, ...]] = (*QUOTES.pages(BUYER), *RATES.pages(BUYER))
