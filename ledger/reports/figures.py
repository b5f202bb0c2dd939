"""Figures as text: exact where they are exact, and marked where they are not."""

import re
from decimal import Decimal
from fractions import Fraction
from typing import Final

NARROW_SPACE: Final = "\u202f"
"""Parts groups of three digits for the eye; no reader takes it for a decimal sign."""

_PLACES_OF_PERCENT: Final = 4
_LEAST_SHARE: Final = "0.1"


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


def price_text(amount: Fraction) -> str:
    """Return a price to the nearest hundredth of its unit, such as "2450.00".

    Only for reading: what is owed is reckoned exactly, and rounded once.
    """
    return f"{Decimal(round(amount * 100)).scaleb(-2):f}"


def percent_text(share: Fraction) -> str:
    """Return a share of one in per cent to the nearest 0.0001, such as "12.5000".

    Only for reading: what counts stays exact.
    """
    return _per_cent(share, _PLACES_OF_PERCENT)


def _per_cent(share: Fraction, places: int) -> str:
    return f"{Decimal(round(share * 100 * 10**places)).scaleb(-places):f}"


def mass_words(grams: Fraction) -> str:
    """Return a mass for a drawing or a tree, such as "2 400.500 kg"."""
    if 0 < grams < Fraction(1, 2):
        return "under 1 g"
    return f"{grouped(mass_text(grams))} kg"


def share_words(share: Fraction) -> str:
    """Return a share of one for a drawing or a tree, such as "12.5 %"."""
    if 0 < share < Fraction(1, 2000):
        return f"under {_LEAST_SHARE} %"
    return f"{_per_cent(share, 1)} %"


def grouped(figure: str) -> str:
    """Return a plain number with its whole digits in groups of three.

    What is not a plain number comes back as it is.
    """
    found = re.fullmatch(r"(-?)([0-9]+)(\.[0-9]+)?", figure)
    if not found:
        return figure
    sign, whole, rest = found.groups(default="")
    return f"{sign}{int(whole):,}".replace(",", NARROW_SPACE) + rest
