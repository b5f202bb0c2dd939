"""ledger.trade.codes: codes are checked by their check digits and lists."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from ledger.trade.codes import ContainerNumber, Country, Digest, Gln, Gtin, Sscc

CODES: dict[str, TypeAdapter[str]] = {
    "gtin": TypeAdapter(Gtin),
    "gln": TypeAdapter(Gln),
    "sscc": TypeAdapter(Sscc),
    "country": TypeAdapter(Country),
    "container": TypeAdapter(ContainerNumber),
    "digest": TypeAdapter(Digest),
}


@pytest.mark.parametrize(
    ("kind", "number"),
    [
        # GS1 India, "How to calculate the check digit" (gs1india.org).
        ("gtin", "8904000210037"),
        # Wikipedia, "Check digit", a 12-digit number read from a box.
        ("gtin", "036000241457"),
        # GS1 Hong Kong, "How is the check digit calculated?" (gs1hk.org).
        ("gtin", "6291041500213"),
        ("gln", "6291041500213"),
        # GS1 EPCIS 2.0, published examples of class identifiers (github.com/gs1/EPCIS).
        ("gtin", "00614141777778"),
        # An 8-digit number by the same rule: 7,3,5,1,3,5,3 weighted 3,1,3,... is 63.
        ("gtin", "73513537"),
        # GS1 General Specifications, check digit calculations; from memory.
        ("sscc", "376104250021234569"),
        # ISO 6346; the example of Wikipedia, "ISO 6346".
        ("container", "CSQU3054383"),
        # ISO 3166-1 alpha-2.
        ("country", "PE"),
        ("country", "EC"),
        ("country", "DO"),
        ("country", "BE"),
        # FIPS 180-4: SHA-256 of the three letters "abc" (NIST examples).
        (
            "digest",
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
        ),
    ],
)
def test_published_examples_are_accepted(kind: str, number: str) -> None:
    assert number == CODES[kind].validate_python(number)


@pytest.mark.parametrize(
    ("kind", "number", "because"),
    [
        ("gtin", "8904000210038", "digits before it give 7; read the GTIN again"),
        ("gtin", "890400021003", "digits before it give"),
        ("gtin", "8904000210", "write its 8 or 12 or 13 or 14 digits"),
        ("gtin", "8904000 210037", "without spaces"),
        ("gtin", "٨٩٠٤٠٠٠٢١٠٠٣٧", "is not a GTIN"),
        ("gln", "036000241457", "write its 13 digits"),
        ("gln", "6291041500214", "read the GLN again"),
        ("sscc", "376104250021234568", "give 9; read the SSCC again"),
        ("sscc", "6291041500213", "write its 18 digits"),
        ("container", "CSQU3054384", "the rest gives 3; read the container's door"),
        ("container", "csqu3054383", "three capitals, then U, J or Z"),
        ("container", "CSQX3054383", "three capitals, then U, J or Z"),
        ("container", "CSQU 305438 3", "three capitals, then U, J or Z"),
        ("country", "UK", "two capitals of ISO 3166-1"),
        ("country", "pe", "two capitals of ISO 3166-1"),
        ("country", "PER", "two capitals of ISO 3166-1"),
        ("country", "ZZ", "two capitals of ISO 3166-1"),
        ("country", "", "two capitals of ISO 3166-1"),
        ("digest", "BA" * 32, "64 lower-case hexadecimal digits"),
        ("digest", "ba" * 31, "64 lower-case hexadecimal digits"),
        ("digest", "ba" * 32 + "\n", "64 lower-case hexadecimal digits"),
    ],
)
def test_a_refused_code_gets_one_sentence(kind: str, number: str, because: str) -> None:
    with pytest.raises(ValidationError) as refusal:
        CODES[kind].validate_python(number)

    [error] = refusal.value.errors()
    assert because in error["msg"]


@given(st.sampled_from(["gtin", "gln", "sscc", "country", "container", "digest"]))
def test_only_text_is_a_code(kind: str) -> None:
    values: list[Any] = [None, 1, 1.5, True, ["PE"], {"code": "PE"}]
    for value in values:
        with pytest.raises(ValidationError):
            CODES[kind].validate_python(value)


def weighted_check_digit(digits: str) -> int:
    """By hand: weights 3, 1, 3, ... from the right, and what is missing to a ten."""
    total = sum(
        int(digit) * (3 if place % 2 == 0 else 1)
        for place, digit in enumerate(reversed(digits))
    )
    return -total % 10


@given(st.from_regex(r"[0-9]{17}", fullmatch=True))
def test_one_digit_in_ten_completes_a_number_of_a_logistic_unit(digits: str) -> None:
    """GS1 General Specifications, 7.9.1, standard check digit calculations."""
    accepted = [last for last in range(10) if is_accepted("sscc", f"{digits}{last}")]

    assert [weighted_check_digit(digits)] == accepted


@given(st.integers(0, 12), st.integers(1, 9))
def test_any_single_misread_digit_is_caught(place: int, step: int) -> None:
    right = "6291041500213"
    misread = str((int(right[place]) + step) % 10)

    assert not is_accepted("gln", right[:place] + misread + right[place + 1 :])


def letter_value(letter: str) -> int:
    """ISO 6346, annex A: from A = 10 upwards, leaving out the multiples of 11."""
    values = [value for value in range(10, 39) if value % 11]
    return values[ord(letter) - ord("A")]


@given(st.from_regex(r"[A-Z]{3}[UJZ][0-9]{6}", fullmatch=True))
def test_one_check_digit_completes_a_container_number(stem: str) -> None:
    """ISO 6346, annex A: values times powers of two, modulo 11, modulo 10."""
    total = sum(
        (letter_value(sign) if sign.isalpha() else int(sign)) * 2**place
        for place, sign in enumerate(stem)
    )

    accepted = [last for last in range(10) if is_accepted("container", f"{stem}{last}")]

    assert [total % 11 % 10] == accepted


@given(st.sampled_from(sorted(CODES)), st.text())
def test_random_text_is_kept_as_it_is_or_refused(kind: str, text: str) -> None:
    if is_accepted(kind, text):
        assert text == CODES[kind].validate_python(text)


def is_accepted(kind: str, number: str) -> bool:
    try:
        CODES[kind].validate_python(number)
    except ValidationError:
        return False
    return True


@pytest.mark.parametrize(
    ("kind", "example"),
    [
        ("gtin", "8904000210037"),
        ("gln", "6291041500213"),
        ("sscc", "376104250021234569"),
        ("container", "CSQU3054383"),
        ("country", "PE"),
        ("digest", "ab" * 32),
    ],
)
def test_the_json_schema_carries_the_pattern(kind: str, example: str) -> None:
    from jsonschema import Draft202012Validator

    schema = Draft202012Validator(CODES[kind].json_schema())

    assert schema.is_valid(example)
    assert not schema.is_valid(example.swapcase() + "x")
