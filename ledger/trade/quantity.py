"""Figures of the trade: masses, shares, temperatures, hours and counts.

Every figure is an exact decimal that travels as text. Floats are refused at the door,
because 0.1 as a binary fraction is not 0.1.
"""

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated, Final

from pydantic import (
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    PlainValidator,
    WithJsonSchema,
)
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import core_schema

from ledger.trade.grams import EXACT
from ledger.trade.refusal import as_given

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
        step = Decimal(1).scaleb(-self.places)
        exact = figure.quantize(step, context=EXACT)
        return exact or exact.copy_abs()

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
            f"{as_given(given)} is not a plain decimal number; write digits with at "
            "most one point, such as 1250.5, without unit, exponent or thousands "
            "separator"
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
