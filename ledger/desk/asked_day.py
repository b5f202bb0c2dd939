"""Days and moments as people type them."""

from datetime import UTC, date, datetime

from ledger.errors import InputError

_LENGTH_OF_DAY = len("2026-03-31")


def parse_day(text: str, *, named: str) -> date:
    """Return the day that a text names.

    Args:
        text: The text.
        named: What to call it in a sentence, such as "--as-of".

    Raises:
        InputError: It is not a day.
    """
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise InputError(
            f"{named} is {text!r}, which is not a date; write year-month-day, such as "
            "2026-03-31"
        ) from None


def parse_moment(text: str, *, named: str) -> datetime:
    """Return the moment that a text names; a bare day means its end, in UTC.

    Args:
        text: The text.
        named: What to call it in a sentence, such as "--recorded-by".

    Raises:
        InputError: It is not a moment.
    """
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise InputError(
            f"{named} is {text!r}, which is not a moment; write 2026-03-31 or "
            "2026-03-31T12:00"
        ) from None
    if len(text) == _LENGTH_OF_DAY:
        moment = moment.replace(hour=23, minute=59, second=59, microsecond=999999)
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)
