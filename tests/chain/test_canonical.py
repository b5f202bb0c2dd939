import json
import struct
from collections.abc import Callable
from enum import StrEnum

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from ledger.chain.canonical import (
    MAX_DEPTH,
    MAX_INTEGER,
    JsonValue,
    canonical_bytes,
    parse_canonical,
    parse_json,
)
from ledger.errors import InputError, LedgerError
from tests.chain.strategies import JSON_VALUES


def nested(depth: int) -> JsonValue:
    """Arrays and objects in turn inside one another."""
    value: JsonValue = 1
    for level in range(depth):
        value = [value] if level % 2 else {"a": value}
    return value


# Samples of RFC 8785, section 3.2, from its author's repository
# cyberphone/json-canonicalization, testdata/input and testdata/output at 19d51d7. The
# profile has no floats: in `structures` the number 56.0 is written 56 here, and
# `values` stands here without its array of numbers.
@pytest.mark.parametrize(
    ("written", "canonical"),
    [
        pytest.param(
            '[\n  56,\n  {\n    "d": true,\n    "10": null,\n    "1": [ ]\n  }\n]\n',
            '[56,{"1":[],"10":null,"d":true}]',
            id="arrays",
        ),
        pytest.param(
            '{"1": {"f": {"f": "hi","F": 5} ,"\\n": 56},"10": { }, "": "empty",'
            '"a": { }, "111": [ {"e": "yes","E": "no" } ], "A": { }}',
            '{"":"empty","1":{"\\n":56,"f":{"F":5,"f":"hi"}},"10":{},'
            '"111":[{"E":"no","e":"yes"}],"A":{},"a":{}}',
            id="structures",
        ),
        pytest.param(
            '{\n  "Unnormalized Unicode":"A\u030a"\n}\n',
            '{"Unnormalized Unicode":"A\u030a"}',
            id="unicode",
        ),
        pytest.param(
            '{"string": "\\u20ac$\\u000F\\u000aA\'\\u0042\\u0022\\u005c\\\\\\"\\/",'
            '"literals": [null, true, false]}',
            '{"literals":[null,true,false],'
            '"string":"\u20ac$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}',
            id="values",
        ),
    ],
)
def test_published_samples_take_their_published_form(
    written: str, canonical: str
) -> None:
    value = parse_json(written.encode())

    assert canonical.encode() == canonical_bytes(value)
    assert value == parse_canonical(canonical.encode())


# Member names of the samples `french` and `weird` of the same repository.
@pytest.mark.parametrize("name", ["péché", "pêche", "\x80", "ö", "€", "😂", "\ufb33"])
def test_names_beyond_ascii_are_refused(name: str) -> None:
    with pytest.raises(InputError, match="a has a member named"):
        canonical_bytes({"a": {name: 1}})
    with pytest.raises(InputError, match="names must be text in ASCII"):
        parse_json(json.dumps({name: 1}).encode())


# RFC 8785, appendix B: the IEEE 754 samples, all floats and so outside the profile.
@pytest.mark.parametrize(
    ("ieee_hex", "written"),
    [
        ("0000000000000000", "0.0"),
        ("8000000000000000", "-0.0"),
        ("0000000000000001", "5e-324"),
        ("8000000000000001", "-5e-324"),
        ("7fefffffffffffff", "1.7976931348623157e+308"),
        ("ffefffffffffffff", "-1.7976931348623157e+308"),
        ("4340000000000000", "9007199254740992"),
        ("c340000000000000", "-9007199254740992"),
        ("4430000000000000", "295147905179352830000"),
        ("7fffffffffffffff", "NaN"),
        ("7ff0000000000000", "Infinity"),
        ("44b52d02c7e14af5", "9.999999999999997e+22"),
        ("44b52d02c7e14af6", "1e+23"),
        ("44b52d02c7e14af7", "1.0000000000000001e+23"),
        ("444b1ae4d6e2ef4e", "999999999999999700000"),
        ("444b1ae4d6e2ef4f", "999999999999999900000"),
        ("444b1ae4d6e2ef50", "1e+21"),
        ("3eb0c6f7a0b5ed8c", "9.999999999999997e-7"),
        ("3eb0c6f7a0b5ed8d", "0.000001"),
        ("41b3de4355555553", "333333333.3333332"),
        ("41b3de4355555554", "333333333.33333325"),
        ("41b3de4355555555", "333333333.3333333"),
        ("41b3de4355555556", "333333333.3333334"),
        ("41b3de4355555557", "333333333.33333343"),
        ("becbf647612f3696", "-0.0000033333333333333333"),
        ("43143ff3c1cb0959", "1424953923781206.2"),
    ],
)
def test_published_floats_are_refused(ieee_hex: str, written: str) -> None:
    (number,) = struct.unpack(">d", bytes.fromhex(ieee_hex))

    with pytest.raises(InputError, match=r"body\.mass_kg is the floating-point number"):
        canonical_bytes({"body": {"mass_kg": number}})
    with pytest.raises(InputError, match=r"lots\.1 is (the floating-point|an integer)"):
        parse_json(f'{{"lots": ["a", {written}]}}'.encode())


# RFC 7493 (I-JSON), section 2.2: integers are exact within 2^53 - 1.
@pytest.mark.parametrize(
    "number", [2**53 - 2, 2**53 - 1, -(2**53 - 1), -(2**53 - 2), 0]
)
def test_integers_up_to_the_bound_are_written(number: int) -> None:
    assert str(number).encode() == canonical_bytes(number)
    assert number == parse_canonical(str(number).encode())


@pytest.mark.parametrize(
    "number", [2**53, -(2**53), pytest.param(10**5000, id="too long to print")]
)
def test_integers_beyond_the_bound_are_refused(number: int) -> None:
    with pytest.raises(InputError, match=r"n is an integer of \d+ bits"):
        canonical_bytes({"n": number})


@pytest.mark.parametrize(
    "digits",
    ["9007199254740992", "-9007199254740992", pytest.param("9" * 5000, id="long")],
)
def test_integers_beyond_the_bound_are_not_read(digits: str) -> None:
    with pytest.raises(InputError):
        parse_json(digits.encode())
    with pytest.raises(InputError):
        parse_canonical(digits.encode())


# RFC 8785, section 3.2.2.2: a lone surrogate must be an error.
def test_half_of_a_character_is_refused() -> None:
    with pytest.raises(InputError, match="a holds half of a character"):
        canonical_bytes({"a": "\udead"})
    with pytest.raises(InputError, match="the value holds half of a character"):
        parse_json(b'"\\udead"')
    with pytest.raises(InputError, match="not JSON in UTF-8"):
        parse_json(b'"\xed\xba\xad"')


# RFC 7493 (I-JSON), section 2.3: names within an object must be unique.
@pytest.mark.parametrize("parse", [parse_json, parse_canonical])
def test_repeated_members_are_refused(parse: Callable[[bytes], JsonValue]) -> None:
    with pytest.raises(InputError, match="the member 'a' occurs twice"):
        parse(b'{"a":1,"b":{"a":1,"a":1}}')


@pytest.mark.parametrize(
    "value",
    [
        pytest.param({1: "a"}, id="name that is a number"),
        pytest.param([b"a"], id="bytes"),
        pytest.param({"a": {1, 2}}, id="set"),
    ],
)
def test_what_json_lacks_is_refused(value: JsonValue) -> None:
    with pytest.raises(InputError):
        canonical_bytes(value)


@pytest.mark.parametrize(
    "wrap", [lambda value: [value], lambda value: {"a": value}], ids=["array", "object"]
)
def test_nesting_is_bounded(wrap: Callable[[JsonValue], JsonValue]) -> None:
    deepest = nested(32)
    too_deep = wrap(nested(32))
    raw = rfc8785.dumps(too_deep)

    assert MAX_DEPTH == 32
    assert parse_canonical(canonical_bytes(deepest)) == deepest
    with pytest.raises(InputError, match=r"^[a0](\.[a0]){31} is nested more than 32"):
        canonical_bytes(too_deep)
    with pytest.raises(InputError, match="is nested more than 32"):
        parse_json(raw)
    with pytest.raises(InputError, match="is nested more than 32"):
        parse_canonical(raw)


def test_nesting_that_would_exhaust_the_reader_is_refused() -> None:
    with pytest.raises(InputError, match="the value is nested more than"):
        parse_json(b"[" * 100_000)


@pytest.mark.parametrize(
    "raw",
    [
        pytest.param(b'{"a": 1}', id="space"),
        pytest.param(b'{"a":1}\n', id="line end"),
        pytest.param(b'{"b":1,"a":2}', id="order of members"),
        pytest.param(b'"\\u0041"', id="needless escape"),
        pytest.param(b'"\\/"', id="escaped slash"),
        pytest.param(b'"\\u001F"', id="capital digits in an escape"),
        pytest.param(b'"\\u00e9"', id="escape of a letter"),
        pytest.param(b"-0", id="minus nought"),
    ],
)
def test_other_spellings_are_read_but_are_not_canonical(raw: bytes) -> None:
    value = parse_json(raw)

    assert canonical_bytes(value) != raw
    with pytest.raises(InputError, match="not in canonical form"):
        parse_canonical(raw)


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"{",
        b"nul",
        b"1 2",
        b"'a'",
        b"{a:1}",
        b"[1,]",
        b'"\x1f"',
        b"\xff",
        b"\xef\xbb\xbf1",
        '"a"'.encode("utf-16"),
    ],
)
def test_what_is_not_json_in_utf8_is_refused(raw: bytes) -> None:
    with pytest.raises(InputError, match="not JSON in UTF-8"):
        parse_json(raw)


class Custody(StrEnum):
    SEGREGATED = "segregated"


def test_named_texts_and_tuples_are_written_as_plain_json() -> None:
    value: JsonValue = {"custody": Custody.SEGREGATED, "lots": ("a", "b")}

    assert canonical_bytes(value) == b'{"custody":"segregated","lots":["a","b"]}'


@given(JSON_VALUES)
def test_what_is_written_is_read_back(value: JsonValue) -> None:
    raw = canonical_bytes(value)

    assert value == parse_json(raw)
    assert value == parse_canonical(raw)


@given(JSON_VALUES)
def test_under_the_profile_the_fast_writer_agrees_with_the_library(
    value: JsonValue,
) -> None:
    """The check on reading may compare with the standard library's JSON.

    The reference is the library rfc8785, an independent implementation of RFC 8785.
    """
    fast = json.dumps(
        value, sort_keys=True, separators=(",", ":"), ensure_ascii=False
    ).encode()

    assert rfc8785.dumps(value) == fast
    assert parse_canonical(fast) == value


@given(JSON_VALUES, st.integers(0, 4))
def test_any_layout_is_read_as_the_same_value(value: JsonValue, indent: int) -> None:
    assert value == parse_json(json.dumps(value, indent=indent).encode())


@given(
    st.one_of(
        st.binary(), st.text().map(str.encode), st.from_regex(rb"[\[{\"0-9.eE:,}\]-]*")
    )
)
def test_reading_any_bytes_ends_in_a_value_or_our_error(raw: bytes) -> None:
    for parse in (parse_json, parse_canonical):
        try:
            value = parse(raw)
        except LedgerError:
            continue
        assert parse_canonical(canonical_bytes(value)) == value


def test_the_bound_is_that_of_i_json() -> None:
    assert MAX_INTEGER == 9007199254740991
