"""Days and moments as people type them."""

from datetime import UTC, date, datetime

from ledger.errors import InputError

_LENGTH_OF_DAY = len("2026-03-31")
_FIRST_YEAR, _LAST_YEAR = 1900, 2999
"""No entry is earlier, and around these years there is room to reckon."""


def parse_day(text: str, *, named: str) -> date:
    """Return the day that a text names.

    Args:
        text: The text.
        named: What to call it in a sentence, such as "--as-of".

    Raises:
        InputError: It is not a day, or in a year that no ledger reaches.
    """
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise InputError(
            f"{named} is {text!r}, which is not a date; write year-month-day, such as "
            "2026-03-31"
        ) from None
    _check_year(day, text, named=named)
    return day


def parse_moment(text: str, *, named: str) -> datetime:
    """Return the moment that a text names; a bare day means its end, in UTC.

    Args:
        text: The text.
        named: What to call it in a sentence, such as "--recorded-by".

    Raises:
        InputError: It is not a moment, or in a year that no ledger reaches.
    """
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise InputError(
            f"{named} is {text!r}, which is not a moment; write 2026-03-31 or "
            "2026-03-31T12:00"
        ) from None
    _check_year(moment, text, named=named)
    if len(text) == _LENGTH_OF_DAY:
        moment = moment.replace(hour=23, minute=59, second=59, microsecond=999999)
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def _check_year(day: date, text: str, *, named: str) -> None:
    if not _FIRST_YEAR <= day.year <= _LAST_YEAR:
        raise InputError(
            f"{named} is {text!r}, but a ledger holds the years {_FIRST_YEAR} to "
            f"{_LAST_YEAR}; check the year"
        )
