"""ledger.books.market: quotes, rates and converted prices on a date."""

from datetime import date
from fractions import Fraction

import pytest

from ledger.books.market import per_tonne_in, plain_per_tonne, quote_on, rate_on
from ledger.books.working import NotComputableError
from ledger.trade.money import Differential, UnitPrice
from tests.books.buying_world import BuyingWorld, opened, usd

FRIDAY = date(2025, 4, 17)
AFTER_EASTER = date(2025, 4, 22)


@pytest.fixture
def world() -> BuyingWorld:
    world = opened()
    world.quotes("NY", {"2025-04-16": "8123.00", "2025-04-17": "8200.50"})
    world.rates("GBP", "USD", {"2025-04-17": "1.25"})
    return world


def test_a_quote_of_the_day_is_read(world: BuyingWorld) -> None:
    price, working = quote_on(world.shelf, "NY", FRIDAY, fall_back_days=0)

    assert UnitPrice.model_validate(usd("8200.50")) == price
    assert (working.text, working.figure) == ("NY on 2025-04-17", "8200.50 USD/t")
    assert (working.rule, working.entry) == ("exchange page", 2)


@pytest.mark.parametrize("days", [5, 6, 31])
def test_a_holiday_falls_back_to_the_last_quote(world: BuyingWorld, days: int) -> None:
    _, working = quote_on(world.shelf, "NY", AFTER_EASTER, fall_back_days=days)

    assert working.figure == "8200.50 USD/t"
    assert working.text == "NY on 2025-04-17, the last quote before 2025-04-22"


@pytest.mark.parametrize("days", [0, 4])
def test_an_older_quote_is_no_quote(world: BuyingWorld, days: int) -> None:
    with pytest.raises(NotComputableError) as refusal:
        quote_on(world.shelf, "NY", AFTER_EASTER, fall_back_days=days)

    assert (
        f"NY has no quote on 2025-04-22 or within {days} days before it; record what it "
        "quoted with quote.recorded, and what is due can be computed"
    ) == refusal.value.finding.message


def test_a_later_quote_is_never_used(world: BuyingWorld) -> None:
    with pytest.raises(NotComputableError):
        quote_on(world.shelf, "NY", date(2025, 4, 15), fall_back_days=31)


def test_a_rate_serves_both_ways(world: BuyingWorld) -> None:
    there, _ = rate_on(world.shelf, "GBP", "USD", FRIDAY, fall_back_days=0)
    back, lines = rate_on(world.shelf, "USD", "GBP", AFTER_EASTER, fall_back_days=5)

    assert Fraction(5, 4) == there
    assert Fraction(4, 5) == back
    assert [(line.text, line.figure, line.reckoning) for line in lines] == [
        (
            "rate of 2025-04-17, USD for 1 GBP, the last rate before 2025-04-22",
            "1.25",
            "",
        ),
        ("the same turned over, GBP for 1 USD on 2025-04-17", "0.80", "1 / 1.25"),
    ]


def test_of_two_rates_of_a_day_the_one_asked_for_serves(world: BuyingWorld) -> None:
    world.rates("USD", "GBP", {"2025-04-17": "0.79"})

    rate, _ = rate_on(world.shelf, "USD", "GBP", FRIDAY, fall_back_days=0)

    assert Fraction(79, 100) == rate


def test_the_nearer_day_beats_the_wanted_direction(world: BuyingWorld) -> None:
    world.rates("USD", "GBP", {"2025-04-16": "0.79"})

    rate, _ = rate_on(world.shelf, "USD", "GBP", FRIDAY, fall_back_days=5)

    assert Fraction(4, 5) == rate


def test_an_unknown_rate_is_said_in_one_sentence(world: BuyingWorld) -> None:
    with pytest.raises(NotComputableError) as refusal:
        rate_on(world.shelf, "EUR", "USD", FRIDAY, fall_back_days=3)

    assert refusal.value.finding.message == (
        "EUR has no rate against USD on 2025-04-17 or within 3 days before it; record it "
        "with rate.recorded, and what is due can be computed"
    )


def test_a_differential_is_converted_as_a_market_report_did() -> None:
    """A discount of 125 pounds was reported as 157.70 dollars at 0.7926 pounds a dollar.

    Source: marketscreener.com, report on cocoa origin differentials, June 2022 (year from
    memory). 125 / 0.7926 is 157.708...; the report cuts it after the first decimal.
    """
    world = opened()
    world.rates("USD", "GBP", {"2022-06-01": "0.7926"})
    discount = Differential.model_validate(usd("-125.00", "GBP/t"))

    found = per_tonne_in(
        world.shelf, discount, "USD", date(2022, 6, 1), fall_back_days=0
    )

    assert Fraction(-1250000, 7926) == found.amount
    assert abs(found.amount - Fraction("-157.70")) < Fraction(1, 100)
    assert found.shown == "-157.708806459… USD/t"


def test_cents_per_pound_become_dollars_per_tonne() -> None:
    """A pound is 0.453 592 37 kg: NIST SP 811 (2008), appendix B.9, exact."""
    price = UnitPrice.model_validate(usd("110.00", "USc/lb"))

    found = per_tonne_in(
        opened().shelf, price, "USD", date(2025, 1, 1), fall_back_days=0
    )

    assert Fraction("1.10") * 1000 / Fraction("0.45359237") == found.amount
    assert [working.text for working in found.workings] == ["the same per tonne"]


def test_what_needs_no_conversion_has_no_line() -> None:
    price = UnitPrice.model_validate(usd("2400.00"))

    found = per_tonne_in(
        opened().shelf, price, "USD", date(2025, 1, 1), fall_back_days=0
    )

    assert (Fraction(2400), ()) == (found.amount, found.workings)


def test_arithmetic_per_tonne_is_told_unit_by_unit() -> None:
    found = []
    for unit in ("USc/lb", "USD/kg"):
        price = UnitPrice.model_validate(usd("100.00", unit))
        [line] = plain_per_tonne(price).workings
        found.append((line.figure, line.rule, line.reckoning))

    assert found == [
        ("2204.622621848… USD/t", "NIST SP 811", "100.00 / 100 * 1000 / 0.45359237"),
        ("100000.00 USD/t", "NIST SP 811", "100.00 * 1000 / 1"),
    ]


def test_rates_ahead_are_told_apart_by_their_months(world: BuyingWorld) -> None:
    world.rates("GBP", "USD", {"2025-04-17": "1.30"}, forward_months=3)
    world.rates("GBP", "USD", {"2025-04-17": "1.40"}, forward_months=6)
    seqs = (world.entries - 2, world.entries - 1)

    for ahead, rate, entry in ((3, "1.3", seqs[0]), (6, "1.4", seqs[1])):
        found, [line] = rate_on(
            world.shelf, "GBP", "USD", FRIDAY, fall_back_days=0, forward_months=ahead
        )
        assert (found, line.entry) == (Fraction(rate), entry)
        assert line.text.endswith(f", {ahead} months ahead")
    spot, _ = rate_on(world.shelf, "GBP", "USD", FRIDAY, fall_back_days=0)
    assert spot == Fraction("1.25")


def test_what_is_missing_is_named_by_a_rule(world: BuyingWorld) -> None:
    with pytest.raises(NotComputableError) as no_quote:
        quote_on(world.shelf, "LDN", FRIDAY, fall_back_days=0)
    with pytest.raises(NotComputableError) as no_rate:
        rate_on(world.shelf, "EUR", "USD", FRIDAY, fall_back_days=0)

    rules = [caught.value.finding.rule for caught in (no_quote, no_rate)]
    assert rules == ["no-quote", "no-rate"]
