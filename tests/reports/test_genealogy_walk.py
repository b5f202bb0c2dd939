"""A trace to walk: every box leads somewhere, and every box can be walked to."""

from collections.abc import Iterable
from fractions import Fraction
from xml.etree.ElementTree import fromstring

from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.books.asked import find_asked
from ledger.books.genealogy import trace_back, trace_forward
from ledger.books.trace import Trace
from ledger.reports.genealogy_boxes import Sort
from ledger.reports.genealogy_walk import (
    MOST_BOXES,
    MOST_LINKS,
    Leg,
    Stop,
    Walk,
    walk_of,
)
from ledger.reports.svg import NAMESPACE
from tests.books.making_world import MakingWorld, lot
from tests.books.random_making import Floor, floors
from tests.reports.sample_traces import busy_world, small_world


def walk(trace: Trace) -> Walk:
    found = walk_of(
        trace,
        address_of=lambda stop: f"/at/{stop.number}",
        told=lambda stop: f"this is {stop.name}",
    )
    assert found is not None
    return found


def back(world: MakingWorld, word: str) -> Trace:
    return trace_back(world.shelf, find_asked(world.shelf, word))


def forward(world: MakingWorld, word: str) -> Trace:
    return trace_forward(world.shelf, find_asked(world.shelf, word))


def test_every_box_is_a_link_that_says_what_it_is() -> None:
    trace = back(small_world(), "S-2")
    found = walk(trace)
    drawing = fromstring(found.drawing.svg)

    links = drawing.findall(f"{{{NAMESPACE}}}a")

    assert [link.attrib["href"] for link in links] == [
        f"/at/{stop.number}" for stop in found.stops
    ]
    assert drawing.attrib["role"] == "group"
    for link, stop in zip(links, found.stops, strict=True):
        assert link.attrib["aria-label"] == f"this is {stop.name}"


def test_a_walk_starts_from_what_was_asked_about() -> None:
    for trace in (back(busy_world(), "S-60"), forward(busy_world(), "PE-01")):
        found = walk(trace)

        assert found.stops[found.start].name in trace.goods


@settings(deadline=None, max_examples=25)
@given(floors(), st.data())
def test_what_goes_to_a_stop_comes_from_the_other(
    floor: Floor, data: st.DataObject
) -> None:
    asked = lot(data.draw(st.sampled_from(floor.lots)))
    for trace in (
        trace_back(floor.world.shelf, asked),
        trace_forward(floor.world.shelf, asked),
    ):
        found = walk(trace)
        assert [stop.number for stop in found.stops] == list(range(len(found.stops)))
        for stop in found.stops:
            for leg in stop.goes_to:
                assert stop.number in numbers(found.stops[leg.number].comes_from)
            for leg in stop.comes_from:
                assert stop.number in numbers(found.stops[leg.number].goes_to)


def numbers(legs: Iterable[Leg]) -> set[int]:
    return {leg.number for leg in legs}


def test_as_much_comes_to_a_lot_as_is_traced_back_through_it() -> None:
    for stop in walk(back(busy_world(), "S-60")).stops:
        if stop.lot is not None:
            came = sum((leg.grams for leg in stop.comes_from), Fraction(0))
            assert came == stop.grams


def test_what_went_on_and_what_left_is_all_that_came_forward() -> None:
    trace = forward(busy_world(), "PE-01")
    found = walk(trace)

    for stop in found.stops:
        if stop.lot is not None:
            assert gone(found, stop) == stop.grams


def gone(found: Walk, stop: Stop) -> Fraction:
    """Return what left a lot: into other lots, or by a way of its own."""
    to_lots = [
        leg.grams
        for leg in stop.goes_to
        if found.stops[leg.number].lot or _folds_lots(found.stops[leg.number])
    ]
    return sum(to_lots, Fraction(0)) + sum(stop.leaves.values(), Fraction(0))


def _folds_lots(stop: Stop) -> bool:
    return stop.sort is Sort.REST and stop.folds_lots


def test_a_thousand_lots_stay_a_drawing_that_a_screen_holds() -> None:
    world = MakingWorld()
    world.receive({f"A{n}": 1_000 for n in range(500)})
    for n in range(500):
        world.make({f"A{n}": 1_000}, {f"R{n}": 1_000})
    world.sell("S", {f"R{n}": 1_000 for n in range(500)})

    found = walk(back(world, "S"))

    assert len(found.stops) <= 4 * (MOST_BOXES + 1)
    assert len(found.drawing.svg) < 30_000
    assert sum(len(stop.folded) for stop in found.stops) >= 2 * (500 - MOST_BOXES)


DENSE = (
    ("roast", "roasted bean"),
    ("winnow", "nib"),
    ("grind", "liquor"),
    ("refine", "liquor"),
    ("conche", "liquor"),
    ("tank", "liquor"),
    ("press", "butter"),
    ("press", "cake"),
    ("pack", "powder"),
)


def test_where_all_went_into_all_more_is_folded_so_that_a_page_stays_short() -> None:
    world, lots = MakingWorld(), [f"A{n}" for n in range(8)]
    world.receive(dict.fromkeys(lots, 8_000))
    for day, (step, form) in enumerate(DENSE, start=2):
        made = [f"{step}-{form}-{n}".replace(" ", "-") for n in range(8)]
        for one in made:
            about = {"form": form}
            inputs = dict.fromkeys(lots, 1_000)
            world.make(inputs, {one: 8_000}, on=day, step=step, about=about)
        lots = made

    for trace in (forward(world, "A0"), back(world, lots[0])):
        found = walk(trace)
        assert found.drawing.svg.count("<g ") <= MOST_LINKS
        assert len(found.drawing.svg) < 80_000
        assert sum(len(stop.folded) or 1 for stop in found.stops) >= len(trace.lots)


def test_parties_are_told_with_the_shipments_and_sales_they_took_part_in() -> None:
    trace = forward(small_world(), "PE-01")
    [origin] = trace.origins
    assert origin.source is not None

    through = {stop.name: stop.through for stop in walk(trace).stops if stop.through}

    assert through == {
        "north": (origin.source.shipment,),
        "ann": ("S-1",),
        "ben": ("S-2",),
        "cy": ("S-3",),
    }


def test_nothing_traced_gives_no_walk() -> None:
    trace = back(small_world(), "S-2")
    empty = Trace(trace.direction, trace.asked, None, Fraction(0), (), (), (), ())

    assert walk_of(empty, address_of=lambda _: "#", told=lambda _: "") is None
