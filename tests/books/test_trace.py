"""ledger.books.trace: what a trace adds up to, by supplier, contract, customer and way."""

from datetime import date
from fractions import Fraction

import pytest

from ledger.books.effect import Subject, SubjectKind
from ledger.books.genealogy import trace_back, trace_forward
from ledger.books.source import lot_named
from ledger.books.trace import Direction, Trace, TracedLot, Way, totals
from tests.world import World, certified, lot

SALE, BEANS = Subject(SubjectKind.SALE, "X"), Subject(SubjectKind.LOT, "L")


@pytest.fixture
def world() -> World:
    """Of two lots of beans two of liquor; one is sold, alone and then with the other."""
    world = certified()
    world.receive({"L": "60"}, "2025-01-10")
    world.receive({"P": "40"}, "2025-01-10", contract="PLAIN")
    world.make({"L": "30", "P": "30"}, {"M": "60"}, "2025-01-20", form="bean")
    world.make({"M": "20", "L": "10"}, {"N": "30"}, "2025-01-21", form="bean")
    world.sell("X", {"M": "15", "N": "30"}, "2025-02-01")
    world.write_off("M", "5", "2025-02-02")
    return world


def test_goods_traced_back_are_what_was_sold_lot_by_lot(world: World) -> None:
    found = trace_back(world.shelf, SALE)

    assert found.goods == {"M": 15_000, "N": 30_000}
    assert found.grams == 45_000
    assert sum(found.contracts.values()) == sum(found.suppliers.values()) == 45_000
    assert found.contracts == {"C": 7_500 + 10_000 + 10_000, "PLAIN": 17_500}


def test_goods_traced_forward_are_what_came_in(world: World) -> None:
    found = trace_forward(world.shelf, BEANS)

    assert found.goods == {"L": 60_000}
    assert found.customers == {"shop": 7_500 + 20_000}
    assert found.ways == {
        Way.SOLD: 27_500,
        Way.IN_STOCK: 20_000 + 10_000,
        Way.LOST: 0,
        Way.WRITTEN_OFF: 2_500,
    }


def test_a_part_is_of_the_whole_lot(world: World) -> None:
    parts = {one.lot: one.part for one in trace_forward(world.shelf, BEANS).lots}

    assert parts == {"L": 1, "M": Fraction(1, 2), "N": Fraction(2, 3)}


def test_a_rejected_lot_weighs_nothing_and_is_no_part() -> None:
    world = certified()
    away = {"decision": "rejected", "rejected_because": "mould"}
    world.receive([lot("R", "10", **away)])
    found = TracedLot(lot_named(world.shelf, "R", field="lot"), Fraction(5))

    assert found.whole_g == 0
    assert found.part == 0


def test_of_nothing_everything_is_no_share() -> None:
    empty = Trace(Direction.BACK, BEANS, date(2025, 1, 1), Fraction(0), (), (), (), ())

    assert empty.share(Fraction(5)) == 0
    assert (empty.goods, empty.customers) == ({}, {})


def test_totals_are_sorted_by_name() -> None:
    parts = [("b", Fraction(1, 3)), ("a", Fraction(1)), ("b", Fraction(2, 3))]

    assert list(totals(parts)) == ["a", "b"]
    assert totals(parts) == {"a": 1, "b": 1}
