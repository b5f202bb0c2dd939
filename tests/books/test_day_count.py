"""ledger.books.day_count: days become years as the published conventions say."""

from calendar import isleap
from datetime import date, timedelta
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.books.day_count import years_between
from ledger.trade.dues_terms import DayCount

Dates = st.dates(date(1990, 1, 1), date(2060, 12, 31))


def published(start: date, end: date, day_count: DayCount) -> Fraction:
    """Return the year fraction by the published formula, written day by day.

    Source: 2006 ISDA Definitions, section 4.16 (b), (d), (e) and (f).
    """
    if day_count == "30/360":
        d1 = 30 if start.day == 31 else start.day
        d2 = 30 if end.day == 31 and d1 > 29 else end.day
        years, months = end.year - start.year, end.month - start.month
        return Fraction(360 * years + 30 * months + d2 - d1, 360)
    total, day = Fraction(0), start
    while day < end:
        year_days = {"actual/365": 365, "actual/360": 360}.get(
            day_count, 366 if isleap(day.year) else 365
        )
        total += Fraction(1, year_days)
        day += timedelta(days=1)
    return total


@pytest.mark.parametrize(
    ("start", "end", "years"),
    [
        ("2003-11-01", "2004-05-01", "0.4977243806"),
        ("1999-02-01", "1999-07-01", "0.4109589041"),
        ("1999-07-01", "2000-07-01", "1.0013773486"),
    ],
)
def test_actual_actual_is_what_the_published_examples_say(
    start: str, end: str, years: str
) -> None:
    """The first is 61 days of a common year and 121 of a leap year.

    Source: International Swaps and Derivatives Association, paper on the actual/actual
    day count fraction (1999), its examples as quoted to ten decimals in the tests of a
    public library for financial arithmetic.
    """
    found = years_between(
        date.fromisoformat(start), date.fromisoformat(end), "actual/actual"
    )

    assert round(found.share, 10) == Fraction(years)


@pytest.mark.parametrize(
    ("day_count", "reckoning"),
    [
        ("actual/365", "182 / 365"),
        ("actual/360", "182 / 360"),
        ("actual/actual", "61 / 365 + 121 / 366"),
        ("30/360", "180 / 360"),
    ],
)
def test_the_arithmetic_is_shown(day_count: DayCount, reckoning: str) -> None:
    found = years_between(date(2003, 11, 1), date(2004, 5, 1), day_count)

    assert found.reckoning == reckoning


@pytest.mark.parametrize(
    ("start", "end", "days"),
    [
        ("2025-01-30", "2025-01-31", 0),
        ("2025-01-31", "2025-03-31", 60),
        ("2025-01-29", "2025-01-31", 2),
        ("2025-01-31", "2025-03-01", 31),
        ("2025-02-28", "2025-03-31", 33),
        ("2024-12-31", "2025-12-31", 360),
    ],
)
def test_a_thirty_first_counts_as_a_thirtieth_where_it_is_reached(
    start: str, end: str, days: int
) -> None:
    """2006 ISDA Definitions, section 4.16 (f): D1 and D2."""
    found = years_between(date.fromisoformat(start), date.fromisoformat(end), "30/360")

    assert found.share == Fraction(days, 360)


@given(
    start=Dates,
    days=st.integers(0, 2000),
    day_count=st.sampled_from(["actual/365", "actual/360", "actual/actual", "30/360"]),
)
def test_every_convention_is_its_published_formula(
    start: date, days: int, day_count: DayCount
) -> None:
    end = start + timedelta(days=days)

    found = years_between(start, end, day_count)

    parts = [part.split(" / ") for part in found.reckoning.split(" + ")]
    assert found.share == published(start, end, day_count)
    assert sum(Fraction(int(a), int(b)) for a, b in parts) == found.share
