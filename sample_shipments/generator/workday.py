"""Days of the calendar on which people trade and work."""

from collections.abc import Iterator
from datetime import date, timedelta

FIRST = date(2024, 10, 1)
LAST = date(2026, 9, 30)

_SATURDAY = 5
_HOLIDAYS = """
2024-12-25 2024-12-26 2025-01-01 2025-04-18 2025-04-21 2025-05-05 2025-05-26 2025-08-25
2025-12-25 2025-12-26 2026-01-01 2026-04-03 2026-04-06 2026-05-04 2026-05-25 2026-08-31
"""
HOLIDAYS = frozenset(date.fromisoformat(day) for day in _HOLIDAYS.split())
"""Days without quotes and without work, beside the weekends."""


def is_workday(day: date) -> bool:
    """Tell whether people work, and the market trades, on a day."""
    return day.weekday() < _SATURDAY and day not in HOLIDAYS


def on_or_after(day: date) -> date:
    """Return the first working day from a day on."""
    while not is_workday(day):
        day += timedelta(days=1)
    return day


def after(day: date, workdays: int) -> date:
    """Return the day some working days later."""
    for _ in range(workdays):
        day = on_or_after(day + timedelta(days=1))
    return day


def before(day: date, workdays: int) -> date:
    """Return the day some working days earlier."""
    for _ in range(workdays):
        day -= timedelta(days=1)
        while not is_workday(day):
            day -= timedelta(days=1)
    return day


def workdays() -> Iterator[date]:
    """Yield every working day of the two years."""
    day = FIRST
    while day <= LAST:
        if is_workday(day):
            yield day
        day += timedelta(days=1)


def month_of(day: date) -> str:
    """Return the month of a day, such as 2024-10."""
    return f"{day:%Y-%m}"


def months() -> list[str]:
    """Return the months of the two years."""
    return list(dict.fromkeys(month_of(day) for day in workdays()))
