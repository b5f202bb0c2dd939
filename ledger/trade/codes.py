"""Codes that open standards define, checked by their check digits and lists."""

import re
from typing import Annotated, Final

from pydantic import AfterValidator, WithJsonSchema

from ledger.trade.refusal import as_given


def _check_gs1(number: str, *, name: str, lengths: tuple[int, ...]) -> str:
    from stdnum import ean  # noqa: PLC0415 - loaded on first use

    allowed = " or ".join(str(length) for length in lengths)
    if not re.fullmatch("[0-9]+", number) or len(number) not in lengths:
        raise ValueError(
            f"{as_given(number)} is not a {name}; write its {allowed} digits without "
            "spaces"
        )
    expected = ean.calc_check_digit(number[:-1])
    if number[-1] != expected:
        raise ValueError(
            f"{as_given(number)} ends in check digit {number[-1]}, but the digits "
            f"before it give {expected}; read the {name} again"
        )
    return number


def _check_gtin(number: str) -> str:
    return _check_gs1(number, name="GTIN", lengths=(8, 12, 13, 14))


def _check_gln(number: str) -> str:
    return _check_gs1(number, name="GLN", lengths=(13,))


def _check_sscc(number: str) -> str:
    return _check_gs1(number, name="SSCC", lengths=(18,))


Gtin = Annotated[
    str,
    AfterValidator(_check_gtin),
    WithJsonSchema(
        {"type": "string", "pattern": "^([0-9]{8}|[0-9]{12}|[0-9]{13}|[0-9]{14})$"}
    ),
]
"""A trade item number of 8, 12, 13 or 14 digits.

Source: GS1 General Specifications, section 7.9, standard check digit calculations.
"""

Gln = Annotated[
    str,
    AfterValidator(_check_gln),
    WithJsonSchema({"type": "string", "pattern": "^[0-9]{13}$"}),
]
"""A location or party number of 13 digits. Source: as for `Gtin`."""

Sscc = Annotated[
    str,
    AfterValidator(_check_sscc),
    WithJsonSchema({"type": "string", "pattern": "^[0-9]{18}$"}),
]
"""A number of one logistic unit, 18 digits. Source: as for `Gtin`."""


def _check_country(code: str) -> str:
    import pycountry  # noqa: PLC0415 - loaded on first use

    if not re.fullmatch("[A-Z]{2}", code) or not pycountry.countries.get(alpha_2=code):
        raise ValueError(
            f"{as_given(code)} is not a country; write two capitals of ISO 3166-1, "
            "such as PE"
        )
    return code


Country = Annotated[
    str,
    AfterValidator(_check_country),
    WithJsonSchema({"type": "string", "pattern": "^[A-Z]{2}$"}),
]
"""A country, by ISO 3166-1 alpha-2."""

_CONTAINER: Final = re.compile("[A-Z]{3}[UJZ][0-9]{7}")


def _check_container(number: str) -> str:
    from stdnum import iso6346  # noqa: PLC0415 - loaded on first use

    if not _CONTAINER.fullmatch(number):
        raise ValueError(
            f"{as_given(number)} is not a container number; write three capitals, then "
            "U, J or Z, then seven digits, such as CSQU3054383"
        )
    expected = iso6346.calc_check_digit(number[:-1])
    if number[-1] != expected:
        raise ValueError(
            f"{as_given(number)} ends in check digit {number[-1]}, but the rest gives "
            f"{expected}; read the container's door again"
        )
    return number


ContainerNumber = Annotated[
    str,
    AfterValidator(_check_container),
    WithJsonSchema({"type": "string", "pattern": "^[A-Z]{3}[UJZ][0-9]{7}$"}),
]
"""A freight container, by ISO 6346: owner, category, serial number, check digit."""

_DIGEST: Final = re.compile("[0-9a-f]{64}")


def _check_digest(digest: str) -> str:
    if not _DIGEST.fullmatch(digest):
        raise ValueError(
            f"{as_given(digest)} is not a SHA-256 digest; write its 64 lower-case "
            "hexadecimal digits"
        )
    return digest


Digest = Annotated[
    str,
    AfterValidator(_check_digest),
    WithJsonSchema({"type": "string", "pattern": "^[0-9a-f]{64}$"}),
]
"""A SHA-256 digest in lower-case hexadecimal."""

_SEAL_DIGEST: Final = re.compile("[A-Za-z0-9_-]{43}")


def _check_seal_digest(digest: str) -> str:
    if not _SEAL_DIGEST.fullmatch(digest):
        raise ValueError(
            f"{as_given(digest)} is not the digest of a sealed value; copy its 43 "
            "characters from the array _sd of the entry"
        )
    return digest


SealDigest = Annotated[
    str,
    AfterValidator(_check_seal_digest),
    WithJsonSchema({"type": "string", "pattern": "^[A-Za-z0-9_-]{43}$"}),
]
"""The digest that stands for a sealed value. Source: RFC 9901, 4.2.3."""
