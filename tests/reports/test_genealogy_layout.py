"""ledger.reports.genealogy_layout: every mass of a trace has its place on the drawing."""

from collections import defaultdict
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.books.asked import find_asked
from ledger.books.effect import Subject, SubjectKind
from ledger.books.genealogy import trace_back, trace_forward
from ledger.books.trace import Direction, Trace, Way
from ledger.reports.genealogy_boxes import Box, Column, Layout, Sort
from ledger.reports.genealogy_layout import lay_out
from tests.books.making_world import MakingWorld, deep_tank, lot
from tests.books.random_making import Floor, floors
from tests.reports.sample_traces import busy_world, small_world


def laid_out(world: MakingWorld, word: str, direction: Direction) -> Layout:
    trace = trace_forward if direction is Direction.FORWARD else trace_back
    return lay_out(trace(world.shelf, find_asked(world.shelf, word)))


def boxes_of(layout: Layout) -> list[Box]:
    return [box for column in layout.columns for box in column.boxes]


def headed(layout: Layout, *heading: str) -> Column:
    [found] = [column for column in layout.columns if column.heading == heading]
    return found


def assert_masses_add_up(trace: Trace) -> None:
    layout = lay_out(trace)
    came: dict[int, Fraction] = defaultdict(Fraction)
    for link in layout.links:
        came[id(link.target)] += link.grams
    for origin in trace.origins:
        if origin.source is None:
            [start] = [box for box in boxes_of(layout) if box.name == origin.lot]
            came[id(start)] += origin.grams
    for box in boxes_of(layout):
        if box.sort is not Sort.SUPPLIER:
            assert came[id(box)] == box.grams
    left = [grams for c in layout.columns for grams in c.leaving.values()]
    sold = [box.grams for box in boxes_of(layout) if box.sort is Sort.CUSTOMER]
    if trace.direction is Direction.FORWARD:
        assert sum(left) + sum(sold) == trace.grams


@settings(deadline=None)
@given(floors(), st.data())
def test_what_comes_into_a_box_is_what_it_says(
    floor: Floor, data: st.DataObject
) -> None:
    asked = lot(data.draw(st.sampled_from(floor.lots)))

    assert_masses_add_up(trace_back(floor.world.shelf, asked))
    assert_masses_add_up(trace_forward(floor.world.shelf, asked))


def test_masses_add_up_where_lots_are_folded() -> None:
    world = busy_world()

    assert_masses_add_up(trace_back(world.shelf, Subject(SubjectKind.SALE, "S-60")))
    assert_masses_add_up(trace_forward(world.shelf, lot("PE-01")))


def test_columns_follow_the_steps_of_making() -> None:
    layout = laid_out(small_world(), "S-2", Direction.BACK)

    assert [" ".join(column.heading) for column in layout.columns] == [
        "bought from",
        "received",
        "roast roasted bean",
        "winnow nib",
        "conche liquor",
        "tank liquor",
        "mould bar",
        "sold to",
    ]


def test_mass_runs_to_the_right_but_for_heels_and_rework() -> None:
    layout = laid_out(small_world(), "S-2", Direction.BACK)
    against = {
        (link.source.name, link.target.name, link.span)
        for link in layout.links
        if link.span <= 0
    }

    assert against == {("TA-1", "TA-2", 0), ("BAR-1", "CO-2", -2)}


def test_a_split_lot_stays_beside_the_lot_it_was_split_from() -> None:
    world = MakingWorld()
    world.receive({"A": 900})
    world.make(
        {"A": 900}, {"A-1": 400, "A-2": 500}, step="split", about={"form": "bean"}
    )

    layout = laid_out(world, "A-2", Direction.BACK)

    assert {box.name for box in headed(layout, "received").boxes} == {"A", "A-2"}


def test_what_was_asked_about_is_marked() -> None:
    for direction, word, names in (
        (Direction.BACK, "S-2", {"BAR-1", "BAR-2"}),
        (Direction.FORWARD, "NI-1", {"NI-1"}),
    ):
        layout = laid_out(small_world(), word, direction)

        assert {box.name for box in boxes_of(layout) if box.is_asked} == names


def test_a_loss_stands_below_the_step_that_lost_it() -> None:
    layout = laid_out(small_world(), "PE-01", Direction.FORWARD)

    assert headed(layout, "roast", "roasted bean").leaving == {Way.LOST: 2_000}
    assert headed(layout, "received").leaving == {Way.IN_STOCK: 300_000}


def test_sixty_lots_of_a_step_are_folded_into_nine_boxes() -> None:
    layout = laid_out(busy_world(), "PE-01", Direction.FORWARD)

    tank = headed(layout, "tank", "liquor").boxes

    assert len(tank) == 9
    assert [box.name for box in tank if box.sort is Sort.REST] == ["and 50 more lots"]
    assert tank[-1].sort is Sort.REST


def test_lots_too_small_to_show_are_folded_where_there_are_many() -> None:
    layout = laid_out(busy_world(), "S-60", Direction.BACK)

    names = {box.name for box in headed(layout, "roast", "roasted bean").boxes}

    assert names == {"RO-60", "RO-59", "RO-58", "RO-57", "RO-56", "and 55 more lots"}


def test_a_tank_three_thousand_fills_deep_is_laid_out() -> None:
    layout = lay_out(trace_back(deep_tank().shelf, lot("T3000")))

    assert [len(column.boxes) for column in layout.columns] == [1, 2, 9]


def test_many_customers_are_folded_and_their_mass_kept() -> None:
    world = MakingWorld()
    world.receive({"A": 10_000})
    for number in range(20):
        world.register(f"shop-{number}", "customer")
        world.sell(f"S-{number}", {"A": 100 + number}, customer=f"shop-{number}")

    customers = headed(laid_out(world, "A", Direction.FORWARD), "sold to").boxes

    assert len(customers) == 9
    assert customers[-1].name == "and 12 more customers"
    assert sum(box.grams for box in customers) == sum(range(100, 120))


def test_a_customer_who_sent_all_of_it_back_is_not_drawn() -> None:
    world = MakingWorld()
    world.receive({"A": 1_000})
    world.sell("S", {"A": 100})
    world.take_back("S", {"A": 100})

    layout = laid_out(world, "A", Direction.FORWARD)

    assert [column.heading for column in layout.columns] == [
        ("bought from",),
        ("received",),
    ]


def test_many_lots_asked_about_at_once_are_folded_with_their_mass() -> None:
    world = MakingWorld()
    world.receive({"A": 10_000})
    world.make({"A": 1_200}, {f"T-{n}": 10 * n for n in range(1, 16)})

    [tank] = laid_out(world, "batch:B-1", Direction.FORWARD).columns

    assert sum(box.grams for box in tank.boxes) == sum(range(10, 160, 10))
    assert tank.boxes[-1].name == "and 7 more lots"


def test_nothing_is_laid_out_for_a_rejected_lot() -> None:
    world = MakingWorld()
    world.receive({"A": 1_000}, rejected=True)

    assert laid_out(world, "A", Direction.BACK) == Layout([], [])
