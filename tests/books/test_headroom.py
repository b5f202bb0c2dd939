"""ledger.books.headroom: what an account may still cover, and the day it runs out."""

from datetime import date, timedelta
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from ledger.books.account import Account
from ledger.books.headroom import WINDOW_DAYS, Headroom, headroom_of, headrooms
from tests.world import World, certified, claim

ACCOUNT = Account("fairfield", "cocoa", "mill", "conventional", "all")
ON = date(2025, 6, 30)


@pytest.fixture
def world() -> World:
    """A thousand kilograms received in January; what is sold draws kilogram by kilogram."""
    world = certified()
    world.receive({"P": "10000"}, "2025-01-02", contract="PLAIN")
    world.receive({"L": "1000"}, "2025-01-10")
    return world


def asked(world: World, on: date = ON) -> Headroom:
    return headroom_of(world.shelf, ACCOUNT, on)


def test_the_day_is_worked_out_by_hand(world: World) -> None:
    """910 kg in 91 days are 10 kg a day; the 90 kg that are left last for nine days.

    The tenth day after is the first that is not covered. Worked out by hand.
    """
    world.sell("V", {"P": "910"}, "2025-06-30", claim())

    found = asked(world)

    assert (found.since, found.days) == (date(2025, 4, 1), WINDOW_DAYS)
    assert (found.grams, found.per_day_g) == (90_000, Fraction(10_000))
    assert (found.covered_days, found.runs_out_on) == (9, date(2025, 7, 10))


def test_a_rate_is_an_exact_fraction(world: World) -> None:
    world.sell("V", {"P": "100"}, "2025-06-01", claim())

    assert asked(world).per_day_g == Fraction(100_000, 91)


@pytest.mark.parametrize(
    ("sold_on", "claimed_g"), [("2025-03-31", 0), ("2025-04-01", 50_000)]
)
def test_sales_before_the_window_do_not_count(
    world: World, sold_on: str, claimed_g: int
) -> None:
    world.sell("V", {"P": "50"}, sold_on, claim())

    assert asked(world).claimed_g == claimed_g


def test_what_came_back_is_taken_off_the_rate(world: World) -> None:
    world.sell("V", {"P": "50"}, "2025-06-01", claim())
    world.take_back("R", "V", {"P": "20"}, "2025-06-10")

    assert asked(world).claimed_g == 30_000


def test_sales_without_a_claim_and_write_offs_are_no_part_of_the_rate(
    world: World,
) -> None:
    world.sell("V", {"P": "50"}, "2025-06-01")
    world.write_off("L", "10", "2025-06-02")

    assert (asked(world).claimed_g, asked(world).grams) == (0, 990_000)


def test_where_nothing_is_claimed_no_day_is_in_sight(world: World) -> None:
    found = asked(world)

    assert (found.covered_days, found.runs_out_on) == (None, None)


def test_an_empty_account_that_sells_nothing_lacks_nothing(world: World) -> None:
    """All was claimed long ago: nothing is left, and nothing asks for more."""
    world.sell("V", {"P": "1000"}, "2025-01-20", claim())

    found = asked(world)

    assert (found.grams, found.claimed_g) == (0, 0)
    assert (found.covered_days, found.runs_out_on) == (None, None)


def test_what_happens_after_the_day_is_left_out(world: World) -> None:
    world.sell("V", {"P": "50"}, "2025-07-01", claim())

    assert (asked(world).grams, asked(world).claimed_g) == (1_000_000, 0)


def test_the_window_of_a_new_account_begins_with_its_first_movement() -> None:
    """Ninety-one days would make light of the sales of an account ten days old."""
    world = certified()
    world.receive({"L": "300"}, "2025-06-21")
    world.sell("V", {"L": "100"}, "2025-06-25", claim())

    found = asked(world)

    assert (found.since, found.days) == (date(2025, 6, 21), 10)
    assert (found.covered_days, found.runs_out_on) == (20, date(2025, 7, 21))


def test_an_account_below_its_floor_ran_out_already(world: World) -> None:
    world.sell("V", {"P": "900"}, "2025-02-01", claim())
    world.stop("alder/fairfield", "2025-06-01", from_on="2025-01-01")

    found = asked(world)

    assert found.grams == -900_000
    assert (found.covered_days, found.runs_out_on) == (0, ON)


def test_what_terms_let_an_account_fall_below_zero_is_headroom() -> None:
    world = certified(reconciliation_months=3, account={"below_zero_kg": "50"})
    world.receive({"L": "100"}, "2025-06-01")

    found = asked(world)

    assert (found.standing_g, found.floor_g, found.grams) == (100_000, -50_000, 150_000)


def test_every_account_is_told_once(world: World) -> None:
    assert [one.account for one in headrooms(world.shelf, ON)] == [ACCOUNT]


def test_a_day_beyond_the_calendar_is_not_told() -> None:
    slow = Headroom(ACCOUNT, ON, 10**12, 0, ON, 1)

    assert (slow.covered_days, slow.runs_out_on) == (10**12, None)


@given(
    standing_g=st.integers(0, 10**9),
    below_g=st.integers(0, 10**6),
    claimed_g=st.integers(1, 10**9),
    days=st.integers(1, WINDOW_DAYS),
)
def test_it_covers_every_day_before_it_runs_out_and_not_the_day_itself(
    standing_g: int, below_g: int, claimed_g: int, days: int
) -> None:
    """The law that the day keeps, in whole grams times days, without a fraction."""
    since = ON - timedelta(days=days - 1)
    found = Headroom(ACCOUNT, ON, standing_g, -below_g, since, claimed_g)
    assume(found.runs_out_on is not None)

    ahead = ((found.runs_out_on or ON) - ON).days
    held = (standing_g + below_g) * days
    assert claimed_g * (ahead - 1) <= held < claimed_g * ahead
