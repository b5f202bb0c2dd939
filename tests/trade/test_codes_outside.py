"""Countries and currencies against the Unicode CLDR as the library Babel carries it."""

import pytest
from babel import Locale
from babel.core import get_global
from pydantic import BaseModel, ValidationError

from ledger.trade.codes import Country
from ledger.trade.money import Currency, minor_digits

ENGLISH = Locale("en")
# CLDR also names regions that ISO 3166-1 does not assign: groupings, exceptional
# reservations and user-assigned codes (Unicode TR 35, "Unicode region subtag").
NOT_ASSIGNED = frozenset(
    [
        "AC",
        "CP",
        "CQ",
        "DG",
        "EA",
        "EU",
        "EZ",
        "IC",
        "TA",
        "UN",
        "XA",
        "XB",
        "XK",
        "ZZ",
        "QO",
    ]
)


class _Coded(BaseModel):
    country: Country | None = None
    currency: Currency | None = None


def countries_of_cldr() -> list[str]:
    return sorted(
        code
        for code in map(str, ENGLISH.territories)
        if len(code) == 2 and code.isalpha() and code not in NOT_ASSIGNED
    )


def test_every_country_of_cldr_is_taken() -> None:
    refused = []
    for code in countries_of_cldr():
        try:
            _Coded(country=code)
        except ValidationError:
            refused.append(code)

    assert refused == []


@pytest.mark.parametrize("code", sorted(NOT_ASSIGNED))
def test_what_iso_3166_does_not_assign_is_refused(code: str) -> None:
    with pytest.raises(ValidationError):
        _Coded(country=code)


def test_minor_digits_are_those_of_cldr_where_it_follows_iso_4217() -> None:
    """CLDR gives the digits used in trade, which for some currencies are fewer."""
    digits = {
        code: entry[0]
        for code, entry in get_global("currency_fractions").items()
        if code != "DEFAULT"
    }
    compared = {
        code: digits.get(code, 2)
        for code in (
            "USD",
            "EUR",
            "GBP",
            "CHF",
            "JPY",
            "KRW",
            "KWD",
            "BHD",
            "TND",
            "PEN",
        )
    }

    assert {code: minor_digits(code) for code in compared} == compared
