"""ledger.trade.money: sums and prices are exact, and currencies never mix."""

from decimal import Decimal
from fractions import Fraction

import pycountry
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from ledger.errors import InputError
from ledger.trade.money import (
    Differential,
    Money,
    SignedMoney,
    UnitPrice,
    add,
    currency_of,
    minor_digits,
    minor_units,
    money_of,
    per_tonne,
    shortfall,
    signed_money_of,
    subtract,
)
from ledger.trade.record import body_of, parse

CURRENCIES = ["USD", "EUR", "XAF", "JPY", "KWD", "CLF"]
POUND = Fraction(45359237, 10**8)
"""NIST SP 811 (2008), note 22: the avoirdupois pound is exactly 0.453 592 37 kg."""


# ISO 4217, list one "Current currency & funds", published 2026-01-01 by its maintenance
# agency, column "Minor unit"; all other codes of the list have two decimals.
# fmt: off
WITHOUT_DECIMALS = {
    "BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF", "UGX", "UYI",
    "VND", "VUV", "XAF", "XOF", "XPF",
}
WITH_THREE_DECIMALS = {"BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"}
WITH_FOUR_DECIMALS = {"CLF", "UYW"}
WITHOUT_MINOR_UNIT = {
    "XAG", "XAU", "XBA", "XBB", "XBC", "XBD", "XDR", "XPD", "XPT", "XSU", "XTS", "XUA",
    "XXX",
}
# fmt: on


def digits_or_none(currency: str) -> int | None:
    try:
        return minor_digits(currency)
    except InputError:
        return None


@pytest.mark.parametrize(
    ("digits", "codes"),
    [
        (0, WITHOUT_DECIMALS),
        (3, WITH_THREE_DECIMALS),
        (4, WITH_FOUR_DECIMALS),
        (None, WITHOUT_MINOR_UNIT),
    ],
)
def test_currencies_have_the_decimals_of_the_published_list(
    digits: int | None, codes: set[str]
) -> None:
    """ISO 4217, list one, published 2026-01-01."""
    found = {
        currency.alpha_3
        for currency in pycountry.currencies
        if digits_or_none(currency.alpha_3) == digits
    }

    assert codes == found


@pytest.mark.parametrize("code", ["USD", "EUR", "GBP", "PEN", "DOP", "GHS", "BRL"])
def test_the_common_currencies_have_two_decimals(code: str) -> None:
    """ISO 4217, list one, published 2026-01-01."""
    assert minor_digits(code) == 2


@pytest.mark.parametrize("code", ["usd", "US", "USDX", "USX", "$", "", "XXX", "XAU"])
def test_what_is_no_currency_is_refused(code: str) -> None:
    with pytest.raises(InputError, match="write three capitals of ISO 4217"):
        minor_digits(code)


@pytest.mark.parametrize(
    ("amount", "currency", "written"),
    [
        ("2400", "USD", "2400.00"),
        ("2400.5", "USD", "2400.50"),
        (2401, "USD", "2401.00"),
        (Decimal("0.1"), "EUR", "0.10"),
        ("0", "USD", "0.00"),
        ("655957", "XAF", "655957"),
        ("1.5", "KWD", "1.500"),
        ("1000000000000", "USD", "1000000000000.00"),
    ],
)
def test_sums_are_written_with_the_decimals_of_their_currency(
    amount: object, currency: str, written: str
) -> None:
    money = Money.model_validate({"amount": amount, "currency": currency})

    assert {"amount": written, "currency": currency} == body_of(money)


@pytest.mark.parametrize(
    ("amount", "currency", "field", "because"),
    [
        ("2.400", "USD", "amount", "more than two decimals; the currency has no"),
        ("1.5", "XAF", "amount", "more than no decimals"),
        ("-0.01", "USD", "amount", "outside 0 to 1000000000000"),
        ("1000000000000.01", "USD", "amount", "outside 0 to 1000000000000"),
        ("2,400.00", "USD", "amount", "thousands separator"),
        (2400.0, "USD", "amount", "write the figure in quotes"),
        ("2400", "usd", "currency", "write three capitals of ISO 4217"),
        ("2400", "XAU", "currency", "write three capitals of ISO 4217"),
    ],
)
def test_a_refused_sum_names_its_field_and_rule(
    amount: object, currency: str, field: str, because: str
) -> None:
    with pytest.raises(ValidationError) as refusal:
        Money.model_validate({"amount": amount, "currency": currency})

    [error] = refusal.value.errors()
    assert (field,) == error["loc"]
    assert because in error["msg"]


def test_a_bad_amount_is_told_beside_a_bad_currency() -> None:
    with pytest.raises(ValidationError) as refusal:
        Money.model_validate({"amount": "much", "currency": "gold"})

    assert [error["loc"][0] for error in refusal.value.errors()] == [
        "currency",
        "amount",
    ]


SUMS = st.integers(0, 5 * 10**11)


@given(st.integers(-(10**12), 10**12), st.sampled_from(CURRENCIES))
def test_minor_units_survive_the_way_through_a_body(minor: int, currency: str) -> None:
    money = signed_money_of(minor, currency=currency)

    assert minor == minor_units(parse(SignedMoney, body_of(money)))


@given(SUMS, SUMS, st.sampled_from(CURRENCIES))
def test_what_is_added_can_be_subtracted_again(
    first: int, second: int, currency: str
) -> None:
    one, other = money_of(first, currency=currency), money_of(second, currency=currency)
    both = add(one, other)

    assert first + second == minor_units(both)
    assert first == minor_units(subtract(both, other))
    assert first - second == minor_units(subtract(one, other))


@given(SUMS, SUMS)
def test_due_is_what_was_paid_against_it_and_what_is_short(due: int, paid: int) -> None:
    missing = shortfall(
        due=money_of(due, currency="USD"), paid=money_of(paid, currency="USD")
    )

    assert max(due - paid, 0) == minor_units(missing)


def test_a_difference_below_zero_shows_its_sign() -> None:
    paid, due = money_of(240_000, currency="USD"), money_of(264_000, currency="USD")
    difference = subtract(paid, due)

    assert body_of(difference) == {"amount": "-240.00", "currency": "USD"}


def test_currencies_are_never_mixed() -> None:
    dollars, euros = money_of(300, currency="USD"), money_of(500, currency="EUR")

    with pytest.raises(InputError, match=r"cannot add 3\.00 USD and 5\.00 EUR; conv"):
        add(dollars, euros)
    with pytest.raises(InputError, match="at a recorded rate first"):
        subtract(dollars, euros)
    with pytest.raises(InputError, match="cannot compare"):
        shortfall(due=dollars, paid=euros)


def test_a_sum_out_of_range_is_refused() -> None:
    with pytest.raises(InputError, match=r"-0\.01 USD lies outside 0 to 1000000000000"):
        money_of(-1, currency="USD")
    with pytest.raises(InputError, match="lies outside -1000000000000 to"):
        signed_money_of(-(10**15), currency="USD")


@pytest.mark.parametrize(
    ("amount", "unit", "usd_per_tonne"),
    [
        ("2400.00", "USD/t", Fraction(2400)),
        ("2.4", "USD/kg", Fraction(2400)),
        ("1.0886", "USD/lb", Fraction("1.0886") * 1000 / POUND),
        ("108.86", "USc/lb", Fraction("1.0886") * 1000 / POUND),
        ("110.40", "USD/qq46", Fraction(2400)),
        ("100", "USD/short_ton", Fraction(100_000) / (2000 * POUND)),
        ("100", "USD/long_ton", Fraction(100_000) / (2240 * POUND)),
    ],
)
def test_prices_are_compared_per_tonne_exactly(
    amount: str, unit: str, usd_per_tonne: Fraction
) -> None:
    """Pounds by NIST SP 811 (2008), note 22; 2000 and 2240 lb to the ton."""
    price = parse(UnitPrice, {"amount": amount, "unit": unit})

    assert usd_per_tonne == per_tonne(price)
    assert currency_of(price) == "USD"


def test_a_dollar_per_pound_is_2204_62_dollars_per_tonne() -> None:
    """NIST Handbook 44, appendix C: 1 metric ton = 2 204.623 pounds (from memory)."""
    price = parse(UnitPrice, {"amount": "100", "unit": "USc/lb"})

    assert f"{float(per_tonne(price)):.3f}" == "2204.623"


def test_a_discount_in_another_currency_keeps_sign_and_currency() -> None:
    """A differential of -125 GBP/t, as marketscreener.com reported in June 2022."""
    discount = parse(Differential, {"amount": "-125", "unit": "GBP/t"})

    assert body_of(discount) == {"amount": "-125.00", "unit": "GBP/t"}
    assert per_tonne(discount) == -125
    assert currency_of(discount) == "GBP"


@pytest.mark.parametrize(
    ("amount", "unit", "because"),
    [
        ("-1", "USD/t", "outside 0 to 1000000000"),
        ("1.00001", "USD/t", "kept to four decimals"),
        ("1", "USD/ton", "such as USD/t"),
        ("1", "USD", "such as USD/t"),
        ("1", "USc/kg", "USc/lb for cents per pound"),
        ("1", "usd/t", "such as USD/t"),
        ("1", "USX/t", '"USX" is not a currency'),
    ],
)
def test_a_refused_price_gets_one_sentence(
    amount: str, unit: str, because: str
) -> None:
    with pytest.raises(ValidationError) as refusal:
        parse(UnitPrice, {"amount": amount, "unit": unit})

    [error] = refusal.value.errors()
    assert because in error["msg"]


@given(st.decimals(-(10**9), 10**9, places=4), st.sampled_from(["USD/t", "USc/lb"]))
def test_prices_survive_the_way_through_a_body(amount: Decimal, unit: str) -> None:
    price = Differential(amount=amount, unit=unit)

    assert price == parse(Differential, body_of(price))
    assert amount == price.amount


@given(st.text(), st.text())
def test_random_text_is_refused_by_pydantic_alone(amount: str, code: str) -> None:
    for model, second in ((Money, "currency"), (UnitPrice, "unit")):
        try:
            record = parse(model, {"amount": amount, second: code})
        except ValidationError:
            continue
        assert record == parse(model, body_of(record))
