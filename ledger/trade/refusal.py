"""How a refused value is shown inside the sentence that refuses it."""

from datetime import date
from decimal import Decimal

_LONGEST_SHOWN = 60


def as_given(value: object) -> str:
    """Return a refused value as it was given, safe and short enough to print.

    Args:
        value: Text is shown in double quotes with control characters escaped; a
            number, a date, true, false and null as JSON has them; anything else by
            its type. All are cut short.
    """
    match value:
        case str():
            return _quoted(value)
        case None:
            return "null"
        case bool():
            return str(value).lower()
        case int():  # written by Decimal, because str() refuses very long integers
            return _cut(str(Decimal(value)))
        case float() | Decimal() | date():
            return _cut(str(value))
        case _:
            return f"a {type(value).__name__}"


def _quoted(text: str) -> str:
    return '"' + repr(_cut(text))[1:-1] + '"'


def _cut(text: str) -> str:
    return text if len(text) <= _LONGEST_SHOWN else text[:_LONGEST_SHOWN] + "…"
