"""Quarters of the calendar year, by which fees and volumes are reported."""

import re
from dataclasses import dataclass
from datetime import date, timedelta

from ledger.errors import InputError

_WRITTEN = re.compile(r"([0-9]{4})Q([1-4])")
_FIRST_YEAR, _LAST_YEAR = 1900, 9998


@dataclass(frozen=True, slots=True, order=True)
class Quarter:
    """Three months of a calendar year, such as 2026Q1."""

    year: int
    number: int

    @classmethod
    def parse(cls, text: str) -> "Quarter":
        """Return the quarter that a text such as "2026Q1" names.

        Raises:
            InputError: It names none.
        """
        found = _WRITTEN.fullmatch(text)
        if found is None or not _FIRST_YEAR <= int(found[1]) <= _LAST_YEAR:
            raise InputError(
                f"quarter {text!r} is not a quarter; write the year, Q and 1 to 4, such "
                "as 2026Q1"
            )
        return cls(int(found[1]), int(found[2]))

    @classmethod
    def of(cls, day: date) -> "Quarter":
        """Return the quarter that a day lies in."""
        return cls(day.year, (day.month - 1) // 3 + 1)

    @property
    def first(self) -> date:
        """First day."""
        return date(self.year, 3 * self.number - 2, 1)

    @property
    def last(self) -> date:
        """Last day."""
        return self.next.first - timedelta(days=1)

    @property
    def next(self) -> "Quarter":
        """The quarter after it."""
        return Quarter.of(self.first + timedelta(days=100))

    @property
    def before(self) -> "Quarter":
        """The quarter before it."""
        return Quarter.of(self.first - timedelta(days=1))

    def __str__(self) -> str:
        return f"{self.year}Q{self.number}"
