"""Units of mass and temperature that people type, converted exactly.

`pint` holds the table of units. It is loaded only when a unit outside the SI is typed,
because loading it takes half a second.
"""

import re
from decimal import Decimal
from fractions import Fraction
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Final

from ledger.errors import InputError
from ledger.trade.grams import from_grams
from ledger.trade.quantity import MOST_KILOGRAMS
from ledger.trade.refusal import as_given

if TYPE_CHECKING:
    import pint

_UNIT_SPELLINGS: Final = {
    "kilogram": ("kg", "kgs", "kilo", "kilos", "kilogram", "kilograms"),
    "gram": ("g", "gram", "grams"),
    "metric_ton": ("t", "mt", "tonne", "tonnes", "metric ton", "metric tons"),
    "pound": ("lb", "lbs", "pound", "pounds"),
    "ounce": ("oz", "ounce", "ounces"),
    "short_ton": ("short ton", "short tons"),
    "long_ton": ("long ton", "long tons"),
    "quintal_of_46_kg": ("qq46",),
}
_UNITS: Final = {
    spelling: unit
    for unit, spellings in _UNIT_SPELLINGS.items()
    for spelling in spellings
}
_TWO_MEANINGS: Final = {
    "quintal": "is 46 kg in the coffee and cocoa trade of Latin America and 100 kg in "
    'the metric system; write "quintals of 46 kg" (short: "qq46") or "quintals of '
    '100 kg"',
    "ton": 'is 907 kg, 1000 kg or 1016 kg; write "short ton", "t" or "long ton"',
    "hundredweight": "is 100 lb or 112 lb; write the mass in lb or kg",
}
_AMBIGUOUS: Final = {
    "quintal": "quintal",
    "quintals": "quintal",
    "qq": "quintal",
    "ton": "ton",
    "tons": "ton",
    "cwt": "hundredweight",
    "hundredweight": "hundredweight",
}
_SI_KILOGRAMS: Final = {
    "kilogram": Fraction(1),
    "gram": Fraction(1, 1000),
    "metric_ton": Fraction(1000),
}
"""Powers of ten by the definition of the SI: they need no table of units loaded."""

_AMOUNT_AND_UNIT = re.compile(
    r"([0-9]{1,12}(?:\.[0-9]{1,9})?) ?(qq46|[a-z]+(?: [a-z]+)?)"
)
_PACKAGES = re.compile(
    r"([0-9]{1,7}) (?:bags?|sacks?|box|boxes|drums?|pallets?|quintals?|qq) of (.+)"
)


def parse_mass(text: str) -> Decimal:
    """Return the kilograms that a typed mass stands for.

    The conversion is exact; the result is rounded half-even to the gram, once.

    Args:
        text: As for `exact_kilograms`.

    Raises:
        InputError: As for `exact_kilograms`.
    """
    return from_grams(round(exact_kilograms(text) * 1000))


def exact_kilograms(text: str) -> Fraction:
    """Return the kilograms that a typed mass stands for, exactly.

    Args:
        text: A number and a unit, such as "27557.8 lb", "12.5 t", "3 qq46" or
            "10 short ton"; or a count of equal packages, such as
            "185 bags of 68.95 kg" or "3 quintals of 46 kg".

    Raises:
        InputError: It is not written so, its unit is unknown or has two meanings, or
            the mass is above 10^9 kg.
    """
    plain = " ".join(text.casefold().replace("_", " ").split())
    packages = _PACKAGES.fullmatch(plain)
    count, each = (packages[1], packages[2]) if packages else ("1", plain)
    found = _AMOUNT_AND_UNIT.fullmatch(each)
    if not found:
        raise InputError(
            f"{as_given(text)} is not a mass; write a number and a unit without "
            'thousands separators, such as "1250.5 kg" or "185 bags of 152 lb"'
        )
    kilograms = int(count) * Fraction(found[1]) * kilograms_in(found[2])
    if kilograms > MOST_KILOGRAMS:
        raise InputError(
            f"{as_given(text)} is more than {MOST_KILOGRAMS} kg; check the figure and "
            "its unit"
        )
    return kilograms


def kilograms_in(unit: str) -> Fraction:
    """Return how many kilograms one unit of mass is, exactly.

    Args:
        unit: A unit as a person writes it, such as "lb", "t", "qq46" or "short_ton".

    Raises:
        InputError: The unit is unknown, or its name has two meanings.

    Source:
        NIST Special Publication 811 (2008), appendix B.9, "Mass", and its note 22.
        The quintal of 46 kg: common practice in the coffee and cocoa trade.
    """
    spelling = unit.casefold().replace("_", " ")
    if spelling in _AMBIGUOUS:
        raise InputError(f"{as_given(unit)} {_TWO_MEANINGS[_AMBIGUOUS[spelling]]}")
    if spelling not in _UNITS:
        raise InputError(
            f"{as_given(unit)} is not a unit of mass known here; use kg, g, t, lb, oz, "
            "qq46, short ton or long ton"
        )
    name = _UNITS[spelling]
    return _SI_KILOGRAMS.get(name) or _converted(name, "kilogram", Fraction(1))


_SCALES_OF_TEMPERATURE: Final = {"c": "degree_Celsius", "f": "degree_Fahrenheit"}
_TEMPERATURE = re.compile(r"(-?[0-9]{1,4}(?:\.[0-9]{1,6})?) ?(?:°|deg )?([cf])")
_LOWEST_TENTHS = -500
_HIGHEST_TENTHS = 4000


def parse_temperature(text: str) -> Decimal:
    """Return the degrees Celsius that a typed temperature stands for.

    The conversion is exact; the result is rounded half-even to a tenth of a degree.

    Args:
        text: A number and a scale, such as "257 F", "125 °C" or "-4.5 F".

    Raises:
        InputError: It is not written so, or lies outside -50 to 400 °C.

    Source:
        NIST Special Publication 811 (2008), appendix B.9, "Temperature".
    """
    found = _TEMPERATURE.fullmatch(" ".join(text.casefold().split()))
    if not found:
        raise InputError(
            f"{as_given(text)} is not a temperature; write a number and C or F, such "
            'as "125 C" or "257 F"'
        )
    degrees = _converted(
        _SCALES_OF_TEMPERATURE[found[2]], "degree_Celsius", Fraction(found[1])
    )
    tenths = round(degrees * 10)
    if not _LOWEST_TENTHS <= tenths <= _HIGHEST_TENTHS:
        raise InputError(
            f"{as_given(text)} lies outside -50 to 400 °C; check the figure and its "
            "scale"
        )
    return Decimal(tenths).scaleb(-1)


@cache
def _unit_registry() -> "pint.UnitRegistry[Fraction]":
    import pint  # noqa: PLC0415 - half a second, spent only when a unit is typed

    registry: pint.UnitRegistry[Fraction] = pint.UnitRegistry(non_int_type=Fraction)
    registry.define("quintal_of_46_kg = 46 * kilogram")
    return registry


@lru_cache(maxsize=1024)
def _converted(unit: str, target: str, amount: Fraction) -> Fraction:
    return Fraction(_unit_registry().Quantity(amount, unit).to(target).magnitude)
