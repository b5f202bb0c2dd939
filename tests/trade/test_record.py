"""ledger.trade.record: records are frozen, guess nothing and survive their own body."""

import json
from collections.abc import Iterable
from datetime import date, datetime
from decimal import Decimal
from typing import Annotated, Any, Literal, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from pydantic import Field, ValidationError

from ledger.chain.canonical import JsonValue
from ledger.trade.kinds import KINDS
from ledger.trade.money import Money, UnitPrice
from ledger.trade.quantity import Celsius, Count, Kilograms, PositiveKilograms
from ledger.trade.record import (
    Day,
    Measured,
    Name,
    Record,
    Text,
    YesNo,
    body_of,
    parse,
)

Body = dict[str, JsonValue]


class Weighing(Measured):
    """One lot on the scale."""

    lot: Name
    """The lot."""
    net_kg: PositiveKilograms
    """Net mass."""
    tare_kg: Kilograms | None = None
    """Mass of the bags."""
    peak_c: Celsius | None = None
    """Highest temperature in the container."""
    peak: Text | None = None
    """Where the peak was read: so a temperature cannot be typed under this key."""


class Fixed(Record):
    """A price agreed in figures."""

    kind_of_price: Literal["fixed"]
    """The word that tells it."""


class ToBeFixed(Record):
    """A price to be fixed later."""

    kind_of_price: Literal["to be fixed"]
    """The word that tells it."""
    fix_by: Day
    """Last day to fix it."""


class Delivery(Record):
    """Lots that came in on one day."""

    arrived_on: Day
    """Day of arrival."""
    lots: tuple[Weighing, ...]
    """What was weighed."""
    price: UnitPrice
    """Price agreed."""
    paid: Money | None = None
    """What was paid."""
    due_on: Day | None = None
    """Day of payment."""
    marks: tuple[tuple[Text, ...], ...] = ()
    """Marks on the bags, by side."""
    terms: Literal["FOB", "ex works"] = "FOB"
    """Delivery term."""
    organic: YesNo | None = None
    """Whether it is organic."""
    bags: Count | None = None
    """Number of bags."""
    basis: Annotated[Fixed | ToBeFixed, Field(discriminator="kind_of_price")] | None = (
        None
    )
    """How the price was agreed, told by a word in it."""


WEIGHING: Body = {"lot": "PE-2026/014", "net_kg": "1250.000"}
DELIVERY: Body = {
    "arrived_on": "2026-03-02",
    "lots": [WEIGHING],
    "price": {"amount": "2400.00", "unit": "USD/t"},
    "terms": "FOB",
}


def refusal_of(model: type[Record], body: Body) -> tuple[tuple[Any, ...], str]:
    with pytest.raises(ValidationError) as refusal:
        parse(model, body)
    [error] = refusal.value.errors()
    return error["loc"], error["msg"]


def test_a_body_is_read_and_written_unchanged() -> None:
    delivery = parse(Delivery, DELIVERY)

    assert date(2026, 3, 2) == delivery.arrived_on
    assert Decimal(1250) == delivery.lots[0].net_kg
    assert body_of(delivery) == DELIVERY


def test_a_record_built_in_python_equals_one_read_from_json() -> None:
    built = Delivery(
        arrived_on=date(2026, 3, 2),
        lots=(Weighing(lot="PE-2026/014", net_kg=Decimal(1250)),),
        price=UnitPrice(amount=Decimal(2400), unit="USD/t"),
    )

    assert built == parse(Delivery, DELIVERY)
    assert built == Delivery.model_validate_json(json.dumps(DELIVERY))


def test_what_is_empty_by_default_is_left_out_of_the_body() -> None:
    delivery = parse(Delivery, {**DELIVERY, "paid": None, "marks": [], "organic": None})

    assert body_of(delivery) == DELIVERY
    assert body_of(parse(Delivery, {**DELIVERY, "lots": []}))["lots"] == []


def test_records_cannot_be_changed() -> None:
    delivery = parse(Delivery, DELIVERY)

    with pytest.raises(ValidationError, match="frozen"):
        delivery.arrived_on = date(2026, 3, 3)  # type: ignore[misc]


def test_lists_become_tuples_at_every_depth() -> None:
    delivery = parse(Delivery, {**DELIVERY, "marks": [["A", "B"], []]})

    assert delivery.marks == (("A", "B"), ())
    assert body_of(delivery)["marks"] == [["A", "B"], []]


@pytest.mark.parametrize(
    ("field", "value", "because"),
    [
        ("arrived_on", "2026-02-30", "not in the calendar; check month and day"),
        ("arrived_on", "02.03.2026", "write year-month-day, such as 2026-03-02"),
        ("arrived_on", "20260302", "write year-month-day"),
        ("arrived_on", "2026-W10-1", "write year-month-day"),
        ("arrived_on", "2026-03-02T00:00:00", "write year-month-day"),
        ("arrived_on", "0206-03-02", "before the year 1900; check the year"),
        ("arrived_on", 1772409600, "write year-month-day"),
        ("arrived_on", datetime(2026, 3, 2), "year-month-day"),  # noqa: DTZ001
        ("arrived_on", None, "write year-month-day"),
        ("due_on", 0, "write year-month-day"),
        ("organic", 1, "not a yes or no; write true or false"),
        ("organic", "yes", "not a yes or no; write true or false"),
        ("bags", 185.0, "not a whole number"),
        ("terms", "CIF", "'FOB' or 'ex works'"),
        ("lots", "PE-2026/014", "valid tuple"),
        ("price", "2400 USD/t", "valid dictionary or instance of UnitPrice"),
        ("weather", "fine", "Extra inputs are not permitted"),
    ],
)
def test_nothing_is_guessed(field: str, value: JsonValue, because: str) -> None:
    location, message = refusal_of(Delivery, {**DELIVERY, field: value})

    assert (field,) == location
    assert because in message


@pytest.mark.parametrize(
    ("written", "truth"), [(True, True), ("true", True), ("false", False)]
)
def test_truth_may_be_written_as_a_word(written: JsonValue, truth: bool) -> None:  # noqa: FBT001
    delivery = parse(Delivery, {**DELIVERY, "organic": written})

    assert truth is delivery.organic
    assert truth is body_of(delivery)["organic"]


@pytest.mark.parametrize(
    "text", ["x", " kept as typed ", "São Tomé", "x" * 500, "可可", "🍫"]
)
def test_text_is_kept_as_typed(text: str) -> None:
    assert parse(Weighing, {**WEIGHING, "peak": text}).peak == text


@pytest.mark.parametrize(
    ("text", "because"),
    [
        ("", "is blank; write something or leave it out"),
        ("  ", "is blank"),
        ("x" * 501, "has 501 characters; at most 500 fit"),
        ("two\nlines", "U+000A; write one line without control characters"),
        ("\x00", "U+0000"),
        ("bidi \u202e override", "U+202E"),
        ("\u2066isolate\u2069", "U+2066"),
        ("line\u2028separator", "U+2028"),
        ("surrogate \ud800", "U+D800"),
        (7, "valid string"),
    ],
)
def test_text_that_cannot_be_printed_on_one_line_is_refused(
    text: JsonValue, because: str
) -> None:
    location, message = refusal_of(Weighing, {**WEIGHING, "peak": text})

    assert location == ("peak",)
    assert because in message


@pytest.mark.parametrize("name", ["a", "7", "PE-2026/014", "tank_3.b", "x" * 64])
def test_identifiers_keep_to_plain_characters(name: str) -> None:
    assert parse(Weighing, {**WEIGHING, "lot": name}).lot == name


@pytest.mark.parametrize(
    "name", ["", "-a", "/etc", ".", "a b", "lot\n", "x" * 65, "lót", "a:b"]
)
def test_identifiers_refuse_other_characters(name: str) -> None:
    location, message = refusal_of(Weighing, {**WEIGHING, "lot": name})

    assert location == ("lot",)
    assert "use 1 to 64 of the characters A-Z a-z 0-9 . _ / -" in message


def test_a_typed_figure_is_converted_and_kept() -> None:
    weighing = parse(Weighing, {"lot": "a", "net": "27557.8 lb", "tare": "185 kg"})

    assert Decimal("12500.008") == weighing.net_kg
    assert body_of(weighing) == {
        "lot": "a",
        "net_kg": "12500.008",
        "tare_kg": "185.000",
        "typed": {"net_kg": "27557.8 lb", "tare_kg": "185 kg"},
    }
    assert weighing == parse(Weighing, body_of(weighing))


def test_a_key_that_is_a_field_of_its_own_is_not_a_typed_figure() -> None:
    weighing = parse(Weighing, {**WEIGHING, "peak": "257 F", "peak_c": "125"})

    assert weighing.typed == {}
    assert weighing.peak == "257 F"


def test_a_typed_temperature_is_checked_against_the_stored_one() -> None:
    weighing = parse(
        Weighing, {**WEIGHING, "peak_c": "125.0", "typed": {"peak_c": "257 F"}}
    )

    assert weighing.typed == {"peak_c": "257 F"}


@pytest.mark.parametrize(
    ("change", "because"),
    [
        ({"net": "3 lb"}, 'both "net" and "net_kg" are given; give one of them'),
        ({"tare": 3}, "tare is 3, which is not text; write number and unit in quotes"),
        ({"tare": "3 ton"}, 'tare: "ton" is 907 kg, 1000 kg or 1016 kg'),
        (
            {"typed": {"net_kg": "3 lb"}},
            'net_kg is 1250.000, but the typed "3 lb" is 1.361; correct one of them',
        ),
        ({"typed": {"tare_kg": "3 lb"}}, 'tare_kg is None, but the typed "3 lb"'),
        ({"typed": {"lot": "3 lb"}}, 'typed names "lot", which is not a figure'),
        ({"typed": {"gross_kg": "3 lb"}}, 'typed names "gross_kg", which is not'),
        (
            {"tare": "3 lb", "typed": {"tare_kg": "4 lb"}},
            'tare_kg is 1.361, but the typed "4 lb" is 1.814',
        ),
        ({"tare": "3 lb", "typed": "4 lb"}, "valid dictionary"),
        ({"typed": {"net_kg": 3}}, "valid string"),
    ],
)
def test_a_typed_figure_that_does_not_fit_is_refused(
    change: Body, because: str
) -> None:
    _, message = refusal_of(Weighing, {**WEIGHING, **change})

    assert because in message


@given(st.text())
def test_random_text_for_a_figure_is_refused_by_pydantic_alone(text: str) -> None:
    try:
        weighing = parse(Weighing, {"lot": "a", "net": text})
    except ValidationError:
        return
    assert weighing == parse(Weighing, body_of(weighing))


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3)
    ),
    max_leaves=5,
)


@given(st.sampled_from([*Delivery.model_fields, "x"]), JSON)
def test_a_random_value_is_refused_by_pydantic_alone(
    field: str, value: JsonValue
) -> None:
    try:
        delivery = parse(Delivery, {**DELIVERY, field: value})
    except ValidationError:
        return
    assert delivery == parse(Delivery, body_of(delivery))


NAMES = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._/-]{0,63}", fullmatch=True)
WEIGHINGS = st.builds(
    Weighing,
    lot=NAMES,
    net_kg=st.decimals(Decimal("0.001"), 10**9, places=3),
    tare_kg=st.none() | st.decimals(0, 10**9, places=3),
    peak_c=st.none() | st.decimals(-50, 400, places=1),
    typed=st.just({}),
    peak=st.none() | st.text("abc xyz éü", min_size=1).filter(str.strip),
)
DELIVERIES = st.builds(
    Delivery,
    arrived_on=st.dates(date(1900, 1, 1)),
    lots=st.lists(WEIGHINGS, max_size=3).map(tuple),
    price=st.builds(
        UnitPrice, amount=st.decimals(0, 10**9, places=4), unit=st.just("USc/lb")
    ),
    paid=st.none()
    | st.builds(
        Money, amount=st.decimals(0, 10**12, places=2), currency=st.just("USD")
    ),
    due_on=st.none() | st.dates(date(1900, 1, 1)),
    marks=st.lists(st.just(("A", "B")), max_size=2).map(tuple),
    terms=st.sampled_from(["FOB", "ex works"]),
    organic=st.none() | st.booleans(),
    bags=st.none() | st.integers(0, 2**53 - 1),
    basis=st.none()
    | st.builds(
        ToBeFixed,
        kind_of_price=st.just("to be fixed"),
        fix_by=st.dates(date(1900, 1, 1)),
    ),
)


@given(DELIVERIES)
def test_every_record_is_given_back_by_its_body(delivery: Delivery) -> None:
    body = body_of(delivery)

    assert delivery == parse(Delivery, body)
    assert delivery == parse(Delivery, json.loads(json.dumps(body)))
    assert body == body_of(parse(Delivery, body))


DELIVERY_SCHEMA = Draft202012Validator(Delivery.model_json_schema())


@given(DELIVERIES)
def test_every_body_fits_the_json_schema_and_holds_no_float(
    delivery: Delivery,
) -> None:
    body = body_of(delivery)

    assert list(DELIVERY_SCHEMA.iter_errors(body)) == []
    assert "float" not in {type(leaf).__name__ for leaf in leaves(body)}


def leaves(value: JsonValue) -> list[JsonValue]:
    if isinstance(value, dict):
        return [leaf for item in value.values() for leaf in leaves(item)]
    if isinstance(value, list):
        return [leaf for item in value for leaf in leaves(item)]
    return [value]


def test_the_json_schema_carries_the_docstring_of_each_field() -> None:
    schema = Weighing.model_json_schema()

    assert schema["properties"]["net_kg"]["description"] == "Net mass."
    assert schema["additionalProperties"] is False


def every_record(model: type[Record]) -> set[type[Record]]:
    below = {kind for child in model.__subclasses__() for kind in every_record(child)}
    return below | {model}


def has_reader(metadata: Iterable[object]) -> bool:
    readers = {"Scale", "PlainValidator", "BeforeValidator"}
    return any(type(part).__name__ in readers for part in metadata)


def bare_types(annotation: object, metadata: Iterable[object] = ()) -> set[object]:
    """The types in an annotation that no reader of ours stands beside."""
    if has_reader((*metadata, *getattr(annotation, "__metadata__", ()))):
        return set()
    if parts := get_args(annotation):
        return {bare for part in parts for bare in bare_types(part)}
    return {annotation}


def read_by_hand(model: type[Record]) -> set[str]:
    validators = model.__pydantic_decorators__.field_validators.values()
    return {field for validator in validators for field in validator.info.fields}


def test_no_record_has_a_field_for_which_pydantic_would_guess_a_value() -> None:
    guessed: set[object] = {date, datetime, bool, int, float, Decimal}
    found = {
        f"{model.__name__}.{name}"
        for model in every_record(Record)
        for name, field in model.model_fields.items()
        if name not in read_by_hand(model)
        and guessed & bare_types(field.annotation, field.metadata)
    }

    assert every_record(Record) > set(KINDS.values())
    assert found == set()


def test_field_that_goes_by_another_name_is_written_under_that_name() -> None:
    body: Body = {
        "return": "RT-1",
        "sale": "V-1",
        "document": "credit note 7",
        "reason": "melted on the way",
        "lines": [{"lot": "L-1", "mass_kg": "1.000"}],
    }
    model = KINDS["sale.returned"]

    assert body_of(parse(model, body)) == body
