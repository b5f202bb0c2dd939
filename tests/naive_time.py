"""Days, months and windows of the second reading: text in, text out."""

from calendar import monthrange
from datetime import date, timedelta

from tests.naive_trade import Body


def days(first: str, last: str) -> list[str]:
    """List the days from one to another, both included."""
    day, found = date.fromisoformat(first), []
    while str(day) <= last:
        found.append(str(day))
        day += timedelta(days=1)
    return found


def ends(terms: Body, day: str) -> bool:
    """Tell whether a reconciliation period is over with a day."""
    starts = terms.get("reconciliation_starts", 1)
    length = terms.get("reconciliation_months", 12)
    after = date.fromisoformat(day) + timedelta(days=1)
    first_months = {(starts - 1 + n) % 12 + 1 for n in range(0, 12, length)}
    return after.day == 1 and after.month in first_months


def months_before(end: str, months: int) -> str:
    """Return the first of the month that lies some months before the day after `end`."""
    day = date.fromisoformat(end) + timedelta(days=1)
    for _ in range(months):
        day = (day - timedelta(days=1)).replace(day=1)
    return str(day)


def whole_months_before(on: str, months: int) -> set[str]:
    """Return the whole months before the month of a day, as text like 2025-02."""
    found = set()
    month = date.fromisoformat(on).replace(day=1)
    for _ in range(months):
        month = (month - timedelta(days=1)).replace(day=1)
        found.add(str(month)[:7])
    return found


def window(on: str, months: int) -> str:
    """Return the first day of the months that end with a day.

    It follows the same day of the month so long before, or the last of a shorter one.
    """
    day = date.fromisoformat(on)
    month = day.replace(day=1)
    for _ in range(months):
        month = (month - timedelta(days=1)).replace(day=1)
    last = monthrange(month.year, month.month)[1]
    return str(month.replace(day=min(day.day, last)) + timedelta(days=1))
