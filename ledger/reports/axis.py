"""Axes: where a figure or a date lies on a sheet, and which of them to name."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from itertools import count
from typing import Final

_MOST_TICKS: Final = 6
_MOST_DATES: Final = 9
_MONTHS_APART: Final = (1, 2, 3, 6, 12, 24, 60, 120)


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of whole numbers laid along a stretch of a sheet.

    Attributes:
        low: Smallest figure.
        high: Largest figure, above the smallest.
        at_low: Where the smallest lies, in units of the sheet.
        at_high: Where the largest lies.
    """

    low: int
    high: int
    at_low: int
    at_high: int

    def at(self, figure: int) -> int:
        """Return where a figure lies, to the nearest unit below."""
        along = (self.at_high - self.at_low) * (figure - self.low)
        return self.at_low + along // (self.high - self.low)


def ticks(low: int, high: int) -> tuple[int, ...]:
    """Return round figures that take in a stretch, a step of 1, 2 or 5 tens apart."""
    step = next(
        step for step in _round_steps() if -(-high // step) - low // step <= _MOST_TICKS
    )
    first = low // step
    last = max(-(-high // step), first + 1)
    return tuple(step * place for place in range(first, last + 1))


def _round_steps() -> Iterator[int]:
    for power in count():
        for factor in (1, 2, 5):
            yield factor * 10**power


def month_starts(first: date, last: date) -> tuple[date, ...]:
    """Return first days of months between two dates, few enough to write below an axis.

    The months are those in which a year, half-year or quarter begins, where there are
    too many to name each.
    """
    for apart in _MONTHS_APART:
        found = tuple(_every(apart, first, last))
        if len(found) <= _MOST_DATES:
            return found
    return ()


def _every(apart: int, first: date, last: date) -> Iterator[date]:
    month = first.year * 12 + first.month - 1
    if first.day > 1:
        month += 1
    month = -(-month // apart) * apart
    while (day := date(month // 12, month % 12 + 1, 1)) <= last:
        yield day
        month += apart
