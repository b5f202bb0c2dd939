"""The only place where figures are rounded.

Masses are whole grams and money is whole minor units, so a figure is rounded only where
a factor or a share makes it fall between two of them. The direction is always the one
that does not flatter the maker: what may be claimed is rounded down, what is drawn or
owed is rounded up. Shares and prices per tonne stay exact fractions until then.
"""

from decimal import Context, Decimal
from fractions import Fraction
from typing import Final

STATEMENT: Final = (
    "Masses are kept to the gram and money to the smallest unit of its currency. "
    "What is added to an account is rounded down to the gram, what is drawn is rounded "
    "up; amounts due to growers are rounded up. Shares and prices are exact until then."
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


_MOST_SHOWN: Final = 9
_WIDE: Final = Context(prec=100)


def shown(figure: Fraction) -> str:
    """Return a figure as text for a reader: exact, with two to nine decimals.

    A figure that has no end is cut after nine decimals and ends in "…"; nothing is
    reckoned from a figure that was cut.
    """
    places = 2
    while places < _MOST_SHOWN and (figure * 10**places).denominator > 1:
        places += 1
    scaled = figure * 10**places
    whole = abs(scaled.numerator) // scaled.denominator
    text = f"{Decimal(whole).scaleb(-places, _WIDE):f}"
    sign = "-" if figure < 0 else ""
    return f"{sign}{text}" if scaled.denominator == 1 else f"{sign}{text}…"


def exactly(figure: Fraction) -> str:
    """Return a figure that has an end as text, with as many decimals as it needs."""
    places = 0
    while (figure * 10**places).denominator > 1:
        places += 1
    return f"{Decimal(int(figure * 10**places)).scaleb(-places, _WIDE):f}"
