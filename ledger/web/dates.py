"""The dates that figures are asked for: which trade dates count, and as recorded when."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Final
from urllib.parse import urlencode

from ledger.errors import InputError
from ledger.web.asked import Asked

A_YEAR: Final = timedelta(days=364)
"""Days before the last one that a window reaches back, as the commands have it."""


@dataclass(frozen=True, slots=True)
class Dates:
    """What an address asks figures for.

    Attributes:
        since: First trade date; None from the beginning.
        until: Last trade date.
        recorded_by: Moment of recording up to which entries count; None for all.
    """

    since: date | None
    until: date
    recorded_by: datetime | None = None

    @property
    def carried(self) -> str:
        """The same dates as the query of another page's address."""
        asked = (
            ("since", self.since),
            ("as_of", self.until),
            ("recorded_by", self.recorded_by),
        )
        return urlencode([(name, at.isoformat()) for name, at in asked if at])

    def of_day(self, key: str) -> str:
        """Return the query for the one day that stands in a cell of the same row.

        Args:
            key: Key of the cell's column.
        """
        asked = f"since={{{key}}}&as_of={{{key}}}"
        if self.recorded_by is None:
            return asked
        return f"{asked}&{urlencode({'recorded_by': self.recorded_by.isoformat()})}"

    @property
    def recorded_typed(self) -> str:
        """The moment of recording as a field of a form takes it, in UTC."""
        if self.recorded_by is None:
            return ""
        return f"{self.recorded_by.astimezone(UTC):%Y-%m-%dT%H:%M:%S}"


def dates_asked(asked: Asked, *, usual_since: date | None = None) -> Dates:
    """Return the dates that an address names.

    Args:
        asked: The request.
        usual_since: First trade date where the address names no dates at all.

    Raises:
        InputError: What it names is not a date or a moment, or runs backwards.
    """
    until, since = asked.as_of(), asked.day("since")
    names_none = not any(map(asked.query, ("since", "as_of", "recorded_by")))
    if names_none and usual_since is not None and usual_since <= until:
        since = usual_since
    return _in_order(Dates(since, until, asked.moment("recorded_by")))


def year_asked(asked: Asked) -> Dates:
    """Return the dates that an address names, a year where only the last is known.

    Raises:
        InputError: What it names is not a date or a moment, or runs backwards.
    """
    until = asked.as_of()
    since = asked.day("since") or until - A_YEAR
    return _in_order(Dates(since, until, asked.moment("recorded_by")))


def _in_order(dates: Dates) -> Dates:
    if dates.since is not None and dates.since > dates.until:
        raise InputError(
            f"since is {dates.since}, after as_of {dates.until}; swap the two dates"
        )
    return dates
