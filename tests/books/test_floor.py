"""ledger.books.floor, ledger.books.below_floor: below zero within a period only."""

from datetime import UTC, date, datetime
from typing import Any

import pytest

from ledger.books.balance import balances, breaches
from ledger.books.breach import find_breaches
from ledger.books.effect import Book, Cause, Tally
from ledger.books.floor import is_period_end, is_unsettled, month_ends
from ledger.books.shelf import Movement, Run
from ledger.trade.terms import TermsPublished
from tests.world import World, certified, claim, conversions, refused

QUARTERS: dict[str, Any] = {
    "reconciliation_months": 3,
    "account": {"below_zero_kg": "50"},
}
"""At most fifty kilograms below zero within a quarter."""


def noon(month: int, day: int) -> datetime:
    return datetime(2025, month, day, 12, tzinfo=UTC)


@pytest.fixture
def world() -> World:
    """A hundred kilograms of certified beans, and plenty of others; it is March."""
    world = certified(**QUARTERS)
    world.recorded_at = noon(3, 10)
    world.receive({"L": "100"}, "2025-01-10")
    world.receive({"P": "1000"}, "2025-01-10", contract="PLAIN")
    return world


@pytest.mark.parametrize("mass", ["150", "100.001"])
def test_within_a_period_it_may_stand_at_the_limit(world: World, mass: str) -> None:
    world.sell("X", {"P": mass}, "2025-02-01", claim())

    assert list(breaches(world.shelf)) == []
    assert find_breaches(world.shelf, date(2025, 3, 10)).accounts == ()


def test_a_gram_below_the_limit_is_refused_and_told(world: World) -> None:
    with pytest.raises(Exception, match=r"50.001 kg .* the terms allow 50.000 kg"):
        world.sell("X", {"P": "150.001"}, "2025-02-01", claim())


def test_without_a_limit_it_never_stands_below_zero() -> None:
    """Balances stay positive: common practice, no source."""
    world = certified()
    world.receive({"L": "100"})
    world.receive({"P": "200"}, contract="PLAIN")

    with refused("account-below-zero"):
        world.sell("X", {"P": "100.001"}, "2025-02-01", claim())


def test_stock_has_no_such_limit(world: World) -> None:
    with refused("stock-below-zero"):
        world.sell("X", {"L": "100.001"}, "2025-02-01")


def test_a_period_that_is_over_must_have_ended_at_zero(world: World) -> None:
    """Recorded after the quarter, a late sale would leave it unsettled at its end."""
    world.recorded_at = noon(4, 1)
    with refused("account-below-zero"):
        world.sell("X", {"P": "100.001"}, "2025-03-31", claim())

    world.sell("X", {"P": "100"}, "2025-03-31", claim())
    world.sell("Y", {"P": "50"}, "2025-04-01", claim())


def test_the_last_day_of_a_period_is_still_within_it(world: World) -> None:
    world.recorded_at = noon(3, 31)
    world.sell("X", {"P": "150"}, "2025-03-31", claim())

    assert world.account() == -50_000


def test_a_period_is_not_closed_while_it_is_below_zero(world: World) -> None:
    world.sell("X", {"P": "150"}, "2025-02-01", claim())
    world.recorded_at = noon(4, 2)
    with pytest.raises(Exception, match=r"50.000 kg .* below zero on 2025-03-31"):
        world.close("2025-01-01", "2025-03-31", on="2025-04-02")

    world.receive({"M": "50"}, "2025-03-31")
    world.close("2025-01-01", "2025-03-31", on="2025-04-02")
    assert list(breaches(world.shelf)) == []


def test_it_may_be_closed_as_a_breach_that_everybody_sees(world: World) -> None:
    world.sell("X", {"P": "150"}, "2025-02-01", claim())
    world.recorded_at = noon(4, 2)
    world.record(
        "period.closed",
        "2025-04-02",
        period="Q1",
        start="2025-01-01",
        end="2025-03-31",
        signed_off_by="officer",
        accept_breach=True,
    )

    [breach] = find_breaches(world.shelf, date(2025, 4, 2)).accounts
    assert breach.is_open
    assert breach.needed_g == 50_000


def test_what_was_not_settled_in_time_is_a_breach_until_it_is(world: World) -> None:
    world.sell("X", {"P": "150"}, "2025-02-01", claim())
    assert [
        one.is_breach for one in balances(world.shelf, until=date(2025, 3, 30))
    ] == [False]

    until = date(2025, 3, 31)
    assert [one.is_breach for one in balances(world.shelf, until=until)] == [True]
    world.recorded_at = noon(4, 5)
    world.receive({"M": "50"}, "2025-04-05")
    found = find_breaches(world.shelf, date(2025, 4, 5)).accounts
    assert [one.is_open for one in found] == [False]


def test_settled_by_the_last_day_is_in_time(world: World) -> None:
    world.sell("X", {"P": "150"}, "2025-02-01", claim())
    world.recorded_at = noon(3, 31)
    world.receive({"M": "50"}, "2025-03-31")

    assert find_breaches(world.shelf, date(2025, 12, 31)).accounts == ()


def test_a_suspension_may_leave_it_beyond_the_limit_as_a_breach(world: World) -> None:
    world.sell("X", {"P": "150"}, "2025-02-01", claim())
    world.stop("alder/fairfield", "2025-01-01")

    assert world.rules == ["breach-opened"]
    assert "150.000 kg" in world.warnings[0].message
    assert "where the terms allow 50.000 kg" in world.warnings[0].message


@pytest.mark.parametrize(
    ("starts", "months", "ends"),
    [
        (1, 3, {3, 6, 9, 12}),
        (10, 3, {3, 6, 9, 12}),
        (11, 3, {1, 4, 7, 10}),
        (10, 12, {9}),
        (2, 6, {1, 7}),
        (12, 4, {3, 7, 11}),
    ],
)
def test_periods_end_where_the_terms_begin_them(
    starts: int, months: int, ends: set[int]
) -> None:
    terms = TermsPublished.model_validate(
        {
            "scheme": "fairfield",
            "version": "1",
            "valid_from": "2023-01-01",
            "source": "an invented standard",
            "custody": ["mass balance"],
            "conversions": conversions(),
            "reconciliation_starts": starts,
            "reconciliation_months": months,
        }
    )
    days = list(month_ends(date(2025, 1, 1), date(2025, 12, 31)))

    assert [day.day for day in days] == [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]
    assert {day.month for day in days if is_period_end(terms, day)} == ends
    assert not is_period_end(terms, date(2025, 9, 29))


def test_month_ends_are_those_within_the_days() -> None:
    assert list(month_ends(date(2025, 1, 31), date(2025, 1, 31))) == [date(2025, 1, 31)]
    assert list(month_ends(date(2025, 2, 1), date(2025, 2, 27))) == []


MILL = Tally(Book.ACCOUNT, "fairfield|cocoa|mill|conventional|all")


def run(opening_g: int, **moved: int) -> Run:
    """Return how an account moved on days of 2025, named like jan31."""
    months = {"jan": 1, "feb": 2}
    movements = tuple(
        Movement(date(2025, months[day[:3]], int(day[3:])), slot, 0, grams, Cause.SOLD)
        for slot, (day, grams) in enumerate(moved.items())
    )
    return Run(opening_g, movements)


@pytest.mark.parametrize(
    ("moved", "until", "is_open"),
    [
        (run(0), None, False),
        (run(-5), None, False),
        (run(0, jan15=-5, feb1=9), None, True),
        (run(0, jan15=-5, jan31=5), None, False),
        (run(0, jan15=-5, jan31=1), None, False),
        (run(0, jan15=-5, jan31=1), date(2025, 1, 31), True),
        (run(0, jan15=-5), date(2025, 1, 30), False),
        (run(-5, jan15=1, feb1=1), None, True),
        (run(0, jan15=5, feb1=5), None, False),
        (run(5, jan15=-5, feb1=-5), None, False),
    ],
)
def test_an_end_below_zero_counts_once_it_is_over(
    moved: Run, until: date | None, *, is_open: bool
) -> None:
    world = certified(account={"below_zero_kg": "50"}, reconciliation_months=1)

    assert is_unsettled(world.shelf, MILL, moved, until=until) is is_open


def test_stock_has_no_period_to_settle() -> None:
    world = certified(account={"below_zero_kg": "50"}, reconciliation_months=1)
    moved = run(0, jan15=-5, feb1=9)

    assert not is_unsettled(world.shelf, Tally.stock("L"), moved)
