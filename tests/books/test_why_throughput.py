"""ledger.books.why_throughput: percentages can be done again from what is told."""

from datetime import date
from fractions import Fraction

import pytest

from ledger.books.account import Account
from ledger.books.rolling import Average, average_on
from ledger.books.why_balance import why_window
from ledger.books.why_throughput import why_average
from ledger.reports.account_workings import explained_average, explained_total
from tests.reports.masses_again import total_again
from tests.world import World, certified, claim, conversions

ACCOUNT = Account("fairfield", "cocoa", "mill", "conventional", "all")
ON = date(2025, 3, 31)


def yields(form: str, percent: str) -> dict[str, str]:
    """Return a published yield, whose factor has no end."""
    published = {"valid_from": "2023-01-01", "source": "a published table"}
    return {"form": form, "yield_percent": percent, **published}


@pytest.fixture
def world() -> World:
    """A world with goods certified and not, sold with a claim, without, and returned."""
    world = certified(
        method="rolling average percentage",
        window_months=3,
        conversions=[conversions()[0], yields("liquor", "82")],
    )
    world.receive({"L": "100"}, "2025-01-10")
    world.receive({"P": "30"}, "2025-01-12", contract="PLAIN")
    world.make({"L": "60"}, {"M": "60"}, "2025-01-13")
    world.sell("X", {"M": "17"}, "2025-01-20")
    world.sell("Y", {"M": "11"}, "2025-01-21", claim())
    world.take_back("R", "Y", {"M": "3"}, "2025-01-22")
    return world


def average(world: World) -> Average:
    found = average_on(world.shelf, ACCOUNT, ON)
    assert found is not None
    return found


def test_all_that_came_in_and_was_sold_can_be_done_again(world: World) -> None:
    found = average(world)
    came_in, sold = why_window(world.shelf, found)

    assert total_again(explained_total(came_in)) * 1000 == found.input_g == 130_000
    assert total_again(explained_total(sold)) * 1000 == found.output_g
    assert found.output_g == 20_732 + 13_415 - 3_658


def test_every_movement_is_told_with_its_factor_and_entry(world: World) -> None:
    _, sold = why_window(world.shelf, average(world))

    told = [
        [(line.figure, line.reckoning) for line in moved.workings][-2:]
        for moved in sold.movements
    ]
    assert told[0] == [
        ("(850 / 41) kg", "17.00 * (50 / 41)"),
        ("20.732 kg", "(850 / 41)"),
    ]
    assert told[2] == [
        ("3.00 kg", ""),
        ("3.658 kg", "((550 / 41)) * 3.00 / 11.00"),
    ]
    assert all(moved.workings[0].entry is not None for moved in sold.movements)


def test_the_percentages_are_told_from_the_sums_of_the_window(world: World) -> None:
    found = average(world)
    lines = why_average(world.shelf, found)

    assert [(line.figure, line.reckoning) for line in lines] == [
        ("130.00 kg", "130.00 - 0.00"),
        ("100.00 kg", "100.00"),
        ("0.769230769…", "100.00 / 130.00"),
        ("30.489 kg", "30.489 - 0.00"),
        ("9.757 kg", "13.415 + (0 - 3.658)"),
        ("0.320017055…", "9.757 / 30.489"),
    ]
    assert found.claimed_part == Fraction(9_757, 30_489)
    assert "part that may be claimed: 0.769230769…" in explained_average(found, lines)


def test_a_lot_rejected_later_takes_off_what_was_certified(world: World) -> None:
    world.record(
        "lot.rejected",
        "2025-02-03",
        lot="L",
        from_on="2025-02-02",
        hold="H",
        reason="mould",
    )
    lines = why_average(world.shelf, average(world))

    assert lines[1].reckoning == "100.00 + (0 - 100.00)"
    assert (lines[2].figure, lines[2].reckoning) == ("0.00", "0.00 / 130.00")
