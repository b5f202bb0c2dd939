"""How much a factor flatters: beans really used against what the terms count."""

from datetime import date
from fractions import Fraction

from ledger.books.flattery import Flattery, beans_taken, flatteries
from ledger.trade.words import Form
from tests.world import World, certified, conversions

SINCE, UNTIL = date(2025, 1, 1), date(2025, 12, 31)


def ground(*, roast: str, winnow: str, grind: str, factor: str = "1.25") -> World:
    """100 kg of beans, through roaster, winnower and mill, to so many kilograms each."""
    world = certified(conversions=conversions(liquor=factor))
    world.receive({"L": "1000"})
    steps = (
        ("L", "100.000", "R", roast, "roast", "roasted bean", "moisture"),
        ("R", roast, "N", winnow, "winnow", "nib", "shell"),
        ("N", winnow, "Q", grind, "grind", "liquor", "waste"),
    )
    for source, taken, target, given, step, form, reason in steps:
        lost = f"{float(taken) - float(given):.3f}"
        world.make(
            {source: taken},
            {target: given},
            losses={reason: lost},
            step=step,
            form=form,
        )
    return world


def of_liquor(world: World) -> Flattery:
    return next(
        one
        for one in flatteries(world.shelf, since=SINCE, until=UNTIL)
        if one.form is Form.LIQUOR
    )


def test_losses_of_a_small_maker_against_the_tabulated_factor() -> None:
    """2 per cent in roasting, 20 in winnowing, 3 in grinding leave 76.048 kg of 100.

    Losses as a maker's page reports them (chocolatealchemy.com, 30); the factor 1.25 as
    the International Cocoa Organization's, which would expect 80 kg.
    """
    found = of_liquor(ground(roast="98", winnow="78.4", grind="76.048"))

    assert found.measured == Fraction(100) / Fraction("76.048")
    assert found.flatters
    assert found.short_g == 100_000 - Fraction("76.048") * 1250
    assert round(float(found.percent), 2) == 5.20


def test_a_fixed_yield_of_82_per_cent_flatters_by_more() -> None:
    """A published rule set fixes beans to liquor at 82 per cent (guidance of June 2016)."""
    tabulated = ground(roast="98", winnow="78.4", grind="76.048", factor="1.219512")

    assert round(float(of_liquor(tabulated).percent), 1) == 7.8


def test_a_factor_that_counts_enough_does_not_flatter() -> None:
    found = of_liquor(ground(roast="98", winnow="85", grind="80"))

    assert found.measured == Fraction(5, 4)
    assert not found.flatters
    assert found.percent == 0


def test_losses_are_borne_by_all_that_a_batch_gives() -> None:
    world = certified()
    world.receive({"L": "1000"})
    world.make({"L": "100"}, {"Q1": "60", "Q2": "20"}, losses={"shell": "20"})

    taken = beans_taken(world.shelf, ["Q1", "Q2"])

    assert (taken["Q1"], taken["Q2"]) == (Fraction(5, 4), Fraction(5, 4))


def test_what_is_mixed_with_anything_but_beans_is_left_out_and_named() -> None:
    world = ground(roast="98", winnow="78.4", grind="76.048")
    world.receive(
        [
            {
                "lot": "BOUGHT",
                "form": "nib",
                "net_shipped_kg": "10",
                "net_landed_kg": "10",
            }
        ]
    )
    world.make({"BOUGHT": "10"}, {"Q9": "10"}, step="grind")

    found = of_liquor(world)

    assert found.left_out == ("Q9",)
    assert found.made_g == 76_048


def test_moving_liquor_from_tank_to_tank_is_no_new_liquor() -> None:
    world = ground(roast="98", winnow="78.4", grind="76.048")
    world.make({"Q": "76.048"}, {"T": "76.048"}, step="tank")

    assert of_liquor(world).made_g == 76_048


def test_outside_the_window_nothing_is_compared() -> None:
    world = ground(roast="98", winnow="78.4", grind="76.048")

    assert flatteries(world.shelf, since=date(2026, 1, 1), until=date(2026, 2, 1)) == ()


def test_a_form_without_a_factor_in_the_terms_is_not_compared() -> None:
    row = {
        "form": "bean",
        "factor": "1",
        "valid_from": "2023-01-01",
        "source": "a table",
    }
    world = certified(conversions=[row])
    world.receive({"L": "100"})
    world.make({"L": "100"}, {"Q": "80"}, losses={"shell": "20"})

    assert flatteries(world.shelf, since=SINCE, until=UNTIL) == ()


def test_the_first_and_the_last_day_of_the_window_are_in_it() -> None:
    world = ground(roast="98", winnow="78.4", grind="76.048")
    [made] = {batch.occurred_on for batch in world.shelf.of_kind("batch.made")}

    [liquor] = [
        one
        for one in flatteries(world.shelf, since=made, until=made)
        if one.form is Form.LIQUOR
    ]
    assert liquor.measured == Fraction(100) / Fraction("76.048")
