"""ledger.books.rolling: the rolling average percentage, as this program reads it."""

from datetime import date
from fractions import Fraction
from typing import Any

import pytest

from ledger.books.account import Account
from ledger.books.rolling import Average, average_on, months_later, window_start
from tests.world import World, certified, claim, conversions, refused

ROLLING: dict[str, Any] = {"method": "rolling average percentage", "window_months": 3}
ACCOUNT = Account("fairfield", "cocoa", "mill", "conventional", "all")


@pytest.fixture
def world() -> World:
    """Of two hundred kilograms of beans, fifty are certified: a quarter."""
    world = certified(**ROLLING)
    world.receive({"L": "50"}, "2025-01-10")
    world.receive({"P": "150"}, "2025-01-10", contract="PLAIN")
    return world


def average(world: World, on: str) -> Average:
    found = average_on(world.shelf, ACCOUNT, date.fromisoformat(on))
    assert found is not None
    return found


def test_as_much_may_be_claimed_as_was_certified_of_what_came_in(world: World) -> None:
    world.sell("X", {"P": "75"}, "2025-01-20")
    world.sell("Y", {"L": "25"}, "2025-01-20", claim())

    assert average(world, "2025-01-20").claimed_part == Fraction(1, 4)
    assert average(world, "2025-01-20").allowed == Fraction(1, 4)


def test_a_gram_more_is_refused_with_both_percentages(world: World) -> None:
    world.sell("X", {"P": "75"}, "2025-01-20")

    with pytest.raises(
        Exception, match=r"claim 25\.0007\d+… per cent .* 25\.00"
    ) as caught:
        world.sell("Y", {"L": "25.001"}, "2025-01-20", claim())
    assert "credit" not in str(caught.value)


def test_what_is_sold_without_a_claim_may_not_be_forgotten(world: World) -> None:
    """The first kilogram sold cannot be claimed whole: the average would be above."""
    with refused("percentage-exceeded"):
        world.sell("Y", {"L": "1"}, "2025-01-20", claim())


def test_a_late_receipt_of_other_goods_may_not_lower_what_was_claimed(
    world: World,
) -> None:
    """An entry with an early date is held against every claim that came after it."""
    world.sell("X", {"P": "75"}, "2025-01-20")
    world.sell("Y", {"L": "25"}, "2025-01-21", claim())

    with refused("percentage-exceeded"):
        world.receive({"Q": "0.001"}, "2025-01-20", contract="PLAIN")
    world.receive({"Q": "1000"}, "2025-01-22", contract="PLAIN")


def test_what_left_the_window_counts_no_more(world: World) -> None:
    """The certified fifty of 10 January count to 9 April in windows of three months."""
    world.receive({"Q": "50"}, "2025-02-01", contract="PLAIN")
    world.sell("X", {"P": "80"}, "2025-04-01")
    world.sell("Y", {"L": "20"}, "2025-04-09", claim())

    assert average(world, "2025-04-09").allowed == Fraction(1, 5)
    with refused("percentage-exceeded"):
        world.sell("Z", {"L": "0.001"}, "2025-04-10", claim())
    assert average(world, "2025-04-10").allowed == 0


def test_the_account_may_not_fall_below_zero_all_the_same() -> None:
    """Certified goods of a small window must not cover an old stock of others."""
    world = certified(**ROLLING)
    world.receive({"P": "1000"}, "2025-01-10", contract="PLAIN")
    world.receive({"L": "10"}, "2025-06-01")
    assert average(world, "2025-06-02").allowed == 1

    with refused("account-below-zero"):
        world.sell("X", {"P": "10.001"}, "2025-06-02", claim())
    world.sell("X", {"P": "10"}, "2025-06-02", claim())


def test_goods_that_come_back_leave_the_average_with_their_claim(world: World) -> None:
    world.sell("X", {"P": "75"}, "2025-01-20")
    world.sell("Y", {"L": "25"}, "2025-01-20", claim())
    world.take_back("R", "Y", {"L": "5"}, "2025-01-21")

    found = average(world, "2025-01-21")
    assert (found.output_g, found.claimed_g) == (95_000, 20_000)
    with refused("percentage-exceeded"):
        world.take_back("R2", "X", {"P": "75"}, "2025-01-20")


def test_a_claim_taken_back_leaves_the_goods_in_the_average(world: World) -> None:
    world.sell("X", {"P": "75"}, "2025-01-20")
    world.sell("Y", {"L": "25"}, "2025-01-20", claim())
    world.record(
        "claim.withdrawn",
        "2025-01-21",
        withdrawal="W",
        sale="Y",
        document="note",
        reason="by mistake",
        lines=[{"lot": "L", "mass_kg": "5", "scheme": "fairfield"}],
    )

    found = average(world, "2025-01-21")
    assert (found.output_g, found.claimed_g) == (100_000, 20_000)


def test_a_suspension_opens_a_breach_of_the_percentage(world: World) -> None:
    world.sell("X", {"P": "75"}, "2025-01-20")
    world.sell("Y", {"L": "25"}, "2025-01-20", claim())
    world.stop("alder/fairfield", "2025-01-01")

    assert world.rules == ["breach-opened", "percentage-breach-opened"]
    assert world.rebuilt_alike()


def test_forms_are_averaged_in_bean_equivalent(world: World) -> None:
    """A kilogram of liquor counts for 1.25 of beans in what is sold."""
    world.make({"P": "80"}, {"M": "80"}, "2025-01-11")
    world.sell("X", {"M": "60"}, "2025-01-20")

    assert average(world, "2025-01-20").output_g == 75_000
    world.sell("Y", {"M": "20"}, "2025-01-20", claim())
    assert average(world, "2025-01-20").claimed_part == Fraction(1, 4)


def test_who_receives_nothing_but_certified_goods_may_claim_all_that_is_sold() -> None:
    """A kilogram that stands for no whole gram is rounded alike as sold and as claimed."""
    liquor = {**conversions()[3], "yield_percent": "82"}
    del liquor["factor"]
    world = certified(**ROLLING, conversions=[conversions()[0], liquor])
    world.receive({"L": "100"}, "2025-01-10")
    world.make({"L": "60"}, {"M": "60"}, "2025-01-11")
    world.sell("X", {"M": "50"}, "2025-01-20", claim())
    world.take_back("R", "X", {"M": "7"}, "2025-01-21")
    world.take_back("S", "X", {"M": "43"}, "2025-01-22")
    world.sell("Y", {"M": "60"}, "2025-01-23", claim())

    found = average(world, "2025-01-23")
    assert found.claimed_part == found.allowed == 1
    assert found.output_g == found.claimed_g == 60_976 - 8_536 - 52_439 + 73_171


def test_a_correction_of_a_closed_period_counts_where_it_lands(world: World) -> None:
    world.sell("X", {"P": "75"}, "2025-01-20")
    bought = world.receive({"N": "10"}, "2025-01-15")
    world.close("2025-01-01", "2025-01-31", on="2025-02-01")
    world.void(bought, "2025-02-10")

    found = average(world, "2025-02-10")
    assert (found.input_g, found.certified_g) == (200_000, 50_000)
    assert world.rebuilt_alike()


def test_what_a_late_suspension_takes_counts_where_it_lands(world: World) -> None:
    """It is certified no more, in any window: also one that the receipt has left."""
    world.close("2025-01-01", "2025-01-31", on="2025-02-01")
    world.stop("alder/fairfield", "2025-04-20", from_on="2025-01-01")
    world.receive({"P2": "100"}, "2025-04-20", contract="PLAIN")

    assert average(world, "2025-01-31").certified_g == 50_000
    assert average(world, "2025-04-20").certified_g == -50_000
    assert average(world, "2025-04-20").allowed == 0


def test_a_lot_rejected_after_it_was_taken_came_in_uncertified(world: World) -> None:
    """What was claimed before that day stays allowed; from then on nothing of it is."""
    world.record(
        "lot.rejected",
        "2025-01-20",
        lot="L",
        from_on="2025-01-15",
        hold="H",
        reason="?",
    )

    assert average(world, "2025-01-14").allowed == Fraction(1, 4)
    assert average(world, "2025-01-15").allowed == 0
    assert average(world, "2025-01-15").input_g == 200_000


def test_a_loss_leaves_what_came_in_as_it_was(world: World) -> None:
    world.write_off("L", "10", "2025-01-15")

    assert average(world, "2025-01-15").allowed == Fraction(1, 4)


def test_terms_recorded_after_receipts_count_them_from_their_date_on() -> None:
    world = certified()
    world.receive({"P": "100"}, "2025-03-10", contract="PLAIN")
    world.receive({"O": "100"}, "2025-02-28", contract="PLAIN")
    world.terms(valid_from="2025-03-01", **ROLLING)
    world.receive({"L": "25"}, "2025-03-11")

    assert average(world, "2025-03-11").allowed == Fraction(1, 5)
    assert world.rebuilt_alike()


def test_under_the_credit_method_nothing_is_averaged() -> None:
    world = certified()
    world.receive({"L": "50"}, "2025-01-10")

    assert average_on(world.shelf, ACCOUNT, date(2025, 1, 10)) is None


@pytest.mark.parametrize(
    ("on", "months", "first"),
    [
        ("2025-03-14", 12, "2024-03-15"),
        ("2025-03-31", 12, "2024-04-01"),
        ("2025-03-31", 1, "2025-03-01"),
        ("2024-03-31", 1, "2024-03-01"),
        ("2025-01-01", 1, "2024-12-02"),
        ("2024-02-29", 12, "2023-03-01"),
    ],
)
def test_a_window_holds_whole_months(on: str, months: int, first: str) -> None:
    last = date.fromisoformat(on)

    assert window_start(last, months) == date.fromisoformat(first)
    assert months_later(last, 0) == last


@pytest.mark.parametrize(
    ("sums", "allowed", "claimed"),
    [
        ((0, 0, 0, 0), 0, 0),
        ((-1, 1, -1, 1), 0, 0),
        ((1, 1, 1, 1), 1, 1),
        ((4, 1, 4, 2), Fraction(1, 4), Fraction(1, 2)),
        ((4, 5, 4, 4), 1, 1),
        ((4, -1, 4, 0), 0, 0),
    ],
)
def test_percentages_lie_between_nothing_and_all(
    sums: tuple[int, int, int, int], allowed: Fraction, claimed: Fraction
) -> None:
    """Came in, certified, sold, claimed; nothing is allowed where nothing came in."""
    found = Average(ACCOUNT, date(2025, 1, 1), date(2025, 1, 2), *sums)

    assert (found.allowed, found.claimed_part) == (allowed, claimed)


def test_what_is_lost_or_lapses_is_neither_certified_less_nor_claimed() -> None:
    world = certified(**ROLLING, reconciliation_months=1, carry_over_periods=0)
    world.receive({"L": "50"}, "2025-01-10")
    world.write_off("L", "10", "2025-01-15")
    world.close("2025-01-01", "2025-01-31", on="2025-02-01")

    found = average(world, "2025-01-31")
    assert world.account() == 0
    assert (found.certified_g, found.claimed_g) == (50_000, 0)


def test_claims_on_forms_that_come_out_together_are_claims_too() -> None:
    """Butter draws on an account of its own, and is sold in bean equivalent of liquor."""
    split = {
        "of": "liquor",
        "outputs": [
            {"form": "butter", "share": "0.5"},
            {"form": "powder", "share": "0.5"},
        ],
        "valid_from": "2018-01-01",
        "source": "an invented standard",
    }
    world = certified(**ROLLING, joint_outputs=[split])
    world.receive({"L": "100"}, "2025-01-10")
    world.make({"L": "10"}, {"B": "10"}, "2025-01-11", form="butter")
    world.sell("X", {"B": "8"}, "2025-01-20", claim())

    found = average(world, "2025-01-20")
    assert (found.output_g, found.claimed_g) == (10_000, 10_000)
    assert world.account(form="powder") == 10_000


def test_claims_before_the_terms_average_anything_are_not_held_against_it() -> None:
    """The claim of February is under the credit method; that of March is averaged."""
    world = certified()
    world.terms(valid_from="2025-03-01", **ROLLING)
    world.receive({"L": "100"}, "2025-02-01")
    world.sell("X", {"L": "10"}, "2025-02-10", claim())
    world.receive({"P": "100"}, "2025-03-01", contract="PLAIN")
    world.receive({"M": "100"}, "2025-03-02")
    world.sell("W", {"P": "10"}, "2025-03-03")
    world.sell("Y", {"M": "10"}, "2025-03-03", claim())

    world.receive({"Q": "0.001"}, "2025-02-05", contract="PLAIN")

    with refused("percentage-exceeded"):
        world.receive({"Q2": "100"}, "2025-03-01", contract="PLAIN")


def test_a_percentage_is_not_held_on_a_day_on_which_nothing_is_claimed(
    world: World,
) -> None:
    """It falls below what was claimed on a day of receipts only, so nothing is refused."""
    world.sell("X", {"P": "75"}, "2025-01-20")
    world.sell("Y", {"L": "25"}, "2025-01-20", claim())
    world.receive({"M": "10"}, "2025-01-21")

    world.receive({"Q": "1000"}, "2025-01-21", contract="PLAIN")

    found = average(world, "2025-01-21")
    assert found.excess_g > 0


def test_a_correction_that_makes_an_excess_no_worse_is_let_in(world: World) -> None:
    """Nothing that came in is certified any more, with or without the other lot."""
    mistyped = world.receive({"Q": "150"}, "2025-01-10", contract="PLAIN")
    world.sell("X", {"P": "80"}, "2025-01-20")
    world.sell("Y", {"L": "10"}, "2025-01-20", claim())
    world.stop("alder/fairfield", "2025-01-21", from_on="2025-01-01")
    assert average(world, "2025-01-20").excess_g == 10_000

    world.void(mistyped)

    assert world.rules == []
    assert average(world, "2025-01-20").excess_g == 10_000


def test_days_before_the_terms_average_count_on_no_side() -> None:
    """Of 120 kilograms that came in since, 20 are certified: a sixth.

    The hundred of February could still be claimed by the account alone.
    """
    world = certified()
    world.terms(valid_from="2025-03-01", **ROLLING)
    early = world.receive({"N": "100"}, "2025-02-01")
    world.sell("X", {"N": "10"}, "2025-02-10", claim())
    world.receive({"P": "100"}, "2025-03-01", contract="PLAIN")
    world.receive({"M": "20"}, "2025-03-02")
    world.sell("W", {"P": "80"}, "2025-03-03")
    with refused("percentage-exceeded"):
        world.sell("Y", {"M": "16.001"}, "2025-03-03", claim())
    world.sell("Y", {"M": "16"}, "2025-03-03", claim())

    found = average(world, "2025-03-03")
    assert (found.allowed, found.claimed_part) == (Fraction(1, 6), Fraction(1, 6))
    assert average_on(world.shelf, ACCOUNT, date(2025, 2, 10)) is None

    world.replace(early, day="2025-02-03")
    assert average(world, "2025-03-03") == found
