"""Figures of the trade: masses, shares, temperatures, hours and counts.

Every figure is an exact decimal that travels as text. Floats are refused at the door,
because 0.1 as a binary fraction is not 0.1. Units of other systems are converted by
`pint`, which is loaded only when somebody types such a unit.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING, Annotated, Final

from pydantic import GetCoreSchemaHandler, PlainValidator, WithJsonSchema
from pydantic_core import core_schema

from ledger.errors import InputError
from ledger.trade.refusal import as_given

if TYPE_CHECKING:
    import pint
    from pydantic import GetJsonSchemaHandler
    from pydantic.json_schema import JsonSchemaValue

MOST_KILOGRAMS: Final = 10**9
"""No single mass is larger: a million tonnes, a fifth of a year's world crop."""

_PLAIN_DECIMAL = re.compile(r"-?[0-9]{1,30}(\.[0-9]{1,30})?")
_PLACES_IN_WORDS = ("no", "one", "two", "three", "four", "five", "six")


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """What one kind of figure may be, and how it is written.

    Used as the second argument of `Annotated`, it makes pydantic read the figure from
    text, `Decimal` or `int`, and write it as text in every mode.
    """

    lowest: Decimal
    """The smallest figure accepted."""
    highest: Decimal
    """The largest figure accepted."""
    places: int
    """How many decimals a figure may have."""
    written_places: int
    """How many decimals are always written, zeros included; further ones as needed."""
    way_out: str
    """What the person can do about a figure with too many decimals."""

    def read(self, given: object) -> Decimal:
        """Return the figure, with exactly `places` decimals.

        Args:
            given: Text in plain decimal notation, a `Decimal` or an `int`.

        Raises:
            ValueError: It is something else, is not finite, has more decimals than
                the scale, or lies outside its bounds.
        """
        figure = _read_decimal(given)
        if not self.lowest <= figure <= self.highest:
            raise ValueError(
                f"{as_given(given)} lies outside {self.lowest:f} to {self.highest:f}; "
                "check the figure and its unit"
            )
        _, _, exponent = figure.as_tuple()
        if isinstance(exponent, int) and -exponent > self.places:
            raise ValueError(
                f"{as_given(given)} has more than {_PLACES_IN_WORDS[self.places]} "
                f"decimals; {self.way_out}"
            )
        exact = figure.quantize(Decimal(1).scaleb(-self.places))
        return exact if exact else exact.copy_abs()

    def write(self, figure: Decimal) -> str:
        """Return the figure in plain decimal notation."""
        whole, _, decimals = f"{figure:.{self.places}f}".partition(".")
        kept = decimals.rstrip("0").ljust(self.written_places, "0")
        return f"{whole}.{kept}" if kept else whole

    def __get_pydantic_core_schema__(
        self, _source: object, _handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        """Tell pydantic to read and write with this scale."""
        return core_schema.no_info_plain_validator_function(
            self.read,
            serialization=core_schema.plain_serializer_function_ser_schema(
                self.write, return_schema=core_schema.str_schema()
            ),
        )

    def __get_pydantic_json_schema__(
        self, _schema: core_schema.CoreSchema, _handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """Describe the figure as text of a given pattern."""
        sign = "-?" if self.lowest < 0 else ""
        digits = len(f"{self.highest:.0f}")
        return {
            "type": "string",
            "pattern": rf"^{sign}[0-9]{{1,{digits}}}(\.[0-9]{{1,{self.places}}})?$",
        }


def _read_decimal(given: object) -> Decimal:
    if isinstance(given, bool) or not isinstance(given, (str, int, Decimal)):
        raise ValueError(  # noqa: TRY004 - pydantic collects ValueError only
            f"{as_given(given)} is not text; write the figure in quotes, such as "
            '"1250.5", because a binary fraction is not exact'
        )
    if isinstance(given, str) and not _PLAIN_DECIMAL.fullmatch(given):
        raise ValueError(
            f"{as_given(given)} is not a plain decimal number; write digits with at most "
            "one point, such as 1250.5, without unit, exponent or thousands separator"
        )
    figure = Decimal(given)
    if not figure.is_finite():
        raise ValueError(f"{given} is not a finite number; write the figure in digits")
    return figure


_TO_THE_GRAM: Final = (
    "masses are kept to the gram, so round it as your weight note does"
)

Kilograms = Annotated[
    Decimal,
    Scale(
        lowest=Decimal(0),
        highest=Decimal(MOST_KILOGRAMS),
        places=3,
        written_places=3,
        way_out=_TO_THE_GRAM,
    ),
]
"""A mass in kilograms, to the gram, 0 to 10^9."""

PositiveKilograms = Annotated[
    Decimal,
    Scale(
        lowest=Decimal("0.001"),
        highest=Decimal(MOST_KILOGRAMS),
        places=3,
        written_places=3,
        way_out=_TO_THE_GRAM,
    ),
]
"""A mass in kilograms, to the gram, one gram to 10^9 kg."""

Percent = Annotated[
    Decimal,
    Scale(
        lowest=Decimal(0),
        highest=Decimal(100),
        places=4,
        written_places=0,
        way_out="percentages are kept to four decimals, so round it",
    ),
]
"""A percentage, 0 to 100, at most four decimals."""

Share = Annotated[
    Decimal,
    Scale(
        lowest=Decimal(0),
        highest=Decimal(1),
        places=6,
        written_places=0,
        way_out="shares are kept to six decimals, so round it",
    ),
]
"""A part of one, 0 to 1, at most six decimals."""

Celsius = Annotated[
    Decimal,
    Scale(
        lowest=Decimal(-50),
        highest=Decimal(400),
        places=1,
        written_places=1,
        way_out="temperatures are kept to a tenth of a degree, so round it",
    ),
]
"""A temperature in degrees Celsius, -50 to 400, one decimal."""

Hours = Annotated[
    Decimal,
    Scale(
        lowest=Decimal(0),
        highest=Decimal(100_000),
        places=2,
        written_places=2,
        way_out="durations are kept to a hundredth of an hour, so round it",
    ),
]
"""A duration in hours, 0 to 100,000, two decimals."""

_MOST_COUNTED = 2**53 - 1
_WHOLE_NUMBER = re.compile(r"[0-9]{1,16}")


def _read_count(given: object) -> int:
    if isinstance(given, str) and _WHOLE_NUMBER.fullmatch(given):
        given = int(given)
    if isinstance(given, int) and not isinstance(given, bool):
        if 0 <= given <= _MOST_COUNTED:
            return given
        raise ValueError(
            f"{as_given(Decimal(given))} lies outside 0 to {_MOST_COUNTED}; "
            "check the count"
        )
    raise ValueError(
        f"{as_given(given)} is not a whole number; write digits only, such as 185"
    )


Count = Annotated[
    int,
    PlainValidator(_read_count),
    WithJsonSchema({"type": "integer", "minimum": 0, "maximum": _MOST_COUNTED}),
]
"""How many: a whole number, 0 to 2^53 - 1."""


def to_grams(kg: Decimal) -> int:
    """Return a mass in whole grams, exactly; it may be negative.

    Args:
        kg: Kilograms, at most three decimals.

    Raises:
        InputError: The mass is not a whole number of grams.
    """
    if not kg.is_finite() or kg.scaleb(3) != kg.scaleb(3).to_integral_value():
        raise InputError(f"{as_given(kg)} kg is not a whole number of grams; round it")
    return int(kg.scaleb(3))


def from_grams(grams: int) -> Decimal:
    """Return kilograms with exactly three decimals; grams may be negative."""
    return Decimal(grams).scaleb(-3)


def show_kg(grams: int) -> str:
    """Return a mass as text in kilograms with three decimals, such as "1250.000"."""
    return f"{from_grams(grams):f}"


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
    'the metric system; write "qq46" or "quintals of 46 kg" for the first, and the '
    "mass in kg for the second",
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

_AMOUNT_AND_UNIT = re.compile(r"([0-9]{1,12}(?:\.[0-9]{1,9})?) ?([a-z][a-z0-9 ]*)")
_PACKAGES = re.compile(
    r"([0-9]{1,7}) (?:bags?|sacks?|box|boxes|drums?|pallets?|quintals?|qq) of (.+)"
)


def parse_mass(text: str) -> Decimal:
    """Return the kilograms that a typed mass stands for.

    The conversion is exact; the result is rounded half-even to the gram, once.

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
    return from_grams(round(kilograms * 1000))


def kilograms_in(unit: str) -> Fraction:
    """Return how many kilograms one unit of mass is, exactly.

    Args:
        unit: A unit as a person writes it, such as "lb", "t", "qq46" or "short_ton".

    Raises:
        InputError: The unit is unknown, or its name has two meanings.

    Source:
        NIST Special Publication 811 (2008), appendix B.8 and its note on the pound.
        The quintal of 46 kg: common practice in the coffee trade.
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
        NIST Special Publication 811 (2008), appendix B.8: t/°C = (t/°F - 32)/1.8.
    """
    found = _TEMPERATURE.fullmatch(" ".join(text.casefold().split()))
    if not found:
        raise InputError(
            f"{as_given(text)} is not a temperature; write a number and C or F, such as "
            '"125 C" or "257 F"'
        )
    degrees = _converted(
        _SCALES_OF_TEMPERATURE[found[2]], "degree_Celsius", Fraction(found[1])
    )
    tenths = round(degrees * 10)
    if not _LOWEST_TENTHS <= tenths <= _HIGHEST_TENTHS:
        raise InputError(
            f"{as_given(text)} lies outside -50 to 400 °C; check the figure and its scale"
        )
    return Decimal(tenths).scaleb(-1)


@cache
def _unit_registry() -> pint.UnitRegistry:
    import pint  # noqa: PLC0415 - half a second, spent only when a unit is typed

    registry = pint.UnitRegistry(non_int_type=Fraction)
    registry.define("quintal_of_46_kg = 46 * kilogram")
    return registry


@cache
def _converted(unit: str, target: str, amount: Fraction) -> Fraction:
    return Fraction(_unit_registry().Quantity(amount, unit).to(target).magnitude)
