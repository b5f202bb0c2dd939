"""Canonical JSON: one value, one sequence of bytes.

Entries are hashed as bytes, so the same value must always be written the same way.
RFC 8785 (JSON Canonicalization Scheme) fixes that way. This ledger narrows it to a
profile in which every careful JSON writer agrees: names of object members are ASCII,
numbers are integers within 2^53 - 1, text is Unicode without lone surrogates, and
nesting is bounded. Quantities that need a fraction are decimal strings.
"""

import json
from collections.abc import Mapping, Sequence
from typing import Final, TypeAlias

import rfc8785

from ledger.errors import InputError

JsonValue: TypeAlias = (
    bool | int | str | Sequence["JsonValue"] | Mapping[str, "JsonValue"] | None
)
"""What JSON can say under the profile: at run time plain dicts, lists and tuples."""

MAX_INTEGER: Final = 2**53 - 1
"""The largest integer that every JSON reader keeps exact (RFC 7493, section 2.2)."""

MAX_DEPTH: Final = 32
"""How many arrays and objects may stand inside one another."""

# Under the profile this encoder writes what RFC 8785 asks for, several times faster
# than the library. Only the check on reading relies on it; writing uses the library.
_DECODER: Final = json.JSONDecoder()
_ENCODER: Final = json.JSONEncoder(
    ensure_ascii=False, sort_keys=True, separators=(",", ":"), check_circular=False
)


def canonical_bytes(value: JsonValue) -> bytes:
    """Return the one sequence of bytes that stands for a value.

    Raises:
        InputError: The value leaves the profile; the message names the path to the
            offending part, dotted, with list positions counted from 0.

    Source:
        RFC 8785, section 3.2; RFC 7493 (I-JSON), section 2.
    """
    _check(value, None, 1)
    return rfc8785.dumps(value)


def parse_json(raw: bytes) -> JsonValue:
    """Read JSON that keeps to the profile, in whatever layout it was written.

    Raises:
        InputError: The bytes are not UTF-8, not JSON, repeat a member of an object, or
            leave the profile.

    Source:
        RFC 8259; RFC 7493 (I-JSON), section 2.3 for repeated members.
    """
    return _parse(raw, json.JSONDecoder(object_pairs_hook=_distinct_members))


def parse_canonical(raw: bytes) -> JsonValue:
    """Read JSON that must already be its own canonical form.

    Raises:
        InputError: The bytes are not JSON under the profile, or are not the bytes
            that `canonical_bytes` writes for the value they hold.

    Source:
        RFC 8785, section 3.2.
    """
    # The plain decoder keeps the last of repeated members, which the comparison finds.
    value = _parse(raw, _DECODER)
    if _ENCODER.encode(value).encode() != raw:
        parse_json(raw)
        raise InputError(
            "the bytes are JSON but not in canonical form (RFC 8785); "
            "use them exactly as they were recorded"
        )
    return value


def _parse(raw: bytes, decoder: json.JSONDecoder) -> JsonValue:
    try:
        value: JsonValue = decoder.decode(raw.decode())
    except RecursionError:
        raise InputError(_too_deep("the value")) from None
    except ValueError as error:
        # Covers bytes that are not UTF-8, broken JSON and endless digits.
        raise InputError(f"the bytes are not JSON in UTF-8 ({error})") from error
    _check(value, None, 1)
    return value


def _distinct_members(pairs: list[tuple[str, JsonValue]]) -> dict[str, JsonValue]:
    members: dict[str, JsonValue] = {}
    for name, value in pairs:
        if name in members:
            raise InputError(
                f"the member {name!r} occurs twice in one object; "
                "keep the one that is meant"
            )
        members[name] = value
    return members


# The way from the outside to a value: the way to its holder, then a name or position.
_Trail: TypeAlias = tuple["_Trail", str | int] | None


def _check(value: object, trail: _Trail, depth: int) -> None:
    if isinstance(value, str):
        _check_text(value, trail)
    elif isinstance(value, dict):
        _check_object(value, trail, depth)
    elif isinstance(value, (list, tuple)):
        _check_depth(trail, depth)
        for position, item in enumerate(value):
            _check(item, (trail, position), depth + 1)
    elif isinstance(value, int):
        _check_integer(value, trail)
    elif value is not None:
        raise InputError(_unsuitable(value, _path(trail)))


def _check_object(members: dict[object, object], trail: _Trail, depth: int) -> None:
    _check_depth(trail, depth)
    for name, member in members.items():
        if not isinstance(name, str) or not name.isascii():
            raise InputError(
                f"{_path(trail)} has a member named {name!r}; "
                "names must be text in ASCII"
            )
        _check(member, (trail, name), depth + 1)


def _check_depth(trail: _Trail, depth: int) -> None:
    if depth > MAX_DEPTH:
        raise InputError(_too_deep(_path(trail)))


def _check_integer(value: int, trail: _Trail) -> None:
    if abs(value) > MAX_INTEGER:
        # The number itself may be too long to print.
        raise InputError(
            f"{_path(trail)} is an integer of {value.bit_length()} bits, "
            "beyond 2^53 - 1; write it as a decimal string"
        )


def _check_text(text: str, trail: _Trail) -> None:
    if text.isascii():
        return
    try:
        text.encode()
    except UnicodeEncodeError:
        raise InputError(
            f"{_path(trail)} holds half of a character (a lone surrogate), "
            "which UTF-8 cannot carry; type the text again"
        ) from None


def _unsuitable(value: object, path: str) -> str:
    if isinstance(value, float):
        return (
            f"{path} is the floating-point number {value!r}, which no entry may hold; "
            "write a quantity as a decimal string"
        )
    return f"{path} is a {type(value).__name__}, which JSON lacks; write it as text"


def _too_deep(path: str) -> str:
    return f"{path} is nested more than {MAX_DEPTH} levels deep; flatten it"


def _path(trail: _Trail) -> str:
    steps: list[str] = []
    while trail is not None:
        trail, step = trail
        steps.append(str(step))
    return ".".join(reversed(steps)) or "the value"
