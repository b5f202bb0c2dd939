"""The only place where figures are rounded.

Masses are whole grams and money is whole minor units, so a figure is rounded only where
a factor or a share makes it fall between two of them. The direction is always the one
that does not flatter the maker: what may be claimed is rounded down, what is drawn or
owed is rounded up. Shares and prices per tonne stay exact fractions until then.
"""

from fractions import Fraction
from typing import Final

STATEMENT: Final = (
    "Masses are kept to the gram and money to the smallest unit of its currency. "
    "Credits to an account are rounded down to the gram, draws are rounded up; amounts "
    "due to growers are rounded up. Shares and prices are exact until then."
)


def credited(grams: Fraction) -> int:
    """Return whole grams that may be credited: rounded down."""
    return grams.numerator // grams.denominator


def drawn(grams: Fraction) -> int:
    """Return whole grams that are drawn: rounded up."""
    return -(-grams.numerator // grams.denominator)


def owed(minor_units: Fraction) -> int:
    """Return whole minor units of a currency that are owed: rounded up."""
    return -(-minor_units.numerator // minor_units.denominator)
