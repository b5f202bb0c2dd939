"""Measured yields and control limits, against published worked examples."""

import statistics
from datetime import date
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.books.yield_ratio import ControlLimits, control_limits, yield_series
from ledger.trade.words import Step
from tests.books.making_world import MakingWorld, batch_body, day

FLOWRATE = "49.6 47.6 49.9 51.3 47.8 51.2 52.6 52.4 53.6 52.1"
"""Ten batches of the handbook's example, in 6.3.2.2."""
CONCENTRATION = (
    "102.0 94.8 98.3 98.4 102.0 98.5 99.0 97.7 100.0 98.1 "
    "101.3 98.7 101.1 98.4 97.0 96.7 100.3 101.4 97.2 101.0"
)
"""Table 16-3 of the textbook."""


def limits_of(values: str) -> ControlLimits:
    found = control_limits([Fraction(value) for value in values.split()])
    assert found is not None
    return found


def test_limits_are_those_of_the_handbook() -> None:
    """NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, Individuals Control Charts.

    Mean 50.81, mean moving range 1.8778, limits 45.8159 and 55.8041.
    """
    found = limits_of(FLOWRATE)

    assert found.mean == Fraction("50.81")
    assert round(float(found.mean_range), 4) == 1.8778
    assert abs(found.lower - Fraction("45.8159")) < Fraction("0.0001")
    assert abs(found.upper - Fraction("55.8041")) < Fraction("0.0001")


def test_limits_are_those_of_a_textbook() -> None:
    """Mean 99.1, mean range 2.59, limits 92.21 and 105.99.

    D. C. Montgomery and G. C. Runger, Applied Statistics and Probability for Engineers,
    example 16-2 and table 16-3 (authors and title from memory).
    """
    found = limits_of(CONCENTRATION)

    assert round(float(found.mean), 1) == 99.1
    assert round(float(found.mean_range), 2) == 2.59
    assert abs(found.lower - Fraction("92.21")) < Fraction("0.02")
    assert abs(found.upper - Fraction("105.99")) < Fraction("0.02")


@given(st.lists(st.fractions(0, 1, max_denominator=1000), min_size=2, max_size=30))
def test_limits_agree_with_plain_statistics_in_floating_point(
    values: list[Fraction],
) -> None:
    """The mean of the standard library, and 2.66 mean moving ranges (3 / 1.128)."""
    found = control_limits(values)
    assert found is not None

    floats = [float(value) for value in values]
    moving = [abs(b - a) for a, b in pairwise(floats)]
    reach = 3 / 1.128 * statistics.fmean(moving)
    assert float(found.mean) == pytest.approx(statistics.fmean(floats))
    assert float(found.upper) == pytest.approx(statistics.fmean(floats) + reach)
    assert found.mean - found.lower == found.upper - found.mean


@pytest.mark.parametrize("values", [[], [Fraction(1)]])
def test_fewer_than_two_batches_have_no_limits(values: list[Fraction]) -> None:
    assert control_limits(values) is None


def test_a_value_on_a_limit_is_within_it() -> None:
    found = limits_of("1 2")

    assert found.holds(found.lower)
    assert found.holds(found.upper)
    assert not found.holds(found.upper + Fraction(1, 10**9))


def roasted(yields_g: list[int]) -> MakingWorld:
    """One batch of 1,000 g a day, each giving some grams."""
    world = MakingWorld()
    world.receive({"A": 1_000_000})
    for place, given_g in enumerate(yields_g):
        world.make({"A": 1_000}, {f"R{place}": given_g}, on=place + 1, step="roast")
    return world


def test_batches_of_one_kind_stand_in_the_order_of_time_with_their_entries() -> None:
    world = roasted([950, 960, 940])

    [series] = yield_series(world.shelf, since=day(0), until=day(99))

    assert (series.step, series.equipment, series.recipes) == (Step.ROAST, None, ())
    assert [one.ratio for one in series.measured] == [
        Fraction(19, 20),
        Fraction(24, 25),
        Fraction(47, 50),
    ]
    entries = [one.recorded.seq for one in series.measured]
    assert entries == sorted(entries)
    assert series.ratio == Fraction(19, 20)


def test_a_batch_far_from_the_others_is_outside() -> None:
    world = roasted([950, 951, 949, 950, 951, 949, 950, 800, 951, 950, 949])

    [series] = yield_series(world.shelf, since=day(0), until=day(99))

    assert [one.batch.batch for one in series.outside] == ["B-8"]


def test_the_window_holds_its_first_and_its_last_day() -> None:
    world = roasted([950, 951, 949, 950])

    [series] = yield_series(world.shelf, since=day(2), until=day(3))

    assert [one.recorded.occurred_on for one in series.measured] == [day(2), day(3)]
    assert yield_series(world.shelf, since=date(2000, 1, 1), until=day(0)) == ()


def test_equipment_and_recipe_tell_kinds_apart() -> None:
    world = MakingWorld()
    world.receive({"A": 10_000})
    for place, (step, equipment, about) in enumerate(
        (
            ("roast", "drum", {}),
            ("roast", "oven", {}),
            ("conche", "drum", {"form": "chocolate", "recipe": "dark"}),
            ("conche", "drum", {}),
        )
    ):
        body = batch_body(
            f"B{place}", {"A": 100}, {f"X{place}": 90}, step=step, about=about
        )
        world.record("batch.made", {**body, "equipment": equipment}, 1)

    found = yield_series(world.shelf, since=day(0), until=day(9))

    assert [(one.step, one.equipment, one.recipes) for one in found] == [
        (Step.ROAST, "drum", ()),
        (Step.ROAST, "oven", ()),
        (Step.CONCHE, "drum", ()),
        (Step.CONCHE, "drum", ("dark",)),
    ]


def test_a_corrected_batch_counts_as_corrected() -> None:
    world = roasted([950])
    wrong = world.seq - 1
    world.record(
        "correction",
        {
            "target": wrong,
            "reason": "weighed again",
            "replacement": {
                "entry_kind": "batch.made",
                "occurred_on": str(day(1)),
                "body": batch_body("B-1", {"A": 1_000}, {"R0": 960}, step="roast"),
            },
        },
        2,
    )

    [series] = yield_series(world.shelf, since=day(0), until=day(9))

    assert series.ratio == Fraction(24, 25)
