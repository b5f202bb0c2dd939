"""ledger.books.source: what a lot consists of, exact, however deep the chain."""

from fractions import Fraction

import pytest
from hypothesis import given, settings

from ledger.books.effect import Edge
from ledger.books.finding import EntryRefusedError
from ledger.books.source import (
    MadeLot,
    SourceLot,
    composition,
    edges_upstream,
    lot_named,
    passing,
)
from tests.books.making_world import MakingWorld, deep_tank
from tests.books.random_making import Floor, floors


def test_a_received_lot_consists_of_itself() -> None:
    world = MakingWorld()
    world.receive({"A": 1000})

    assert composition(world.shelf, "A") == {"A": 1}


def test_a_blend_has_the_shares_of_what_went_in() -> None:
    world = MakingWorld()
    world.receive({"A": 1000, "B": 500})
    world.make({"A": 600, "B": 200}, {"T": 790})

    assert composition(world.shelf, "T") == {"A": Fraction(3, 4), "B": Fraction(1, 4)}


def test_every_output_of_a_batch_has_the_same_shares() -> None:
    world = MakingWorld()
    world.receive({"A": 1000, "B": 500})
    world.make({"A": 600, "B": 300}, {"T": 700, "U": 5})

    assert composition(world.shelf, "U") == composition(world.shelf, "T")


def test_a_part_bag_counts_by_what_was_taken_of_it() -> None:
    world = MakingWorld()
    world.receive({"A": 65_000, "B": 65_000})
    world.make({"A": 13_000, "B": 39_000}, {"T": 50_000})

    assert composition(world.shelf, "T") == {"A": Fraction(1, 4), "B": Fraction(3, 4)}


def test_rework_brings_its_own_shares() -> None:
    world = MakingWorld()
    world.receive({"A": 1000, "B": 1000})
    world.make({"A": 500, "B": 500}, {"BAR": 1000}, on=1)
    world.make({"BAR": 200, "A": 200}, {"T": 400}, on=2)

    assert composition(world.shelf, "T") == {"A": Fraction(3, 4), "B": Fraction(1, 4)}


def test_a_lot_that_reaches_another_by_two_ways_counts_once_for_each() -> None:
    world = MakingWorld()
    world.receive({"A": 1000, "B": 1000})
    world.make({"A": 300}, {"N": 300}, on=1)
    world.make({"N": 100, "A": 100, "B": 200}, {"T": 400}, on=2)

    assert composition(world.shelf, "T") == {"A": Fraction(1, 2), "B": Fraction(1, 2)}


@settings(deadline=None)
@given(floors())
def test_shares_equal_those_of_a_naive_computation(floor: Floor) -> None:
    for lot in floor.lots:
        found = composition(floor.world.shelf, lot)

        assert found == floor.naive_shares(lot)
        assert sum(found.values()) == 1


def test_a_tank_never_cleaned_is_followed_three_thousand_fills_deep() -> None:
    found = composition(deep_tank().shelf, "T3000")

    assert sum(found.values()) == 1
    assert 0 < found["A"] < Fraction(1, 2**3_000)


def test_the_shelf_is_asked_once_for_each_generation() -> None:
    world = MakingWorld()
    world.receive({"A": 1000, "B": 1000})
    world.make({"A": 300, "B": 300}, {"N": 300, "O": 300}, on=1)
    world.make({"N": 100, "O": 100}, {"T": 200}, on=2)

    found = edges_upstream(world.shelf, ["T"])

    assert found["T"] == [Edge("N", "T", 100), Edge("O", "T", 100)]
    assert found["O"] == [Edge("A", "O", 300), Edge("B", "O", 300)]
    assert found["A"] == []
    assert found.keys() == {"T", "N", "O", "A", "B"}


def test_goods_that_went_into_other_goods_count_with_what_came_through_them() -> None:
    into = {"T": [Edge("N", "T", 3), Edge("A", "T", 1)], "N": [], "A": []}
    goods = {"T": Fraction(8), "N": Fraction(5)}

    assert dict(passing(into, goods)) == {"T": 8, "N": 5 + 6, "A": 2}


def test_a_received_lot_says_what_its_contract_says() -> None:
    world = MakingWorld()
    world.receive({"A": 1000}, seller="south")

    found = lot_named(world.shelf, "A", field="lot")

    assert isinstance(found, SourceLot)
    assert (found.supplier, found.contract, found.origin) == ("south", "C-south", "PE")


def test_a_made_lot_says_which_batch_gave_it() -> None:
    world = MakingWorld()
    world.receive({"A": 1000})
    world.make({"A": 1000}, {"T": 1000})

    found = lot_named(world.shelf, "T", field="lot")

    assert isinstance(found, MadeLot)
    assert (found.made.batch, found.form) == ("B-1", "liquor")


def test_an_unknown_lot_is_refused_by_name() -> None:
    with pytest.raises(EntryRefusedError, match="names lot X, which is not recorded"):
        lot_named(MakingWorld().shelf, "X", field="lot")


def test_a_voided_batch_leaves_no_trace() -> None:
    world = MakingWorld()
    world.receive({"A": 1000})
    batch = world.make({"A": 1000}, {"T": 1000})
    world.void(batch)

    assert edges_upstream(world.shelf, ["T"]) == {"T": []}
    with pytest.raises(EntryRefusedError, match="lot T, which is not recorded"):
        lot_named(world.shelf, "T", field="lot")
