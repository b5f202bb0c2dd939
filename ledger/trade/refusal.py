"""How a refused value is shown inside the sentence that refuses it."""

from datetime import date
from decimal import Decimal

_SHOWN_CHARACTERS = 60


def as_given(value: object) -> str:
    """Return a refused value as it was given, safe and short enough to print.

    Args:
        value: Text is shown in double quotes with control characters escaped; a
            number, a date, true, false and null as JSON has them; anything else by
            its type. All are cut at 60 characters.
    """
    match value:
        case str():
            shown = '"' + repr(value[:_SHOWN_CHARACTERS])[1:-1] + '"'
        case None:
            shown = "null"
        case bool():
            shown = str(value).lower()
        case int():  # str() of a very long integer raises
            shown = str(Decimal(value))
        case float() | Decimal() | date():
            shown = str(value)
        case _:
            shown = f"a {type(value).__name__}"
    return shown if len(shown) <= _SHOWN_CHARACTERS else _cut(shown)


def _cut(shown: str) -> str:
    return shown[:_SHOWN_CHARACTERS] + "…"
