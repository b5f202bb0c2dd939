"""Reading a market, an exchange rate, and a price in another currency, on a date."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from ledger.books.effect import Subject, SubjectKind
from ledger.books.lookup import expect
from ledger.books.rounding import shown
from ledger.books.shelf import Shelf
from ledger.books.working import NotComputableError, Working
from ledger.trade.market import QuoteRecorded, RateRecorded
from ledger.trade.money import Differential, UnitPrice, currency_of, per_tonne


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


def quote_on(
    shelf: Shelf, market: str, on: date, *, fall_back_days: int
) -> tuple[UnitPrice, Working]:
    """Return what a market quoted on a date, or on the last day before it that it did.

    Args:
        shelf: What is recorded.
        market: Name of the series.
        on: Date on which it is read; it may be a holiday.
        fall_back_days: How many calendar days before it the last quote may be.

    Raises:
        NotComputableError: No quote is recorded within these days.
    """
    for day in _days_back(on, fall_back_days):
        found = shelf.introducer(Subject(SubjectKind.QUOTE, f"{market}@{day}"))
        if found is None:
            continue
        quotes = expect(found.record, QuoteRecorded)
        level = next(quote.level for quote in quotes.quotes if quote.on == day)
        holiday = "" if day == on else f", the last quote before {on}"
        return UnitPrice(amount=level, unit=quotes.unit), Working(
            f"{market} on {day}{holiday}",
            f"{shown(Fraction(level))} {quotes.unit}",
            quotes.source,
            found.seq,
        )
    raise NotComputableError(
        "no-quote",
        f"{market} has no quote on {on} or within {fall_back_days} days before it; "
        "record what it quoted with quote.recorded, and what is due can be computed",
    )


def rate_on(
    shelf: Shelf, base: str, to: str, on: date, *, fall_back_days: int
) -> tuple[Fraction, Working]:
    """Return how many units of one currency another was worth on a date.

    A rate recorded the other way round serves as well, turned over exactly; of two
    recorded for one day, the one recorded as asked.

    Args:
        shelf: What is recorded.
        base: Currency that is one unit.
        to: Currency it is expressed in.
        on: Date of the rate; it may be a holiday.
        fall_back_days: How many calendar days before it the last rate may be.

    Raises:
        NotComputableError: No rate is recorded within these days.
    """
    for day in _days_back(on, fall_back_days):
        for first, second in ((base, to), (to, base)):
            subject = Subject(SubjectKind.RATE, f"{first}/{second}@{day}")
            found = shelf.introducer(subject)
            if found is None:
                continue
            rates = expect(found.record, RateRecorded)
            rate = Fraction(next(r.rate for r in rates.rates if r.on == day))
            return rate if first == base else 1 / rate, Working(
                f"rate of {day}, {second} for 1 {first}",
                shown(rate),
                rates.source,
                found.seq,
            )
    raise NotComputableError(
        "no-rate",
        f"{base} has no rate against {to} on {on} or within {fall_back_days} days before "
        "it; record it with rate.recorded, and what is due can be computed",
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
    own = currency_of(price)
    amount = per_tonne(price)
    workings: list[Working] = []
    if price.unit != f"{own}/t":
        workings.append(
            Working("the same per tonne", f"{shown(amount)} {own}/t", "NIST SP 811")
        )
    if own != currency:
        rate, working = rate_on(shelf, own, currency, on, fall_back_days=fall_back_days)
        amount *= rate
        workings += (
            working,
            Working(f"the same in {currency}", f"{shown(amount)} {currency}/t"),
        )
    return PerTonne(amount, currency, tuple(workings))


def _days_back(on: date, fall_back_days: int) -> Iterator[date]:
    return (on - timedelta(days=back) for back in range(fall_back_days + 1))
