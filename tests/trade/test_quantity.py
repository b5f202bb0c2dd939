"""ledger.trade.quantity: figures are exact, bounded and never floats."""

import re
from decimal import Decimal, localcontext
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from ledger.errors import InputError
from ledger.trade.grams import from_grams, show_kg, to_grams
from ledger.trade.quantity import (
    Celsius,
    Count,
    Hours,
    Kilograms,
    Percent,
    PositiveKilograms,
    Share,
)

DECIMALS: dict[str, TypeAdapter[Decimal]] = {
    "kilograms": TypeAdapter(Kilograms),
    "positive kilograms": TypeAdapter(PositiveKilograms),
    "percent": TypeAdapter(Percent),
    "share": TypeAdapter(Share),
    "celsius": TypeAdapter(Celsius),
    "hours": TypeAdapter(Hours),
}
COUNT: TypeAdapter[int] = TypeAdapter(Count)
EVERY_FIGURE: list[TypeAdapter[Any]] = [*DECIMALS.values(), COUNT]


@pytest.mark.parametrize(
    ("kind", "given_value", "written"),
    [
        ("kilograms", "0", "0.000"),
        ("kilograms", "-0", "0.000"),
        ("kilograms", "1250", "1250.000"),
        ("kilograms", "1250.5", "1250.500"),
        ("kilograms", "00012.345", "12.345"),
        ("kilograms", 1251, "1251.000"),
        ("kilograms", Decimal("0.1"), "0.100"),
        ("kilograms", Decimal("1E+3"), "1000.000"),
        ("kilograms", "1000000000", "1000000000.000"),
        ("positive kilograms", "0.001", "0.001"),
        ("percent", "0", "0"),
        ("percent", "82.5000", "82.5"),
        ("percent", "100", "100"),
        ("share", "0.333333", "0.333333"),
        ("share", "1", "1"),
        ("celsius", "-50", "-50.0"),
        ("celsius", "-0.0", "0.0"),
        ("celsius", "400", "400.0"),
        ("hours", "72.25", "72.25"),
        ("hours", "72", "72.00"),
    ],
)
def test_figures_are_written_in_one_way_in_both_modes(
    kind: str, given_value: object, written: str
) -> None:
    figure = DECIMALS[kind].validate_python(given_value)

    assert written == DECIMALS[kind].dump_python(figure)
    assert written == DECIMALS[kind].dump_python(figure, mode="json")


@pytest.mark.parametrize(
    ("kind", "given_value", "because"),
    [
        ("kilograms", "12.3456", "kept to the gram, so round it"),
        ("kilograms", Decimal("0.0001"), "more than three decimals"),
        ("kilograms", "-0.001", "outside 0 to 1000000000"),
        ("kilograms", "1000000000.001", "outside 0 to 1000000000"),
        pytest.param(
            "kilograms", 10**5000, "outside 0 to", id="longer than str allows"
        ),
        ("kilograms", Decimal("1E+999999"), "outside 0 to 1000000000"),
        ("kilograms", "1e3", "not a plain decimal number"),
        ("kilograms", "1,250", "thousands separator"),
        ("kilograms", "1250 kg", "without unit"),
        ("kilograms", " 1", "not a plain decimal number"),
        ("kilograms", "1\n", "not a plain decimal number"),
        ("kilograms", "٣", "not a plain decimal number"),
        ("kilograms", "NaN", "not a plain decimal number"),
        ("kilograms", "", "not a plain decimal number"),
        ("kilograms", Decimal("NaN"), "not a finite number"),
        ("kilograms", Decimal("-Infinity"), "not a finite number"),
        ("kilograms", 1.5, "write the figure in quotes"),
        ("kilograms", True, "write the figure in quotes"),
        ("kilograms", None, "write the figure in quotes"),
        ("positive kilograms", "0", "outside 0.001 to 1000000000"),
        ("percent", "100.0001", "outside 0 to 100"),
        ("percent", "1.00001", "kept to four decimals"),
        ("share", "1.000001", "outside 0 to 1"),
        ("share", "0.0000001", "kept to six decimals"),
        ("celsius", "-50.1", "outside -50 to 400"),
        ("celsius", "400.1", "outside -50 to 400"),
        ("celsius", "1.25", "a tenth of a degree"),
        ("hours", "-0.01", "outside 0 to 100000"),
        ("hours", "1.125", "a hundredth of an hour"),
    ],
)
def test_a_refused_figure_gets_one_sentence_with_rule_and_way_out(
    kind: str, given_value: object, because: str
) -> None:
    with pytest.raises(ValidationError) as refusal:
        DECIMALS[kind].validate_python(given_value)

    [error] = refusal.value.errors()
    assert because in error["msg"]


@pytest.mark.parametrize(
    ("given_value", "count"), [(0, 0), ("185", 185), (2**53 - 1, 2**53 - 1)]
)
def test_counts_are_whole_numbers(given_value: object, count: int) -> None:
    assert count == COUNT.validate_python(given_value)


@pytest.mark.parametrize(
    ("given_value", "because"),
    [
        (-1, "outside 0 to 9007199254740991"),
        (2**53, "outside 0 to 9007199254740991"),
        ("-1", "not a whole number"),
        ("2.0", "not a whole number"),
        (1.0, "not a whole number"),
        (False, "not a whole number"),
        (None, "not a whole number"),
    ],
)
def test_counts_refuse_everything_else(given_value: object, because: str) -> None:
    with pytest.raises(ValidationError, match=because):
        COUNT.validate_python(given_value)


@given(st.floats())
def test_no_figure_is_ever_a_float(number: float) -> None:
    for figure in EVERY_FIGURE:
        with pytest.raises(ValidationError):
            figure.validate_python(number)


@given(
    st.text()
    | st.from_regex(r"-?[0-9]{0,12}\.?[0-9]{0,7}", fullmatch=True)
    | st.decimals()
    | st.integers()
)
def test_every_figure_is_read_back_as_written_or_refused(value: object) -> None:
    for adapter in EVERY_FIGURE:
        try:
            figure = adapter.validate_python(value)
        except ValidationError:
            continue
        assert figure == adapter.validate_python(adapter.dump_python(figure))
        assert figure == Decimal(value)  # type: ignore[arg-type]


@given(st.integers(0, 10**12))
def test_grams_survive_the_way_through_kilograms(grams: int) -> None:
    kilograms = DECIMALS["kilograms"].validate_python(show_kg(grams))

    assert grams == to_grams(kilograms)
    assert show_kg(grams) == DECIMALS["kilograms"].dump_python(kilograms)


@given(st.integers())
def test_grams_are_converted_exactly_both_ways(grams: int) -> None:
    assert grams == to_grams(from_grams(grams))


def test_a_careless_decimal_context_changes_nothing() -> None:
    with localcontext(prec=2):
        kilograms = DECIMALS["kilograms"].validate_python("999999999.999")
        grams = to_grams(kilograms)

        assert show_kg(grams) == "999999999.999"


def test_differences_may_be_negative() -> None:
    assert show_kg(-5) == "-0.005"
    assert to_grams(Decimal("-0.005")) == -5


@pytest.mark.parametrize("kg", [Decimal("0.0001"), Decimal("NaN"), Decimal("Infinity")])
def test_what_is_no_whole_number_of_grams_is_refused(kg: Decimal) -> None:
    with pytest.raises(InputError, match="not a whole number of grams; round it"):
        to_grams(kg)


@pytest.mark.parametrize(
    ("kind", "highest"),
    [
        ("kilograms", "1000000000.000"),
        ("percent", "100"),
        ("share", "0.999999"),
        ("celsius", "-50.0"),
        ("hours", "100000.00"),
    ],
)
def test_the_json_schema_lets_written_figures_pass(kind: str, highest: str) -> None:
    schema = DECIMALS[kind].json_schema()

    assert schema["type"] == "string"
    assert re.search(schema["pattern"], highest)
    assert not re.search(schema["pattern"], "1e3")


def test_the_json_schema_of_a_count_is_an_integer() -> None:
    assert COUNT.json_schema() == {
        "type": "integer",
        "minimum": 0,
        "maximum": 2**53 - 1,
    }
