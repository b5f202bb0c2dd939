"""Figures as text: exact where they are exact, and marked where they are not."""

import re
from decimal import Decimal
from fractions import Fraction
from typing import Final

NARROW_SPACE: Final = "\u202f"
"""Parts groups of three digits for the eye; no reader takes it for a decimal sign."""

_PLACES_OF_PERCENT: Final = 4


def kg_text(grams: int) -> str:
    """Return whole grams as kilograms with three decimals, such as "1250.000".

    Done on integers, so that a question about masses loads no model of the trade.
    """
    whole, rest = divmod(abs(grams), 1000)
    return f"{'-' if grams < 0 else ''}{whole}.{rest:03d}"


def mass_text(grams: Fraction) -> str:
    """Return kilograms to the nearest gram, for a part of a mass that seldom is one.

    Only for reading: what counts stays exact.
    """
    return kg_text(round(grams))


def money_text(minor: int, currency: str) -> str:
    """Return minor units as major units with the decimals of the currency."""
    from ledger.trade.money import minor_digits  # noqa: PLC0415 - the models of the trade

    return f"{Decimal(minor).scaleb(-minor_digits(currency)):f}"


def percent_text(share: Fraction) -> str:
    """Return a share of one in per cent to the nearest 0.0001, such as "12.5000".

    Only for reading: what counts stays exact.
    """
    figure = Decimal(round(share * 100 * 10**_PLACES_OF_PERCENT))
    return f"{figure.scaleb(-_PLACES_OF_PERCENT):f}"


def grouped(figure: str) -> str:
    """Return a plain number with its whole digits in groups of three.

    What is not a plain number comes back as it is.
    """
    found = re.fullmatch(r"(-?)([0-9]+)(\.[0-9]+)?", figure)
    if not found:
        return figure
    sign, whole, rest = found.groups(default="")
    return f"{sign}{int(whole):,}".replace(",", NARROW_SPACE) + rest
