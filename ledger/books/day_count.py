"""How the days between two dates become years, for interest at a yearly rate."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Final

from ledger.trade.dues_terms import DayCount

_THIRTY, _LAST_DAY = 30, 31


@dataclass(frozen=True, slots=True)
class Years:
    """A stretch of time as a part of a year.

    Attributes:
        share: The part, exact.
        reckoning: How it was reached, such as "61 / 365 + 121 / 366".
    """

    share: Fraction
    reckoning: str


def years_between(start: date, end: date, day_count: DayCount) -> Years:
    """Return the time from one date to another as a part of a year.

    The first day is left out or the last one, which comes to the same.

    Args:
        start: First date.
        end: Last date, not before the first.
        day_count: The convention.

    Source:
        2006 ISDA Definitions, section 4.16: (b) Actual/Actual, (d) Actual/365 (Fixed),
        (e) Actual/360, (f) 30/360.
    """
    return _CONVENTIONS[day_count](start, end)


def _actual_365(start: date, end: date) -> Years:
    return _over(365, (end - start).days)


def _actual_360(start: date, end: date) -> Years:
    return _over(360, (end - start).days)


def _over(year_days: int, days: int) -> Years:
    return Years(Fraction(days, year_days), f"{days} / {year_days}")


def _actual_actual(start: date, end: date) -> Years:
    """Return days in leap years over 366 and days in other years over 365."""
    common = leap = 0
    for year in range(start.year, end.year + 1):
        first, last = max(start, date(year, 1, 1)), min(end, date(year + 1, 1, 1))
        days = (last - first).days
        if (date(year + 1, 1, 1) - date(year, 1, 1)).days == 366:  # noqa: PLR2004 - leap
            leap += days
        else:
            common += days
    share = Fraction(common, 365) + Fraction(leap, 366)
    parts = [f"{common} / 365"] * bool(common) + [f"{leap} / 366"] * bool(leap)
    return Years(share, " + ".join(parts) or "0 / 365")


def _thirty_360(start: date, end: date) -> Years:
    """Return months of thirty days: a 31st counts as the 30th where that is reached."""
    first = min(start.day, _THIRTY)
    last = _THIRTY if end.day == _LAST_DAY and first == _THIRTY else end.day
    months = (end.year - start.year) * 12 + end.month - start.month
    return _over(360, months * _THIRTY + last - first)


_CONVENTIONS: Final[Mapping[DayCount, Callable[[date, date], Years]]] = {
    "actual/365": _actual_365,
    "actual/360": _actual_360,
    "actual/actual": _actual_actual,
    "30/360": _thirty_360,
}
