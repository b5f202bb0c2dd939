"""ledger.books.making: batches, and what happens to lots outside batches."""

from typing import Any

import pytest

from ledger.books.finding import EntryRefusedError
from tests.world import World, batch_body, certified, claim, lot, refused

MADE = "2025-01-20"


@pytest.fixture
def world() -> World:
    """A hundred kilograms of certified beans, lot L."""
    world = certified()
    world.receive({"L": "100"}, "2025-01-10")
    return world


def recipe(world: World, name: str = "dark", valid_from: str = "2025-02-01") -> int:
    return world.record(
        "recipe.published",
        recipe=name,
        product="Dark 70",
        valid_from=valid_from,
        ingredients=[
            {"commodity": "cocoa", "form": "liquor", "share": "0.7"},
            {"commodity": "sugar", "form": "ingredient", "share": "0.3"},
        ],
    )


def test_a_batch_takes_from_its_inputs_and_gives_its_outputs(world: World) -> None:
    world.make({"L": "60"}, {"M": "40", "N": "8"}, losses={"shell": "12"})

    assert [world.stock(name) for name in "LMN"] == [40_000, 40_000, 8_000]


@pytest.mark.parametrize("taken", ["99.999", "100"])
def test_a_lot_gives_up_to_what_it_has(world: World, taken: str) -> None:
    world.make({"L": taken}, {"M": taken})

    assert world.stock("L") == 100_000 - round(float(taken) * 1000)


def test_a_lot_cannot_give_a_gram_more_than_it_has(world: World) -> None:
    with pytest.raises(
        EntryRefusedError, match=r"lot L would be 0\.001 kg below zero on 2025-01-20"
    ):
        world.make({"L": "100.001"}, {"M": "100.001"})


def test_a_lot_cannot_give_before_it_came(world: World) -> None:
    with refused("stock-below-zero"):
        world.make({"L": "1"}, {"M": "1"}, "2025-01-09")


def test_a_batch_dated_back_may_not_take_what_was_used_since(world: World) -> None:
    world.make({"L": "80"}, {"M": "80"}, "2025-01-25")

    with pytest.raises(EntryRefusedError, match=r"0\.001 kg below zero on 2025-01-25"):
        world.make({"L": "20.001"}, {"N": "20.001"}, MADE)


def test_within_a_day_goods_are_used_after_they_are_recorded(world: World) -> None:
    """Stock counts as recorded on one day, whatever the terms say of accounts."""
    world.make({"L": "10"}, {"M": "10"}, MADE)
    world.make({"M": "10"}, {"N": "10"}, MADE)

    assert (world.stock("M"), world.stock("N")) == (0, 10_000)


@pytest.mark.parametrize("form", ["chocolate", "couverture", "bar"])
def test_a_composite_lot_needs_the_recipe_it_was_made_to(
    world: World, form: str
) -> None:
    with refused("recipe-missing"):
        world.make({"L": "1"}, {"M": "1"}, form=form)


@pytest.mark.parametrize("on", ["2025-02-01", "2025-02-02"])
def test_a_recipe_may_be_made_from_its_first_day_on(world: World, on: str) -> None:
    recipe(world)
    world.make({"L": "1"}, {"M": "1"}, on, form="bar", recipe="dark")

    assert world.stock("M") == 1000


def test_a_recipe_may_not_be_made_before_its_first_day(world: World) -> None:
    recipe(world)

    with refused("recipe-not-yet-valid"):
        world.make({"L": "1"}, {"M": "1"}, "2025-01-31", form="bar", recipe="dark")


def test_what_a_batch_names_must_be_recorded(world: World) -> None:
    with refused("unknown-recipe"):
        world.make({"L": "1"}, {"M": "1"}, form="bar", recipe="none")
    with refused("unknown-lot"):
        world.make({"none": "1"}, {"M": "1"})
    with refused("name-taken"):
        world.make({"L": "1"}, {"L2": "1"}, batch="B")
        world.make({"L": "1"}, {"L3": "1"}, batch="B")


def hold(world: World, on: str, name: str = "H", lots: list[str] | None = None) -> int:
    return world.record(
        "hold.placed", on, hold=name, lots=lots or ["L"], reason="query"
    )


def release(world: World, on: str, name: str = "H") -> int:
    return world.record("hold.released", on, hold=name, reason="cleared")


HELD_FROM, HELD_UNTIL = "2025-02-01", "2025-03-01"
MOVES: dict[str, dict[str, Any]] = {
    "lot.moved": {"lot": "L", "to_place": "rack"},
    "batch.made": {
        "batch": "B",
        "step": "roast",
        "inputs": [{"lot": "L", "mass_kg": "1"}],
        "outputs": [{"lot": "M", "mass_kg": "1", "form": "roasted bean"}],
    },
    "sale.dispatched": {
        "sale": "X",
        "document": "invoice",
        "customer": "shop",
        "lines": [{"lot": "L", "mass_kg": "1"}],
    },
}


@pytest.mark.parametrize("kind", MOVES)
@pytest.mark.parametrize("on", [HELD_FROM, "2025-02-28"])
def test_a_lot_on_hold_may_not_move(world: World, kind: str, on: str) -> None:
    hold(world, HELD_FROM)
    release(world, HELD_UNTIL)

    with refused("lot-on-hold"):
        world.record(kind, on, **MOVES[kind])


@pytest.mark.parametrize("kind", MOVES)
@pytest.mark.parametrize("on", ["2025-01-31", HELD_UNTIL, "2025-04-01"])
def test_a_lot_may_move_before_a_hold_and_from_its_release(
    world: World, kind: str, on: str
) -> None:
    hold(world, HELD_FROM)
    release(world, HELD_UNTIL)

    world.record(kind, on, **MOVES[kind])


def test_a_hold_that_was_not_released_has_no_end(world: World) -> None:
    hold(world, HELD_FROM)

    with refused("lot-on-hold"):
        world.make({"L": "1"}, {"M": "1"}, "2029-01-01")


def test_one_released_hold_does_not_release_another(world: World) -> None:
    hold(world, HELD_FROM)
    hold(world, HELD_FROM, "H2")
    release(world, HELD_UNTIL)

    with pytest.raises(EntryRefusedError, match="under hold H2"):
        world.make({"L": "1"}, {"M": "1"}, "2025-03-02")


def test_a_hold_dated_back_does_not_undo_what_was_recorded_before_it(
    world: World,
) -> None:
    """A sale of beans that are held afterwards is a fact; correcting it must be possible.

    A correction judges again whatever rests on what it corrects.
    """
    receipt = len(world.raws) - 1
    world.make({"L": "1"}, {"M": "1"}, "2025-02-10")
    hold(world, HELD_FROM)
    world.replace(receipt, lots=[lot("L", "100", "99")])

    assert world.stock("L") == 98_000
    with refused("lot-on-hold"):
        world.make({"L": "1"}, {"N": "1"}, "2025-02-10")


def test_a_hold_may_not_end_before_it_began(world: World) -> None:
    hold(world, HELD_FROM)

    with refused("release-before-hold"):
        release(world, "2025-01-31")
    release(world, HELD_FROM)


def test_holds_and_moves_name_what_is_recorded(world: World) -> None:
    with refused("unknown-lot"):
        hold(world, HELD_FROM, lots=["none"])
    with refused("unknown-hold"):
        release(world, HELD_FROM, "none")
    with refused("unknown-lot"):
        world.record("lot.moved", lot="none", to_place="rack")
    with refused("unknown-site"):
        world.record("lot.moved", lot="L", to_place="rack", to_site="barn")
    with refused("unknown-lot"):
        world.record("lot.counted", lot="none", found_kg="1", counted_by="me")
    with refused("unknown-lot"):
        world.write_off("none", "1", MADE)


@pytest.mark.parametrize(
    ("found", "flagged"), [("79.999", True), ("80", False), ("80.001", True)]
)
def test_a_count_that_differs_from_the_book_is_flagged(
    world: World, found: str, *, flagged: bool
) -> None:
    world.make({"L": "20"}, {"M": "20"}, MADE)
    world.record("lot.counted", MADE, lot="L", found_kg=found, counted_by="me")

    assert world.rules == (["count-differs"] if flagged else [])
    assert world.stock("L") == 80_000


def test_a_count_is_compared_with_the_book_of_its_day(world: World) -> None:
    world.make({"L": "20"}, {"M": "20"}, MADE)
    world.record("lot.counted", "2025-01-19", lot="L", found_kg="100", counted_by="me")

    assert not world.rules


def test_what_is_written_off_takes_its_certified_content_with_it(world: World) -> None:
    world.make({"L": "60"}, {"M": "48"}, losses={"shell": "12"})
    world.write_off("M", "8", "2025-02-01")

    assert world.stock("M") == 40_000
    assert world.account() == 90_000


def test_what_is_written_off_of_other_goods_takes_nothing(world: World) -> None:
    world.receive({"P": "50"}, contract="PLAIN")
    world.write_off("P", "50", "2025-02-01")

    assert world.account() == 100_000


def test_of_a_blend_the_certified_part_is_written_off(world: World) -> None:
    """A quarter of the blend is certified: 12 kg of liquor stand for 15, of it 3.75."""
    world.receive({"P": "75"}, contract="PLAIN")
    world.make({"L": "25", "P": "75"}, {"M": "80"}, losses={"shell": "20"})
    world.write_off("M", "12", "2025-02-01")

    assert world.account() == 96_250


def test_a_draw_of_a_part_of_a_gram_is_rounded_up(world: World) -> None:
    """0.001 kg of liquor stands for 1.25 g of beans: two grams are drawn."""
    world.make({"L": "1"}, {"M": "1"})
    world.write_off("M", "0.001", "2025-02-01")

    assert world.account() == 99_998


def test_a_loss_is_recorded_even_if_all_was_claimed_already(world: World) -> None:
    """Claimed are other goods, in mass balance; then certified beans are spoilt.

    The loss is a fact. It leaves the account short, which is a breach, not a refusal.
    """
    world.receive({"P": "100"}, contract="PLAIN")
    world.sell("X", {"P": "100"}, "2025-02-01", claim())
    world.write_off("L", "10", "2025-02-02")

    assert world.rules == ["breach-opened"]
    assert (world.stock("L"), world.account()) == (90_000, -10_000)


def test_more_cannot_be_written_off_than_there_is(world: World) -> None:
    world.write_off("L", "100", "2025-02-01")

    with refused("stock-below-zero"):
        world.write_off("L", "0.001", "2025-02-01")


def test_a_batch_is_made_at_a_site_of_the_maker() -> None:
    world = certified()
    world.receive({"L": "10"})
    body = batch_body("B", {"L": "1"}, {"M": "1"})

    with refused("unknown-site"):
        world.record("batch.made", "2025-01-20", **body, site="moon")
    world.record("batch.made", "2025-01-20", **body, site="annex")
    assert world.stock("M") == 1_000
