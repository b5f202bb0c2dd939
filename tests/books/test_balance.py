"""ledger.books.balance: opening + received - claimed = closing, account by account."""

from datetime import UTC, date, datetime
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.books.account import Account
from ledger.books.balance import (
    averages,
    balance_of,
    balances,
    breaches,
    running_lines,
)
from ledger.books.effect import Cause
from tests.world import World, certified, claim

ACCOUNT = Account("fairfield", "cocoa", "mill", "conventional", "all")
FIRST, LAST = date(2025, 2, 1), date(2025, 2, 28)


@pytest.fixture
def world() -> World:
    world = certified()
    world.receive({"P": "1000"}, "2025-01-02", contract="PLAIN")
    world.receive({"L": "100"}, "2025-01-10")
    world.sell("X", {"P": "30"}, "2025-01-31", claim())
    world.receive({"K": "50"}, "2025-02-01")
    world.sell("Y", {"P": "90"}, "2025-02-10", claim())
    world.take_back("R", "Y", {"P": "5"}, "2025-02-20")
    world.write_off("K", "1", "2025-02-28")
    world.sell("Z", {"P": "10"}, "2025-03-01", claim())
    return world


def test_opening_plus_incoming_less_closing_is_outgoing(world: World) -> None:
    """A + B - D = C: opening inventory, incoming, closing, outgoing.

    Source: 7 CFR 205.403(d)(4), mass-balance at inspection, in the form A + B - D = C
    (onecert.com, "Mass balance").
    """
    found = balance_of(world.shelf, ACCOUNT, since=FIRST, until=LAST)

    opening, incoming = found.opening_g, found.by_cause[Cause.RECEIVED]
    outgoing = -sum(g for c, g in found.by_cause.items() if c is not Cause.RECEIVED)
    assert (opening, incoming, outgoing) == (70_000, 50_000, 86_000)
    assert opening + incoming - found.closing_g == outgoing
    assert found.by_cause == {
        Cause.RECEIVED: 50_000,
        Cause.SOLD: -90_000,
        Cause.RETURNED: 5_000,
        Cause.WRITTEN_OFF: -1_000,
    }


@pytest.mark.parametrize(
    ("since", "until", "opening_g", "closing_g"),
    [
        (None, None, 0, 24_000),
        (date(2025, 1, 31), date(2025, 1, 31), 100_000, 70_000),
        (date(2025, 2, 1), date(2025, 1, 31), 70_000, 70_000),
        (date(2024, 1, 1), date(2024, 12, 31), 0, 0),
        (date(2025, 3, 1), None, 34_000, 24_000),
    ],
)
def test_the_closing_of_one_stretch_is_the_opening_of_the_next(
    world: World,
    since: date | None,
    until: date | None,
    opening_g: int,
    closing_g: int,
) -> None:
    found = balance_of(world.shelf, ACCOUNT, since=since, until=until)

    assert (found.opening_g, found.closing_g) == (opening_g, closing_g)


def test_the_lowest_standing_is_told_with_its_first_date(world: World) -> None:
    found = balance_of(world.shelf, ACCOUNT, since=FIRST)

    assert (found.lowest_g, found.lowest_on) == (24_000, date(2025, 3, 1))
    still = balance_of(world.shelf, ACCOUNT, since=date(2025, 4, 1))
    assert (still.lowest_g, still.lowest_on) == (24_000, None)


def test_every_account_that_moved_has_a_balance(world: World) -> None:
    world.receive({"Q": "1"}, site="annex")

    assert [found.account.site for found in balances(world.shelf)] == ["annex", "mill"]
    assert str(ACCOUNT) == "fairfield, cocoa, mill, conventional"
    assert Account.of(ACCOUNT.tally) == ACCOUNT


def test_running_lines_say_what_each_movement_left(world: World) -> None:
    lines = list(running_lines(world.shelf, ACCOUNT, since=FIRST, until=LAST))

    assert [line.standing_g for line in lines] == [120_000, 30_000, 35_000, 34_000]
    assert lines[0].movement.cause is Cause.RECEIVED


@pytest.mark.parametrize(
    ("within_day", "standing"),
    [
        ("as recorded", [-10_000, 0]),
        ("receipts first", [10_000, 0]),
    ],
)
def test_lines_and_lowest_follow_the_order_that_the_terms_give_a_day(
    within_day: str, standing: list[int]
) -> None:
    world = certified(account={"within_day": within_day})
    world.receive({"P": "100"}, "2025-01-02", contract="PLAIN")
    world.receive({"L": "10"}, "2025-01-10")
    world.sell("X", {"P": "10"}, "2025-02-01", claim())
    receipt = next(r["seq"] for r in world.raws if r["occurred_on"] == "2025-01-10")
    world.receive({"K": "10"}, "2025-02-01")
    world.void(receipt, accept_breach=True)

    lines = list(running_lines(world.shelf, ACCOUNT))
    assert [line.standing_g for line in lines] == standing
    assert balance_of(world.shelf, ACCOUNT).lowest_g == min(0, *standing)
    assert len(list(breaches(world.shelf))) == (within_day == "as recorded")


def test_an_account_at_zero_is_no_breach_and_a_gram_below_is() -> None:
    world = certified()
    world.receive({"L": "10"}, "2025-01-10")
    world.sell("X", {"L": "10"}, "2025-02-01", claim())
    assert not list(breaches(world.shelf))

    receipt = next(r["seq"] for r in world.raws if r["kind"] == "shipment.received")
    lots = [{"lot": "L", "net_shipped_kg": "9.999", "net_landed_kg": "10"}]
    world.replace(receipt, lots=lots, accept_breach=True)

    [found] = breaches(world.shelf)
    assert (found.lowest_g, found.closing_g) == (-1, -1)


@given(
    st.lists(st.tuples(st.integers(0, 27), st.integers(1, 900)), min_size=1, max_size=8)
)
def test_balances_of_adjoining_stretches_add_up(moves: list[tuple[int, int]]) -> None:
    world = certified()
    for number, (day, grams) in enumerate(moves):
        mass = f"0.{grams:03d}"
        world.receive({f"L{number}": mass}, f"2025-02-{day + 1:02d}")

    parts = [
        balance_of(
            world.shelf, ACCOUNT, since=date(2025, 2, day), until=date(2025, 2, day)
        )
        for day in range(1, 29)
    ]

    for before, after in pairwise(parts):
        assert before.closing_g == after.opening_g
    assert sum(p.by_cause.get(Cause.RECEIVED, 0) for p in parts) == world.account()
    assert parts[-1].closing_g == sum(grams for _, grams in moves)


def test_balances_of_all_accounts_are_over_the_same_stretch(world: World) -> None:
    [found] = balances(world.shelf, since=FIRST, until=LAST)

    assert (found.opening_g, found.closing_g) == (70_000, 34_000)


def test_of_days_equally_low_the_first_is_told() -> None:
    world = certified()
    world.receive({"L": "100"}, "2025-01-10")
    for number, on in enumerate(("2025-02-01", "2025-02-03")):
        world.sell(f"X{number}", {"L": "10"}, on, claim())
        world.take_back(f"R{number}", f"X{number}", {"L": "10"}, on[:-1] + "5")

    found = balance_of(world.shelf, ACCOUNT)
    assert (found.lowest_g, found.lowest_on) == (80_000, date(2025, 2, 3))
    world.sell("Y", {"L": "20"}, "2025-02-06", claim())
    again = balance_of(world.shelf, ACCOUNT)
    assert (again.lowest_g, again.lowest_on) == (80_000, date(2025, 2, 3))


def test_the_lowest_of_many_pieces_is_the_first_of_equal_ones(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Balances are added up some days at a time; equal lows keep the earlier date."""
    monkeypatch.setattr("ledger.books.balance._DAYS_AT_A_TIME", 1)
    world = certified()
    world.receive({"L": "100"}, "2025-01-01")
    for number in range(2, 8):
        world.sell(f"X{number}", {"L": "1"}, f"2025-01-0{number}", claim())
        world.take_back(f"R{number}", f"X{number}", {"L": "1"}, f"2025-01-0{number}")

    found = balance_of(world.shelf, ACCOUNT)
    assert (found.lowest_g, found.lowest_on) == (99_000, date(2025, 1, 2))
    assert found.by_cause == {
        Cause.RECEIVED: 100_000,
        Cause.SOLD: -6_000,
        Cause.RETURNED: 6_000,
    }


@pytest.mark.parametrize(
    ("until", "is_breach"), [(date(2025, 1, 31), True), (date(2025, 1, 30), False)]
)
def test_a_period_counts_as_ended_on_its_last_day(
    until: date, *, is_breach: bool
) -> None:
    world = certified(account={"below_zero_kg": "50"}, reconciliation_months=1)
    world.recorded_at = datetime(2025, 1, 20, tzinfo=UTC)
    world.receive({"P": "100"}, "2025-01-02", contract="PLAIN")
    world.sell("X", {"P": "50"}, "2025-01-15", claim())

    found = balance_of(world.shelf, ACCOUNT, until=until)
    assert found.is_breach is is_breach
    assert balance_of(world.shelf, ACCOUNT).is_breach is False


def test_the_window_of_each_account_ends_with_its_last_movement_or_as_asked() -> None:
    world = certified(method="rolling average percentage", window_months=1)
    assert averages(world.shelf) == ()
    world.receive({"L": "10"}, "2025-01-10")
    world.receive({"K": "5"}, "2025-02-05", site="annex")

    assert [(str(one.on), one.input_g) for one in averages(world.shelf)] == [
        ("2025-02-05", 5_000),
        ("2025-01-10", 10_000),
    ]
    asked = averages(world.shelf, date(2025, 2, 8))
    assert [one.input_g for one in asked] == [5_000, 10_000]
    assert averages(world.shelf, date(2022, 12, 31)) == ()
