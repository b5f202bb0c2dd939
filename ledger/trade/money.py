"""Sums of money and prices per unit of mass, exact and never mixed.

A sum carries its currency and exactly the decimals of that currency. A price carries
the unit it was agreed in, so that a contract in cents per pound stays readable as it
was signed, and `per_tonne` compares it with any other.
"""

import re
from decimal import Decimal
from fractions import Fraction
from functools import cache
from typing import Annotated, ClassVar, Final, TypeVar

from pydantic import (
    AfterValidator,
    ValidationInfo,
    WithJsonSchema,
    field_serializer,
    field_validator,
)

from ledger.errors import InputError
from ledger.trade.grams import EXACT
from ledger.trade.quantity import Scale
from ledger.trade.record import Record
from ledger.trade.refusal import as_given
from ledger.trade.unit import kilograms_in

# fmt: off
_MINOR_DIGITS_OTHER_THAN_TWO: Final = {
    **dict.fromkeys((
        "BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG",
        "RWF", "UGX", "UYI", "VND", "VUV", "XAF", "XOF", "XPF",
    ), 0),
    **dict.fromkeys(("BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"), 3),
    **dict.fromkeys(("CLF", "UYW"), 4),
}
_WITHOUT_MINOR_UNIT: Final = frozenset((
    "XAG", "XAU", "XBA", "XBB", "XBC", "XBD", "XDR", "XPD", "XPT", "XSU",
    "XTS", "XUA", "XXX",
))
# fmt: on


@cache
def minor_digits(currency: str) -> int:
    """Return how many decimals a currency has.

    Args:
        currency: An ISO 4217 code in capitals.

    Raises:
        InputError: No such currency, or it has no minor unit and so no sums of money
            (precious metals, bond units, test codes).

    Source:
        ISO 4217, list one "Current currency & funds", published 2026-01-01, column
        "Minor unit".
    """
    import pycountry  # noqa: PLC0415 - loaded on first use

    if (
        not re.fullmatch("[A-Z]{3}", currency)
        or currency in _WITHOUT_MINOR_UNIT
        or not pycountry.currencies.get(alpha_3=currency)
    ):
        raise InputError(
            f"{as_given(currency)} is not a currency; write three capitals of "
            "ISO 4217, such as USD"
        )
    return _MINOR_DIGITS_OTHER_THAN_TWO.get(currency, 2)


def _check_currency(currency: str) -> str:
    try:
        minor_digits(currency)
    except InputError as error:
        raise ValueError(str(error)) from error
    return currency


Currency = Annotated[
    str,
    AfterValidator(_check_currency),
    WithJsonSchema({"type": "string", "pattern": "^[A-Z]{3}$"}),
]
"""A currency, by ISO 4217."""

MOST_MONEY: Final = Decimal(10**12)
"""No single sum is larger, in major units."""

_MOST_DIGITS: Final = 4
_M = TypeVar("_M", bound="SignedMoney")


@cache
def _scale_of_sum(lowest: Decimal, digits: int) -> Scale:
    return Scale(
        lowest=lowest,
        highest=MOST_MONEY,
        places=digits,
        written_places=digits,
        way_out="the currency has no smaller unit, so round it",
    )


class SignedMoney(Record):
    """A sum of money that may be below zero: what a difference of two sums is."""

    lowest: ClassVar[Decimal] = -MOST_MONEY

    currency: Currency
    """The currency, by ISO 4217."""
    amount: Annotated[
        Decimal,
        WithJsonSchema(
            {"type": "string", "pattern": r"^-?[0-9]{1,13}(\.[0-9]{1,4})?$"}
        ),
    ]
    """The sum in major units, as text with the decimals of its currency."""

    @field_validator("amount", mode="plain")
    @classmethod
    def _read_amount(cls, given: object, info: ValidationInfo) -> Decimal:
        currency = info.data.get("currency")
        digits = _MOST_DIGITS if currency is None else minor_digits(currency)
        return _scale_of_sum(cls.lowest, digits).read(given)

    @field_serializer("amount")
    @staticmethod
    def _write_amount(amount: Decimal) -> str:
        return f"{amount:f}"


class Money(SignedMoney):
    """A sum of money, zero or more: what is owed, paid or charged."""

    lowest: ClassVar[Decimal] = Decimal(0)

    amount: Annotated[
        Decimal,
        WithJsonSchema({"type": "string", "pattern": r"^[0-9]{1,13}(\.[0-9]{1,4})?$"}),
    ]
    """The sum in major units, as text with the decimals of its currency."""


def money_of(minor: int, *, currency: str) -> Money:
    """Return a sum, zero or more, given in minor units such as cents.

    An unknown currency, or a sum outside 0 to 10^12 major units, is an `InputError`.
    """
    return _of(Money, minor, currency)


def signed_money_of(minor: int, *, currency: str) -> SignedMoney:
    """Return a sum, possibly below zero, given in minor units such as cents.

    An unknown currency, or a sum beyond 10^12 either way, is an `InputError`.
    """
    return _of(SignedMoney, minor, currency)


def minor_units(money: SignedMoney) -> int:
    """Return a sum in minor units, such as cents, exactly."""
    return int(money.amount.scaleb(minor_digits(money.currency), EXACT))


def add(first: Money, second: Money) -> Money:
    """Return two sums added up; different currencies are an `InputError`."""
    _check_one_currency("add", first, second)
    return money_of(minor_units(first) + minor_units(second), currency=first.currency)


def subtract(first: SignedMoney, second: SignedMoney) -> SignedMoney:
    """Return the first sum less the second, below zero if the second is larger.

    Different currencies are an `InputError`.
    """
    _check_one_currency("subtract", first, second)
    return signed_money_of(
        minor_units(first) - minor_units(second), currency=first.currency
    )


def shortfall(*, due: Money, paid: Money) -> Money:
    """Return what is still owed: due less paid, and nothing when all is paid.

    What was paid beyond the dues is no shortfall; `subtract` shows it with its sign.
    Different currencies are an `InputError`.
    """
    _check_one_currency("compare", due, paid)
    missing = max(0, minor_units(due) - minor_units(paid))
    return money_of(missing, currency=due.currency)


def _of(shape: type[_M], minor: int, currency: str) -> _M:
    amount = Decimal(minor).scaleb(-minor_digits(currency), EXACT)
    if not shape.lowest <= amount <= MOST_MONEY:
        raise InputError(
            f"{amount:f} {currency} lies outside {shape.lowest} to {MOST_MONEY}; check "
            "the sum"
        )
    return shape(currency=currency, amount=amount)


def _check_one_currency(verb: str, first: SignedMoney, second: SignedMoney) -> None:
    if first.currency != second.currency:
        raise InputError(
            f"cannot {verb} {first.amount:f} {first.currency} and {second.amount:f} "
            f"{second.currency}; convert one of them at a recorded rate first"
        )


_CENTS_PER_POUND: Final = "USc/lb"
_PRICE_UNIT: Final = re.compile("([A-Z]{3})/(t|kg|lb|qq46|short_ton|long_ton)")
_MOST_PRICE: Final = Decimal(10**9)


def _check_price_unit(unit: str) -> str:
    if unit == _CENTS_PER_POUND:
        return unit
    found = _PRICE_UNIT.fullmatch(unit)
    if not found:
        raise ValueError(
            f"{as_given(unit)} is not a unit of price; write a currency and t, kg, lb, "
            "qq46, short_ton or long_ton, such as USD/t, or USc/lb for cents per pound"
        )
    _check_currency(found[1])
    return unit


PriceUnit = Annotated[
    str,
    AfterValidator(_check_price_unit),
    WithJsonSchema(
        {
            "type": "string",
            "pattern": "^(USc/lb|[A-Z]{3}/(t|kg|lb|qq46|short_ton|long_ton))$",
        }
    ),
]
"""Currency per unit of mass, such as "USD/t", or "USc/lb" for US cents per pound."""


def _scale_of_price(lowest: Decimal) -> Scale:
    return Scale(
        lowest=lowest,
        highest=_MOST_PRICE,
        places=4,
        written_places=2,
        way_out="prices are kept to four decimals, so round it as the contract does",
    )


class UnitPrice(Record):
    """A price per unit of mass, zero or more."""

    amount: Annotated[Decimal, _scale_of_price(Decimal(0))]
    """The figure, as text with two to four decimals."""
    unit: PriceUnit
    """What the figure is of."""


class Differential(Record):
    """What is added to a market price per unit of mass, or taken off when negative."""

    amount: Annotated[Decimal, _scale_of_price(-_MOST_PRICE)]
    """The figure, as text with two to four decimals; negative for a discount."""
    unit: PriceUnit
    """What the figure is of."""


def currency_of(price: UnitPrice | Differential) -> str:
    """Return the currency of a price, by ISO 4217."""
    return "USD" if price.unit == _CENTS_PER_POUND else price.unit.partition("/")[0]


def per_tonne(price: UnitPrice | Differential) -> Fraction:
    """Return a price in major units of its currency per 1,000 kg, exactly."""
    mass_unit = price.unit.partition("/")[2]
    figure = Fraction(price.amount)
    if price.unit == _CENTS_PER_POUND:
        figure /= 100
    return figure * 1000 / kilograms_in(mass_unit)
