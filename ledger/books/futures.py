"""A market reference that is the average of the nearest active futures months."""

from collections.abc import Iterator
from datetime import date, timedelta
from fractions import Fraction
from itertools import count

from ledger.books.market import (
    PerTonne,
    bridged,
    converted,
    days_back,
    plain_per_tonne,
    quoted_on,
)
from ledger.books.rounding import shown
from ledger.books.shelf import Shelf
from ledger.books.working import NotComputableError, Working
from ledger.trade.dues_terms import FuturesAverage, FuturesMarket
from ledger.trade.money import UnitPrice


def average_on(
    shelf: Shelf, name: str, average: FuturesAverage, on: date, *, fall_back_days: int
) -> PerTonne:
    """Return the average of the nearest active months of some markets on a date.

    Each market is read on that date or, where it has no quote of these months, on the
    last day before it that has. A day on which only some of them are quoted was recorded
    in part, so nothing is computed from it. What is in another currency is converted at
    the rate of the day that was read.

    Args:
        shelf: What is recorded.
        name: What the average is called.
        average: How it is made.
        on: Date on which it is read; it may be a holiday.
        fall_back_days: How many calendar days before it the last quotes and rates may be.

    Raises:
        NotComputableError: Quotes or a rate are missing.

    Source:
        International Cocoa Organization, definition of its daily price: the average of
        the quotations of the nearest three active futures trading months of two
        markets, one of them converted at the six-month forward rate.
    """
    found = [
        _average_of(shelf, market, average, on, fall_back_days)
        for market in average.markets
    ]
    workings = tuple(working for price in found for working in price.workings)
    if len(found) == 1:
        return found[0]
    amount = _mean([price.amount for price in found])
    figures = " + ".join(shown(price.amount) for price in found)
    line = Working(
        f"{name}: average of {len(found)} markets",
        f"{shown(amount)} {average.currency}/t",
        average.source,
        reckoning=f"({figures}) / {len(found)}",
    )
    return PerTonne(amount, average.currency, (*workings, line))


def _average_of(
    shelf: Shelf,
    market: FuturesMarket,
    average: FuturesAverage,
    on: date,
    fall_back_days: int,
) -> PerTonne:
    day, quotes = _quotes_on(shelf, market, average.nearest, on, fall_back_days)
    months, workings = [], []
    for quote, line in quotes:
        price = plain_per_tonne(quote)
        months.append(price)
        workings += [line, *price.workings]
    currency = _one_currency(market, day, months)
    amount = _mean([price.amount for price in months])
    figures = " + ".join(shown(price.amount) for price in months)
    line = Working(
        f"{market.market}: average of {len(months)} months on {day}"
        f"{bridged(day, on, 'quotes')}",
        f"{shown(amount)} {currency}/t",
        average.source,
        reckoning=f"({figures}) / {len(months)}",
    )
    return converted(
        shelf,
        PerTonne(amount, currency, (*workings, line)),
        average.currency,
        day,
        fall_back_days=fall_back_days,
        forward_months=average.forward_months,
    )


def _quotes_on(
    shelf: Shelf, market: FuturesMarket, nearest: int, on: date, fall_back_days: int
) -> tuple[date, list[tuple[UnitPrice, Working]]]:
    """Return the last day on which a market is quoted, and its nearest months then."""
    for day in days_back(on, fall_back_days):
        months = list(nearest_months(market, nearest, day))
        quotes = [quoted_on(shelf, market.market, day, month) for month in months]
        found = [quote for quote in quotes if quote is not None]
        if len(found) == len(quotes):
            return day, found
        if found:
            missing = [m for m, q in zip(months, quotes, strict=True) if q is None]
            raise NotComputableError(
                "quotes-incomplete",
                f"{market.market} is quoted on {day}, but not its month "
                f"{' and '.join(missing)}, which is among the nearest {nearest}; record "
                "it with quote.recorded, and what is due can be computed",
            )
    raise NotComputableError(
        "no-quote",
        f"{market.market} has no quotes of its nearest {nearest} months on {on} or within "
        f"{fall_back_days} days before it; record them with quote.recorded and their "
        "month, and what is due can be computed",
    )


def nearest_months(market: FuturesMarket, nearest: int, on: date) -> Iterator[str]:
    """Yield the nearest months that are active on a date, such as "2026-03"."""
    left = nearest
    for year in count(on.year):
        for month in market.months:
            ends = date(year, month, 1) - timedelta(days=market.leaves_days)
            if on < ends and left:
                left -= 1
                yield f"{year}-{month:02}"
        if not left:
            return


def _mean(amounts: list[Fraction]) -> Fraction:
    return sum(amounts, Fraction(0)) / len(amounts)


def _one_currency(market: FuturesMarket, day: date, months: list[PerTonne]) -> str:
    currencies = sorted({price.currency for price in months})
    if len(currencies) > 1:
        raise NotComputableError(
            "quotes-differ",
            f"{market.market} is quoted in {' and '.join(currencies)} on {day}; the months "
            "of a market are in one currency, so correct the quote that is not",
        )
    return currencies[0]
