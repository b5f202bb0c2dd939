"""ledger.books.suggested: quantities by the recipe, to the gram, from lots that may go."""

from datetime import date
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.books.lookup import recipe_named
from ledger.books.stock import stock_on
from ledger.books.suggested import Suggestion, Take, parted, suggest, usual_yield
from ledger.trade.words import Step
from tests.world import World, certified

TODAY = date(2025, 6, 1)
MASSES = st.integers(min_value=1, max_value=10**9)
PARTS = st.lists(st.integers(min_value=1, max_value=10**6), min_size=1, max_size=8)


def world(**beans: str) -> World:
    """Beans received, half of each lot ground to liquor; sugar; a recipe of both."""
    made = certified()
    made.record(
        "recipe.published",
        recipe="R70",
        product="a bar",
        valid_from="2025-01-01",
        ingredients=[
            {"commodity": "cocoa", "form": "liquor", "share": "0.7"},
            {"commodity": "sugar", "form": "ingredient", "share": "0.3"},
        ],
    )
    made.record(
        "shipment.received",
        "2025-01-05",
        shipment="sugar",
        supplier="alder",
        lots=[
            {
                "lot": "SU",
                "commodity": "sugar",
                "form": "ingredient",
                "net_landed_kg": "500",
                "net_shipped_kg": "500",
            }
        ],
    )
    for number, (lot, mass) in enumerate(beans.items()):
        made.receive({lot: mass}, f"2025-02-{10 + number}")
        made.record(
            "batch.made",
            f"2025-03-{10 + number}",
            batch=f"grind-{lot}",
            step="grind",
            inputs=[{"lot": lot, "mass_kg": mass}],
            outputs=[{"lot": f"L{lot}", "form": "liquor", "mass_kg": mass}],
        )
    return made


def conche(made: World, batch: str, on: str, gave: str, lost: str) -> None:
    made.record(
        "batch.made",
        on,
        batch=batch,
        step="conche",
        inputs=[{"lot": "LA", "mass_kg": "70"}, {"lot": "SU", "mass_kg": "30"}],
        outputs=[{"lot": batch, "form": "chocolate", "mass_kg": gave, "recipe": "R70"}],
        losses=[{"reason": "moisture", "mass_kg": lost}],
    )


def asked(made: World, wanted_g: int, on: date = TODAY) -> Suggestion:
    return suggest(
        made.shelf,
        recipe_named(made.shelf, "R70", field="recipe"),
        Step.CONCHE,
        wanted_g=wanted_g,
        stock=stock_on(made.shelf, on),
        on=on,
    )


@given(MASSES, PARTS)
def test_parts_sum_to_the_whole_and_none_is_a_gram_off(
    grams: int, weights: list[int]
) -> None:
    shares = [Fraction(weight, sum(weights)) for weight in weights]

    parts = parted(grams, shares)

    assert sum(parts) == grams
    for part, share in zip(parts, shares, strict=True):
        assert abs(part - grams * share) < 1


def test_the_largest_remainders_get_the_grams_that_are_left_over() -> None:
    """Hamilton's method, as in the apportionment of seats: 21, 13 and 6 of 10 parts of 40.

    100 parted 1:2:4 is 14.28, 28.57, 57.14: the one gram left goes to the second.
    """
    shares = [Fraction(1, 7), Fraction(2, 7), Fraction(4, 7)]

    assert parted(100, shares) == [14, 29, 57]


def test_lots_that_lay_longest_come_first_and_are_used_up() -> None:
    made = world(A="50", B="50", C="50")

    found = asked(made, 100_000)

    liquor, sugar = found.ingredients
    assert liquor.takes == (Take("LA", 50_000), Take("LB", 20_000))
    assert sugar.takes == (Take("SU", 30_000),)
    assert (found.taken_g, found.batches, liquor.missing_g) == (100_000, 0, 0)


def test_what_is_short_is_told() -> None:
    found = asked(world(A="50"), 100_000)

    assert [one.missing_g for one in found.ingredients] == [20_000, 0]


def test_the_usual_loss_is_allowed_for() -> None:
    made = world(A="500")
    conche(made, "c1", "2025-04-01", gave="98", lost="2")
    conche(made, "c2", "2025-04-02", gave="97", lost="3")
    conche(made, "later", "2025-06-02", gave="50", lost="50")

    found = asked(made, 390_000)

    assert (found.usual, found.batches) == (Fraction(195, 200), 2)
    assert found.taken_g == 400_000
    assert [one.needed_g for one in found.ingredients] == [280_000, 120_000]


def test_a_batch_made_on_the_day_itself_tells_what_is_usual() -> None:
    made = world(A="500")
    conche(made, "today", str(TODAY), gave="98", lost="2")

    found = asked(made, 98_000)

    assert (found.usual, found.batches, found.taken_g) == (
        Fraction(98, 100),
        1,
        100_000,
    )


def test_another_step_of_the_recipe_does_not_tell_what_is_usual() -> None:
    made = world(A="500")
    conche(made, "c1", "2025-04-01", gave="98", lost="2")
    recipe = recipe_named(made.shelf, "R70", field="recipe")

    assert usual_yield(made.shelf, recipe, Step.TEMPER, TODAY) == (Fraction(1), 0)


def test_a_lot_on_hold_is_not_proposed() -> None:
    made = world(A="50", B="50")
    made.record("hold.placed", "2025-05-01", hold="H", lots=["LA"], reason="smoke")

    assert asked(made, 50_000).ingredients[0].takes == (Take("LB", 35_000),)


@pytest.mark.parametrize(
    ("calls_for", "takes"),
    [
        ({"organic": True}, ()),
        ({"origin": "EC"}, ()),
        ({"grade": "I"}, ()),
        ({}, (Take("LA", 10_000),)),
    ],
)
def test_a_lot_must_be_all_that_the_recipe_calls_for(
    calls_for: dict[str, Any], takes: tuple[Take, ...]
) -> None:
    made = world(A="50")
    made.record(
        "recipe.published",
        recipe="strict",
        product="a bar",
        valid_from="2025-01-01",
        ingredients=[
            {"commodity": "cocoa", "form": "liquor", "share": "1", **calls_for}
        ],
    )

    found = suggest(
        made.shelf,
        recipe_named(made.shelf, "strict", field="recipe"),
        Step.CONCHE,
        wanted_g=10_000,
        stock=stock_on(made.shelf, TODAY),
        on=TODAY,
    )

    assert found.ingredients[0].takes == takes


def test_two_ingredients_of_a_sort_do_not_get_the_same_grams() -> None:
    made = world(A="50")
    made.record(
        "recipe.published",
        recipe="twice",
        product="a bar",
        valid_from="2025-01-01",
        ingredients=[
            {"commodity": "cocoa", "form": "liquor", "share": "0.6"},
            {"commodity": "cocoa", "form": "liquor", "share": "0.4", "organic": False},
        ],
    )

    found = suggest(
        made.shelf,
        recipe_named(made.shelf, "twice", field="recipe"),
        Step.CONCHE,
        wanted_g=60_000,
        stock=stock_on(made.shelf, TODAY),
        on=TODAY,
    )

    assert [one.takes for one in found.ingredients] == [
        (Take("LA", 36_000),),
        (Take("LA", 14_000),),
    ]
    assert [one.missing_g for one in found.ingredients] == [0, 10_000]
