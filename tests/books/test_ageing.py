"""ledger.books.ageing: what came in lately, however it was moved since."""

from datetime import date
from typing import Any

import pytest

from ledger.books.account import Account
from ledger.books.ageing import recent_moves
from ledger.books.effect import Cause
from tests.books.random_ledger import sugar_factor
from tests.world import World, certified, claim, conversions, reject

MILL = Account("fairfield", "cocoa", "mill", "conventional", "all")
ANNEX = Account("fairfield", "cocoa", "annex", "conventional", "all")
FIRST, LAST = date(2025, 2, 1), date(2025, 2, 28)


@pytest.fixture
def world() -> World:
    """Sixty kilograms of January, forty of February, and two of March."""
    world = certified(
        account={"transfers": ["between sites"]},
        commodities=["cocoa", "sugar"],
        conversions=[*conversions(), sugar_factor()],
    )
    world.receive({"OLD": "60"}, "2025-01-10")
    world.receive({"NEW": "40"}, "2025-02-10")
    world.receive({"LATE": "2"}, "2025-03-01")
    return world


def move(
    world: World,
    kg: str,
    on: str,
    site: str = "mill",
    **more: Any,  # noqa: ANN401
) -> int:
    other = {"mill": "annex", "annex": "mill"}[site]
    body = {
        "transfer": f"T{len(world.raws)}",
        "scheme": "fairfield",
        "beans_kg": kg,
        "from_": {"site": site},
        "to": {"site": other},
        "reason": "?",
    }
    return world.record("claim.transferred", on, **body | more)


def recent(world: World, account: Account = MILL, last: date = LAST) -> int:
    moves = recent_moves(world.shelf, account.tally, FIRST, last)
    return sum(move.recent_g for move in moves)


def test_without_moves_it_is_what_receipts_of_the_days_added(world: World) -> None:
    assert recent(world) == 40_000
    assert recent(world, last=date(2025, 3, 1)) == 42_000


def test_sales_take_nothing_from_what_is_recent(world: World) -> None:
    world.sell("X", {"NEW": "30"}, "2025-02-11", claim())

    assert recent(world) == 40_000


def test_the_oldest_is_moved_first(world: World) -> None:
    move(world, "60", "2025-02-20")

    assert (recent(world), recent(world, ANNEX)) == (40_000, 0)


@pytest.mark.parametrize(("kg", "grams"), [("60.001", 1), ("75", 15_000)])
def test_what_is_moved_beyond_the_old_is_recent_on_both_sides(
    world: World, kg: str, grams: int
) -> None:
    move(world, kg, "2025-02-20")

    assert recent(world) == 40_000 - grams
    assert recent(world, ANNEX) == grams


def test_there_and_back_makes_nothing_younger(world: World) -> None:
    move(world, "80", "2025-02-20")
    move(world, "80", "2025-02-21", "annex")

    assert (recent(world), recent(world, ANNEX)) == (40_000, 0)


def test_what_was_sold_before_was_the_oldest(world: World) -> None:
    """Of sixty old kilograms ten are left when fifteen move: five of them are recent."""
    world.sell("X", {"OLD": "50"}, "2025-02-11", claim())
    move(world, "15", "2025-02-20")

    assert (recent(world), recent(world, ANNEX)) == (35_000, 5_000)


def test_two_moves_add_up_where_they_go(world: World) -> None:
    move(world, "70", "2025-02-20")
    move(world, "10", "2025-02-21")

    assert (recent(world), recent(world, ANNEX)) == (20_000, 20_000)


def test_days_outside_count_neither_way(world: World) -> None:
    """What moved in January is old, and what moves in March has not moved yet."""
    move(world, "30", "2025-01-15")
    move(world, "65", "2025-03-02")

    assert (recent(world), recent(world, ANNEX)) == (40_000, 0)


def test_what_moves_under_one_scheme_and_commodity_is_followed_alone(
    world: World,
) -> None:
    """Sugar that moves leaves cocoa as it is, and the other way round."""
    world.sign("S", "alder", claim(), commodity="sugar", form="ingredient")
    world.receive({"SUGAR": "10"}, "2025-02-10", contract="S")
    move(world, "75", "2025-02-20")
    move(world, "10", "2025-02-20", commodity="sugar")
    sugar = Account("fairfield", "sugar", "annex", "conventional", "all")

    assert (recent(world, ANNEX), recent(world, sugar)) == (15_000, 10_000)


def test_each_move_is_told_with_how_much_of_it_was_recent(world: World) -> None:
    slot = move(world, "75", "2025-02-20")

    [came] = recent_moves(world.shelf, ANNEX.tally, FIRST, LAST)
    assert (came.movement.slot, came.recent_g) == (slot, 15_000)
    assert came.on_the_way == (15_000, 75_000)
    received, went = recent_moves(world.shelf, MILL.tally, FIRST, LAST)
    assert (received.movement.cause, received.recent_g) == (Cause.RECEIVED, 40_000)
    assert (went.recent_g, went.on_the_way) == (-15_000, None)


def test_a_receipt_that_no_longer_counts_is_not_recent_either(world: World) -> None:
    reject(world, "NEW", "2025-02-15")
    assert recent(world) == 0
    move(world, "50", "2025-02-20")

    assert (recent(world), recent(world, ANNEX)) == (0, 0)


def test_parted_grams_are_shared_out_rounded_down(world: World) -> None:
    """Of what is parted a third is recent; each form gets its third, to the gram."""
    world = certified(
        joint_outputs=[
            {
                "of": "liquor",
                "outputs": [
                    {"form": "butter", "share": "0.5"},
                    {"form": "powder", "share": "0.5"},
                ],
                "valid_from": "2018-01-01",
                "source": "an invented standard",
            }
        ]
    )
    world.receive({"OLD": "8"}, "2025-01-10")
    world.receive({"NEW": "4"}, "2025-02-10")
    world.make({"OLD": "4"}, {"B": "4"}, "2025-02-11", form="butter")
    world.sell("X", {"B": "4"}, "2025-02-12", claim())
    powder = Account("fairfield", "cocoa", "mill", "conventional", "all", form="powder")

    assert world.account() == 2_000
    assert recent(world) == 2_000
    assert recent(world, powder) == 1_000


def test_a_form_that_gets_no_whole_gram_carries_no_age() -> None:
    """Of three grams powder gets a tenth, which is none, and butter two."""
    outputs = [{"form": "powder", "share": "0.1"}, {"form": "butter", "share": "0.9"}]
    split = {
        "of": "liquor",
        "outputs": outputs,
        "valid_from": "2018-01-01",
        "source": "s",
    }
    world = certified(joint_outputs=[split])
    world.receive({"L": "1"}, "2025-02-10")
    world.make({"L": "0.001"}, {"B": "0.001"}, "2025-02-11", form="butter")
    world.sell("X", {"B": "0.001"}, "2025-02-12", claim())
    butter = Account("fairfield", "cocoa", "mill", "conventional", "all", form="butter")

    assert world.account() == 997
    assert (recent(world), recent(world, butter)) == (997, 2)
