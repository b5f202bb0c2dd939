"""How a refused value is shown inside the sentence that refuses it, and what to do."""

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from difflib import get_close_matches
from typing import Final

_LONGEST_SHOWN: Final = 60
_LONGEST_COMPARED: Final = 100


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


def instead(given: object, known: Iterable[str]) -> str:
    """Return the way out where a closed list of words does not hold the one given.

    Args:
        given: What was given.
        known: The words that would be right; at least one.
    """
    words = list(known)
    if isinstance(given, str) and len(given) <= _LONGEST_COMPARED:
        for near in get_close_matches(given, words, n=1, cutoff=0.7):
            return f'did you mean "{near}"?'
    return f"use one of {', '.join(words)}"
