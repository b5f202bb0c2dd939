"""Reading a market, an exchange rate, and a price in another currency, on a date."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from fractions import Fraction

from ledger.books.effect import Subject, SubjectKind
from ledger.books.lookup import expect
from ledger.books.rounding import exactly, shown
from ledger.books.shelf import Shelf
from ledger.books.working import NotComputableError, Working
from ledger.trade.market import QuoteRecorded, RateRecorded
from ledger.trade.money import Differential, UnitPrice, currency_of, per_tonne
from ledger.trade.unit import kilograms_in


@dataclass(frozen=True, slots=True)
class PerTonne:
    """A price per 1,000 kg and how it was reached.

    Attributes:
        amount: Major units of the currency per 1,000 kg, exact.
        currency: The currency, by ISO 4217.
        workings: The arithmetic, the figure itself last.
    """

    amount: Fraction
    currency: str
    workings: tuple[Working, ...]

    @property
    def shown(self) -> str:
        """The figure with its unit."""
        return f"{shown(self.amount)} {self.currency}/t"


def quote_subject(market: str, day: date, month: str | None = None) -> Subject:
    """Return the name that one day's quote of a series, or of a futures month, has."""
    series = market if month is None else f"{market}:{month}"
    return Subject(SubjectKind.QUOTE, f"{series}@{day}")


def rate_subject(
    base: str, to: str, day: date, forward_months: int | None = None
) -> Subject:
    """Return the name that one day's exchange rate has."""
    ahead = "" if forward_months is None else f"+{forward_months}"
    return Subject(SubjectKind.RATE, f"{base}/{to}{ahead}@{day}")


def quote_on(
    shelf: Shelf,
    market: str,
    on: date,
    *,
    fall_back_days: int,
    month: str | None = None,
) -> tuple[UnitPrice, Working]:
    """Return what a market quoted on a date, or on the last day before it that it did.

    Args:
        shelf: What is recorded.
        market: Name of the series.
        on: Date on which it is read; it may be a holiday.
        fall_back_days: How many calendar days before it the last quote may be.
        month: Futures month to read where it is quoted; the plain series of that day
            serves where it is not.

    Raises:
        NotComputableError: No quote is recorded within these days.
    """
    for day in days_back(on, fall_back_days):
        found = quoted_on(shelf, market, day, month) or quoted_on(shelf, market, day)
        if found is None:
            continue
        price, line = found
        return price, replace(line, text=f"{line.text}{bridged(day, on, 'quote')}")
    raise NotComputableError(
        "no-quote",
        f"{market} has no quote on {on} or within {fall_back_days} days before it; "
        "record what it quoted with quote.recorded, and what is due can be computed",
    )


def quoted_on(
    shelf: Shelf, market: str, day: date, month: str | None = None
) -> tuple[UnitPrice, Working] | None:
    """Return what was quoted on one day, of a futures month if one is named."""
    found = shelf.introducer(quote_subject(market, day, month))
    if found is None:
        return None
    quotes = expect(found.record, QuoteRecorded)
    level = next(quote.level for quote in quotes.quotes if quote.on == day)
    return UnitPrice(amount=level, unit=quotes.unit), Working(
        f"{market} {month} on {day}" if month else f"{market} on {day}",
        f"{shown(Fraction(level))} {quotes.unit}",
        quotes.source,
        found.seq,
    )


def rate_on(
    shelf: Shelf,
    base: str,
    to: str,
    on: date,
    *,
    fall_back_days: int,
    forward_months: int | None = None,
) -> tuple[Fraction, tuple[Working, ...]]:
    """Return how many units of one currency another was worth on a date.

    A rate recorded the other way round serves as well, turned over exactly; of two
    recorded for one day, the one recorded as asked.

    Args:
        shelf: What is recorded.
        base: Currency that is one unit.
        to: Currency it is expressed in.
        on: Date of the rate; it may be a holiday.
        fall_back_days: How many calendar days before it the last rate may be.
        forward_months: Months ahead, for a forward rate; None for the spot rate.

    Returns:
        The rate, and the lines that lead to it.

    Raises:
        NotComputableError: No rate is recorded within these days.
    """
    for day in days_back(on, fall_back_days):
        for first, second in ((base, to), (to, base)):
            found = shelf.introducer(rate_subject(first, second, day, forward_months))
            if found is None:
                continue
            rates = expect(found.record, RateRecorded)
            rate = Fraction(next(r.rate for r in rates.rates if r.on == day))
            text = _rate_text(first, second, day, forward_months)
            line = Working(
                f"{text}{bridged(day, on, 'rate')}",
                shown(rate),
                rates.source,
                found.seq,
            )
            if first == base:
                return rate, (line,)
            return 1 / rate, (line, _turned_over(rate, base, to, day))
    ahead = "" if forward_months is None else f" {forward_months} months ahead"
    raise NotComputableError(
        "no-rate",
        f"{base} has no rate{ahead} against {to} on {on} or within {fall_back_days} days "
        "before it; record it with rate.recorded, and what is due can be computed",
    )


def _rate_text(base: str, to: str, day: date, forward_months: int | None) -> str:
    ahead = "" if forward_months is None else f", {forward_months} months ahead"
    return f"rate of {day}, {to} for 1 {base}{ahead}"


def _turned_over(rate: Fraction, base: str, to: str, day: date) -> Working:
    return Working(
        f"the same turned over, {to} for 1 {base} on {day}",
        shown(1 / rate),
        reckoning=f"1 / {shown(rate)}",
    )


def per_tonne_in(
    shelf: Shelf,
    price: UnitPrice | Differential,
    currency: str,
    on: date,
    *,
    fall_back_days: int,
) -> PerTonne:
    """Return a price per 1,000 kg in a currency, converted at the rate of a date.

    Its workings hold a line for each conversion, and none where nothing is converted.

    Raises:
        NotComputableError: A rate is needed and not recorded.
    """
    return converted(
        shelf, plain_per_tonne(price), currency, on, fall_back_days=fall_back_days
    )


def plain_per_tonne(price: UnitPrice | Differential) -> PerTonne:
    """Return a price per 1,000 kg in its own currency, with a line if its unit differs.

    Source:
        NIST SP 811 (2008), appendix B.9: a pound is 0.453 592 37 kg, exactly.
    """
    own, amount = currency_of(price), per_tonne(price)
    if price.unit == f"{own}/t":
        return PerTonne(amount, own, ())
    line = Working(
        "the same per tonne",
        f"{shown(amount)} {own}/t",
        "NIST SP 811",
        reckoning=f"{shown(Fraction(price.amount))}{_to_tonnes(price.unit)}",
    )
    return PerTonne(amount, own, (line,))


def _to_tonnes(unit: str) -> str:
    """Return the arithmetic from a figure in a unit to major units per tonne."""
    cents = " / 100" if unit.startswith("USc") else ""
    return f"{cents} * 1000 / {exactly(kilograms_in(unit.partition('/')[2]))}"


def converted(
    shelf: Shelf,
    price: PerTonne,
    currency: str,
    on: date,
    *,
    fall_back_days: int,
    forward_months: int | None = None,
) -> PerTonne:
    """Return a price per 1,000 kg in a currency, at the rate of a date.

    Raises:
        NotComputableError: A rate is needed and not recorded.
    """
    if price.currency == currency:
        return price
    rate, lines = rate_on(
        shelf,
        price.currency,
        currency,
        on,
        fall_back_days=fall_back_days,
        forward_months=forward_months,
    )
    amount = price.amount * rate
    line = Working(
        f"the same in {currency}",
        f"{shown(amount)} {currency}/t",
        reckoning=f"{shown(price.amount)} * {shown(rate)}",
    )
    return PerTonne(amount, currency, (*price.workings, *lines, line))


def bridged(day: date, on: date, what: str) -> str:
    """Return what a line adds where a figure is older than the date asked for."""
    return "" if day == on else f", the last {what} before {on}"


def days_back(on: date, fall_back_days: int) -> Iterator[date]:
    """Yield a date and the days before it, as many as a holiday may bridge."""
    return (on - timedelta(days=back) for back in range(fall_back_days + 1))
