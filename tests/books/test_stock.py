"""ledger.books.stock: what is on hand on a date, where it lies, how many pieces."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.books.stock import OnHand, grams_by_form, stock_of, stock_on
from ledger.errors import NotFoundError
from ledger.trade.words import Form
from tests.books.making_world import MakingWorld, day
from tests.books.random_making import Floor, floors


def held(world: MakingWorld, lot: str, on: int = 30) -> OnHand:
    [found] = [found for found in stock_on(world.shelf, day(on)) if found.lot == lot]
    return found


def bars(grams: int = 1_000, **about: str) -> MakingWorld:
    """A world with a lot of bars, ten of 100 g."""
    world = MakingWorld()
    world.receive({"A": 2_000})
    told: dict[str, str | int] = {
        "form": "bar",
        "recipe": "dark",
        "pieces": 10,
        **about,
    }
    world.make({"A": 1_000}, {"BAR": grams}, step="mould", about=told)
    return world


@settings(deadline=None)
@given(floors(), st.integers(0, 12))
def test_stock_on_any_date_equals_a_plain_sum(floor: Floor, on: int) -> None:
    found = {lot.lot: lot.grams for lot in stock_on(floor.world.shelf, day(on))}

    assert found == {lot: grams for lot, grams in floor.left(on).items() if grams}


@settings(deadline=None)
@given(floors())
def test_what_came_in_less_what_went_out_is_on_hand(floor: Floor) -> None:
    """Opening plus incoming less outgoing is closing.

    Source: the mass-balance exercise of an organic inspection, 7 CFR 205.403(d)(4).
    """
    incoming = sum(floor.received.values())
    lost = sum(sum(i.values()) - sum(o.values()) for i, o in floor.batches)
    sold = sum(floor.sold.values()) - sum(floor.returned.values())
    outgoing = lost + sold + sum(floor.gone.values())
    stock = stock_on(floor.world.shelf, day(99))

    assert sum(lot.grams for lot in stock) == incoming - outgoing
    assert sum(grams_by_form(stock).values()) == incoming - outgoing


def test_a_received_lot_is_where_the_receipt_put_it() -> None:
    world = MakingWorld()
    world.receive({"A": 1_000}, on=2)

    assert stock_on(world.shelf, day(1)) == ()
    assert stock_on(world.shelf, day(2)) == (
        OnHand("A", 1_000, Form.BEAN, "bean-store", "works", day(2)),
    )


def test_a_lot_used_up_is_no_longer_listed() -> None:
    world = MakingWorld()
    world.receive({"A": 1_000})
    world.make({"A": 1_000}, {"T": 1_000}, on=5)

    assert [lot.lot for lot in stock_on(world.shelf, day(4))] == ["A"]
    assert [lot.lot for lot in stock_on(world.shelf, day(5))] == ["T"]


def test_of_one_lot_what_is_left_is_told_and_nothing_once_it_is_used_up() -> None:
    world = MakingWorld()
    world.receive({"A": 1_000})
    world.make({"A": 1_000}, {"T": 1_000}, on=5)

    assert [lot.grams for lot in stock_of(world.shelf, "A", day(4))] == [1_000]
    assert stock_of(world.shelf, "A", day(5)) == ()


def test_a_lot_that_is_not_recorded_is_named_with_the_way_to_find_it() -> None:
    with pytest.raises(
        NotFoundError, match="no lot ghost is recorded; check the number, or list"
    ):
        stock_of(MakingWorld().shelf, "ghost", day(1))


def test_the_last_move_up_to_the_date_says_where_a_lot_is() -> None:
    world = bars(place="rack-1")
    world.move("BAR", "shelf", site="shop", on=6)
    world.move("BAR", "till", on=8)
    world.move("BAR", "rack-2", on=4)

    places = {
        on: (held(world, "BAR", on).place, held(world, "BAR", on).site)
        for on in (
            1,
            4,
            6,
            8,
        )
    }

    assert places == {
        1: ("rack-1", "works"),
        4: ("rack-2", "works"),
        6: ("shelf", "shop"),
        8: ("till", "shop"),
    }


def test_of_two_moves_on_one_day_the_one_recorded_last_counts() -> None:
    world = bars()
    world.move("BAR", "here", on=6)
    world.move("BAR", "there", on=6)

    assert held(world, "BAR").place == "there"


def test_a_lot_put_nowhere_has_no_place() -> None:
    assert held(bars(), "BAR").place is None


def test_hold_and_best_before_stand_beside_the_lot() -> None:
    world = bars(best_before="2025-01-31")
    world.hold("H", ["BAR"], on=4)

    assert held(world, "BAR", 3).hold is None
    assert held(world, "BAR", 4).hold == "H"
    assert str(held(world, "BAR").best_before) == "2025-01-31"
    assert held(world, "A").best_before is None


def test_counted_pieces_are_taken_off_and_given_back() -> None:
    world = bars()
    world.sell("S", {"BAR": 390}, pieces=4, on=2)
    world.take_back("S", {"BAR": 101}, pieces=1, on=4)

    assert [held(world, "BAR", on).pieces for on in (1, 2, 4)] == [10, 6, 7]


def test_pieces_that_nobody_counted_are_told_by_mass_where_they_are_whole() -> None:
    world = bars()
    world.make({"BAR": 200}, {"REWORK": 200}, on=2)
    world.write_off("BAR", 100, on=3)

    assert held(world, "BAR").pieces == 7


@pytest.mark.parametrize("grams", [99, 101, 250])
def test_pieces_are_unknown_once_a_part_of_one_is_gone(grams: int) -> None:
    world = bars()
    world.write_off("BAR", grams)

    assert held(world, "BAR", 2).pieces == 10
    assert held(world, "BAR", 3).pieces is None


def test_lots_that_are_not_counted_in_pieces_have_none() -> None:
    assert held(bars(), "A").pieces is None


def test_totals_by_form_follow_the_order_of_making() -> None:
    stock = stock_on(bars(900).shelf, day(9))

    assert list(grams_by_form(stock).items()) == [(Form.BEAN, 1_000), (Form.BAR, 900)]


def test_a_voided_batch_puts_its_inputs_back() -> None:
    world = MakingWorld()
    world.receive({"A": 1_000})
    world.void(world.make({"A": 700}, {"T": 700}, on=1))

    assert [(lot.lot, lot.grams) for lot in stock_on(world.shelf, day(2))] == [
        ("A", 1_000)
    ]


def test_a_signed_off_date_shows_what_was_signed_off() -> None:
    """A lot that a later correction renames is still there as signed off, unnamed."""
    world = MakingWorld()
    world.receive({"A": 1_000})
    was = world.make({"A": 700}, {"T": 700}, on=3)
    world.close_period(0, 10, on=11)
    world.replace_batch(1, {"A": 700}, {"T-2": 700}, was=was, on=12)

    signed, corrected = stock_on(world.shelf, day(10)), stock_on(world.shelf, day(12))

    assert [(lot.lot, lot.grams, lot.form) for lot in signed] == [
        ("A", 300, Form.BEAN),
        ("T", 700, None),
    ]
    assert [(lot.lot, lot.grams, lot.form) for lot in corrected] == [
        ("A", 300, Form.BEAN),
        ("T-2", 700, Form.LIQUOR),
    ]
    assert grams_by_form(signed) == {Form.BEAN: 300}
