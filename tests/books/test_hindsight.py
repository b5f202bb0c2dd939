"""ledger.books.hindsight: what moved an account, on the days to which it belongs now."""

from datetime import date

import pytest

from ledger.books.account import Account
from ledger.books.effect import Cause, Posting, Tally
from ledger.books.hindsight import Hindsight, corrections_by_slot
from tests.world import SCHEME, World, certified, claim, reject

TALLY = Account(SCHEME, "cocoa", "mill", "conventional", "all").tally
JANUARY, FEBRUARY, MARCH = date(2025, 1, 10), date(2025, 2, 10), date(2025, 3, 10)


@pytest.fixture
def world() -> World:
    """A receipt in each of three months; the first two are closed."""
    world = certified(reconciliation_months=12)
    for lot, on in (("A", JANUARY), ("B", FEBRUARY), ("C", MARCH)):
        world.receive({lot: "10"}, str(on))
    world.close("2025-01-01", "2025-02-28", "2025-03-01")
    return world


def receipt(world: World, lot: str) -> int:
    [found] = [
        raw["seq"]
        for raw in world.raws
        if raw["kind"] == "shipment.received" and raw["body"]["lots"][0]["lot"] == lot
    ]
    return int(found)


def moved(world: World, tally: Tally = TALLY) -> list[tuple[date, int]]:
    return [(m.day, m.grams) for m in Hindsight(world.shelf).run(tally).movements]


def test_what_landed_later_lies_on_the_day_of_its_entry(world: World) -> None:
    less = {"lot": "A", "net_shipped_kg": "4", "net_landed_kg": "4"}
    world.replace(receipt(world, "A"), "2025-03-20", lots=[less])

    assert moved(world) == [
        (JANUARY, 10_000),
        (JANUARY, -6_000),
        (FEBRUARY, 10_000),
        (MARCH, 10_000),
    ]


def test_a_corrected_entry_lies_on_its_new_day_though_nothing_landed(
    world: World,
) -> None:
    world.replace(receipt(world, "B"), "2025-03-20", day="2025-01-20")

    assert (date(2025, 1, 20), 10_000) in moved(world)
    assert FEBRUARY not in {day for day, _ in moved(world)}


def test_what_a_void_entry_moved_is_left_out(world: World) -> None:
    world.void(receipt(world, "A"), "2025-03-20")

    assert moved(world) == [(FEBRUARY, 10_000), (MARCH, 10_000)]


def test_a_rejection_lies_on_the_day_of_the_receipt(world: World) -> None:
    """Goods that turned out unfit were never good: their credit was none all along."""
    reject(world, "C", "2025-03-20", "2025-03-15")

    assert moved(world)[2:] == [(MARCH, 10_000), (MARCH, -10_000)]


def test_what_lapsed_is_left_out_until_it_is_told() -> None:
    world = certified(reconciliation_months=1, carry_over_periods=0)
    world.receive({"A": "10"}, str(JANUARY))
    world.close("2025-01-01", "2025-02-28", "2025-03-01")
    world.receive({"C": "10"}, str(MARCH))
    view = Hindsight(world.shelf)
    end = date(2025, 1, 31)

    assert view.run(TALLY).closing_g == 20_000
    view.let_lapse(99, Posting(TALLY, end, -3_000, Cause.LAPSED))
    assert [m.grams for m in view.run(TALLY).movements] == [10_000, -3_000, 10_000]


def test_a_stretch_holds_its_first_and_last_day_and_opens_with_what_came_before(
    world: World,
) -> None:
    run = Hindsight(world.shelf).run(TALLY, FEBRUARY, MARCH)

    assert run.opening_g == 10_000
    assert [m.day for m in run.movements] == [FEBRUARY, MARCH]


def test_stock_is_passed_on_as_it_is(world: World) -> None:
    world.sell("S", {"A": "1"}, "2025-03-11", claim())
    world.sell("T", {"A": "1"}, "2025-03-12", claim())
    world.sell("U", {"A": "1"}, "2025-03-13", claim())
    tally, day = Tally.stock("A"), date(2025, 3, 12)

    run = Hindsight(world.shelf).run(tally, day, day)

    assert run == world.shelf.run(tally, day, day)
    assert (run.opening_g, [m.grams for m in run.movements]) == (9_000, [-1_000])


def test_corrections_of_corrections_are_about_the_first_entry(world: World) -> None:
    slot = receipt(world, "C")
    first = world.replace(slot, "2025-03-20", document="one")
    second = world.replace(first, "2025-03-21", was=slot, document="two")

    found = corrections_by_slot(world.shelf)

    assert {slot: [one.seq for one in some] for slot, some in found.items()} == {
        slot: [first, second]
    }
