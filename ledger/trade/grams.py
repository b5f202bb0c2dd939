"""Grams and kilograms: masses inside the books are whole grams.

It needs nothing but decimals, so that a question about masses starts quickly.
"""

from decimal import Context, Decimal
from typing import Final

from ledger.errors import InputError
from ledger.trade.refusal import as_given

EXACT: Final = Context(prec=100)
"""Wide enough that no figure of the trade is ever rounded, whatever the caller set."""


def to_grams(kg: Decimal) -> int:
    """Return a mass in whole grams, exactly; it may be negative.

    Args:
        kg: Kilograms, at most three decimals.

    Raises:
        InputError: The mass is not a whole number of grams.
    """
    grams = kg.scaleb(3, EXACT)
    if not grams.is_finite() or grams != grams.to_integral_value():
        raise InputError(f"{as_given(kg)} kg is not a whole number of grams; round it")
    return int(grams)


def from_grams(grams: int) -> Decimal:
    """Return kilograms with exactly three decimals; grams may be negative."""
    return Decimal(grams).scaleb(-3, EXACT)


def show_kg(grams: int) -> str:
    """Return a mass as text in kilograms with three decimals, such as "1250.000"."""
    return f"{from_grams(grams):f}"
