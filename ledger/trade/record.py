"""What every record of the trade has in common.

A record is frozen, refuses unknown fields and guesses nothing: a number is no date, a
word no truth value, and a figure never a float. Lists are taken for tuples and ISO
dates for dates, so one model reads a body that came as JSON and one built in Python.
"""

import re
import unicodedata
from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from types import MappingProxyType
from typing import Annotated, ClassVar, Final, Self, TypeVar, cast

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    SerializerFunctionWrapHandler,
    ValidationInfo,
    WithJsonSchema,
    model_serializer,
    model_validator,
)

from ledger.chain.canonical import JsonValue
from ledger.errors import InputError
from ledger.trade.refusal import as_given
from ledger.trade.unit import parse_mass, parse_temperature

_LONGEST_TEXT = 500
_TURNS_TEXT_ROUND = frozenset(
    ["LRE", "LRO", "RLE", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"]
)
_REFUSED_CATEGORIES = frozenset({"Cc", "Cs", "Zl", "Zp"})


def is_invisible(character: str) -> bool:
    """Tell whether a character cannot be seen: it controls, or turns text round."""
    return (
        unicodedata.category(character) in _REFUSED_CATEGORIES
        or unicodedata.bidirectional(character) in _TURNS_TEXT_ROUND
    )


def _check_text(text: str) -> str:
    if not text.strip():
        raise ValueError(f"{as_given(text)} is blank; write something or leave it out")
    if len(text) > _LONGEST_TEXT:
        raise ValueError(
            f"{as_given(text)} has {len(text)} characters; at most {_LONGEST_TEXT} "
            "fit, so shorten it or attach a document"
        )
    for character in text:
        if is_invisible(character):
            raise ValueError(
                f"{as_given(text)} holds the invisible character "
                f"U+{ord(character):04X}; write one line without control characters"
            )
    return text


Text = Annotated[
    str,
    AfterValidator(_check_text),
    WithJsonSchema({"type": "string", "minLength": 1, "maxLength": _LONGEST_TEXT}),
]
"""One line of text, kept as typed: 1 to 500 characters, no control characters."""

_NAME_PATTERN = r"[A-Za-z0-9][A-Za-z0-9._/\-]{0,63}"


def _check_name(name: str) -> str:
    if not re.fullmatch(_NAME_PATTERN, name):
        raise ValueError(
            f"{as_given(name)} is not an identifier; use 1 to 64 of the characters "
            "A-Z a-z 0-9 . _ / - and start with a letter or digit"
        )
    return name


Name = Annotated[
    str,
    AfterValidator(_check_name),
    WithJsonSchema({"type": "string", "pattern": f"^{_NAME_PATTERN}$"}),
]
"""An identifier: 1 to 64 of A-Z a-z 0-9 . _ / - starting with a letter or digit."""

_ISO_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_FIRST_YEAR = 1900


def _read_day(given: object) -> date:
    if isinstance(given, date) and not isinstance(given, datetime):
        day = given
    elif isinstance(given, str) and _ISO_DATE.fullmatch(given):
        try:
            day = date.fromisoformat(given)
        except ValueError as error:
            raise ValueError(
                f"{as_given(given)} is not in the calendar; check month and day"
            ) from error
    else:
        raise ValueError(
            f"{as_given(given)} is not a date; write year-month-day, such as 2026-03-02"
        )
    if day.year < _FIRST_YEAR:
        raise ValueError(
            f"{as_given(given)} lies before the year {_FIRST_YEAR}; check the year"
        )
    return day


Day = Annotated[date, BeforeValidator(_read_day)]
"""A day of the calendar from 1900 on, written year-month-day."""

_TRUTHS: Final = {"true": True, "false": False}


def _read_truth(given: object) -> bool:
    if isinstance(given, str) and given in _TRUTHS:
        return _TRUTHS[given]
    if not isinstance(given, bool):
        raise ValueError(  # noqa: TRY004 - pydantic collects ValueError only
            f"{as_given(given)} is not a yes or no; write true or false"
        )
    return given


YesNo = Annotated[bool, BeforeValidator(_read_truth)]
"""A truth value, which a file may also write as the words true and false."""


class Record(BaseModel):
    """A frozen record that refuses unknown fields and values of the wrong type.

    A field never has the bare type `date`, `bool`, `int` or `float`, for which pydantic
    would guess a value, but `Day`, `YesNo`, or a type of `ledger.trade.quantity`.
    """

    kind: ClassVar[str] = ""
    """Kind of the entry whose body this is; empty for a part of a body."""
    sealed: ClassVar[tuple[str, ...]] = ()
    """Members that are sealed when the entry is recorded."""
    sealed_required: ClassVar[tuple[str, ...]] = ()
    """Sealed members that must be given all the same."""

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        use_attribute_docstrings=True,
        allow_inf_nan=False,
        serialize_by_alias=True,
    )

    @model_serializer(mode="wrap")
    def _leave_out_what_is_empty(
        self, write: SerializerFunctionWrapHandler
    ) -> dict[str, object]:
        written = cast("dict[str, object]", write(self))
        fields = {
            field.alias or name: field
            for name, field in type(self).model_fields.items()
        }
        return {
            key: value
            for key, value in written.items()
            if not _is_empty(value)
            or not _is_empty(fields[key].get_default(call_default_factory=True))
        }


def _is_empty(value: object) -> bool:
    return value is None or (isinstance(value, list | tuple | dict) and not value)


_TYPED_KINDS: Final = {"_kg": parse_mass, "_c": parse_temperature}


CONVERTED_BEFORE: Final[Mapping[str, str]] = MappingProxyType({"typed": "converted"})
"""Context of validation that spares a stored body the conversion of what was typed.

It was converted and compared when it was recorded; doing it again loads the library of
units, which takes longer than most questions.
"""


class Measured(Record):
    """A record with figures that a person may type in units of their own.

    For a field `net_kg`, the key `net` may give the text "27557.8 lb" instead; for a
    field `peak_c`, the key `peak` may give "257 F". The converted figure fills the
    field and the text is kept in `typed`.
    """

    may_differ: ClassVar[Decimal] = Decimal(0)
    """By how much a figure may differ from what was typed, in its own unit."""

    typed: dict[str, Text] = Field(default_factory=dict)
    """What the person typed, by the field that holds the converted figure."""

    @model_validator(mode="before")
    @classmethod
    def _convert_typed(cls, given: object) -> object:
        if not isinstance(given, Mapping):
            return given
        body = dict(given)
        texts: dict[str, object] = {}
        for field in cls.model_fields:
            key = typed_key(field)
            if key is None or key in cls.model_fields or key not in body:
                continue
            if field in body:
                raise ValueError(
                    f'both "{key}" and "{field}" are given; give one of them'
                )
            texts[field] = body.pop(key)
            body[field] = _convert(field, texts[field])
        if texts:
            kept = body.get("typed", {})
            body["typed"] = {**texts, **kept} if isinstance(kept, Mapping) else kept
        return body

    @model_validator(mode="after")
    def _check_typed(self, told: ValidationInfo) -> Self:
        if told.context is CONVERTED_BEFORE:
            return self
        for field, text in self.typed.items():
            if field not in type(self).model_fields or typed_key(field) is None:
                raise ValueError(
                    f"typed names {as_given(field)}, which is not a figure with a unit "
                    "in this record; take it out"
                )
            stored = cast("Decimal | None", getattr(self, field))
            converted = _convert(field, text)
            if stored is None or abs(stored - converted) > self.may_differ:
                raise ValueError(
                    f"{field} is {stored}, but the typed {as_given(text)} is "
                    f"{converted}; correct one of them"
                )
        return self


def typed_key(field: str) -> str | None:
    """Return the key that takes a figure with its unit, where a field has one."""
    for suffix in _TYPED_KINDS:
        if field.endswith(suffix):
            return field.removesuffix(suffix)
    return None


def _convert(field: str, text: object) -> Decimal:
    if not isinstance(text, str):
        raise ValueError(  # noqa: TRY004 - pydantic collects ValueError only
            f"{typed_key(field)} is {as_given(text)}, which is not text; write number "
            'and unit in quotes, such as "1250.5 kg"'
        )
    suffix = "_" + field.rpartition("_")[2]
    try:
        return _TYPED_KINDS[suffix](text)
    except InputError as error:
        raise ValueError(f"{typed_key(field)}: {error}") from error


_R = TypeVar("_R", bound=Record)


def parse(model: type[_R], body: Mapping[str, JsonValue]) -> _R:
    """Return the record that a body describes.

    pydantic's `ValidationError` names every field that breaks a rule.
    """
    return model.model_validate(body)


def body_of(record: Record) -> dict[str, JsonValue]:
    """Return a record as JSON values, without fields that are empty by default.

    The result is the same for equal records, and `parse` gives the record back.
    """
    return cast("dict[str, JsonValue]", record.model_dump(mode="json"))
