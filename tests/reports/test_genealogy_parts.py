"""A drawn trace on paper: in parts that can be read, and that leave nothing out."""

from itertools import pairwise
from xml.etree.ElementTree import Element, fromstring

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.books.asked import find_asked
from ledger.books.genealogy import trace_back, trace_forward
from ledger.books.trace import Trace
from ledger.reports.genealogy_frame import BOX, Frame
from ledger.reports.genealogy_layout import lay_out
from ledger.reports.genealogy_svg import genealogy_parts
from ledger.reports.svg import NAMESPACE, Drawing
from tests.books.making_world import MakingWorld, lot
from tests.books.random_making import Floor, floors
from tests.reports.sample_traces import busy_world, small_world

POINTS_PER_MM = 72 / 25.4
PAPER = (265 * POINTS_PER_MM, 166 * POINTS_PER_MM)
"""A4 lying down (ISO 216: 297 by 210 mm) within the margins of the report."""


def chain(steps: int) -> MakingWorld:
    """Beans that go through many forms, one batch after the other, and are sold."""
    world = MakingWorld()
    world.receive({"A": 1_000})
    forms = ("roasted bean", "nib", "liquor", "liquor", "butter", "cake", "powder")
    kinds = ("roast", "winnow", "grind", "conche", "press", "tank", "pack")
    before = "A"
    for place in range(steps):
        about = {"form": forms[place]}
        world.make(
            {before: 1_000}, {f"M{place}": 1_000}, step=kinds[place], about=about
        )
        before = f"M{place}"
    world.sell("S", {before: 1_000})
    return world


def back(world: MakingWorld, word: str) -> Trace:
    return trace_back(world.shelf, find_asked(world.shelf, word))


def forward(world: MakingWorld, word: str) -> Trace:
    return trace_forward(world.shelf, find_asked(world.shelf, word))


TRACES = {
    "small back": back(small_world(), "S-2"),
    "small forward": forward(small_world(), "PE-01"),
    "busy back": back(busy_world(), "S-60"),
    "busy forward": forward(busy_world(), "PE-01"),
    "long": back(chain(7), "S"),
}


def elements(drawing: Drawing, tag: str) -> list[Element]:
    return fromstring(drawing.svg).findall(f"{{{NAMESPACE}}}{tag}")


def size(drawing: Drawing) -> tuple[int, int]:
    _, _, width, height = map(int, fromstring(drawing.svg).attrib["viewBox"].split())
    return width, height


def names(drawing: Drawing) -> set[str]:
    """Names in bold: of lots and parties, and headings."""
    return {
        text.text or ""
        for text in elements(drawing, "text")
        if text.attrib["font-weight"] == "bold"
    }


def smallest_pt(drawing: Drawing) -> float:
    width, height = size(drawing)
    scale = min(PAPER[0] / width, PAPER[1] / height)
    return scale * min(int(t.attrib["font-size"]) for t in elements(drawing, "text"))


@pytest.mark.parametrize("name", sorted(TRACES))
def test_no_text_is_below_seven_points_on_a4(name: str) -> None:
    for drawing in genealogy_parts(TRACES[name]):
        assert smallest_pt(drawing) >= 7


@settings(deadline=None, max_examples=30)
@given(floors(), st.data())
def test_no_text_is_below_seven_points_whatever_was_made(
    floor: Floor, data: st.DataObject
) -> None:
    asked = lot(data.draw(st.sampled_from(floor.lots)))

    for drawing in genealogy_parts(trace_back(floor.world.shelf, asked)):
        assert smallest_pt(drawing) >= 7


@pytest.mark.parametrize("name", sorted(TRACES))
def test_parts_together_have_every_box_and_overlap_in_one_column(name: str) -> None:
    trace = TRACES[name]
    columns = lay_out(trace, most_boxes=5).columns
    parts = genealogy_parts(trace)
    titles = {part.title for part in parts}

    shown = [names(part) - titles for part in parts]

    for column in columns:
        in_column = {box.name for box in column.boxes if len(box.name) <= 16}
        holders = [found for found in shown if in_column & found]
        assert 1 <= len(holders) <= 2 or not in_column
    for one, other in pairwise(shown):
        assert one & other


def test_a_short_trace_is_one_drawing() -> None:
    world = MakingWorld()
    world.receive({"A": 1_000})
    world.make({"A": 1_000}, {"B": 1_000})

    [drawing] = genealogy_parts(back(world, "B"))

    assert "part" not in drawing.title


def test_parts_say_which_they_are() -> None:
    parts = genealogy_parts(TRACES["long"])

    assert [part.title.rpartition(", ")[2] for part in parts] == [
        "part 1 of 3",
        "part 2 of 3",
        "part 3 of 3",
    ]


@pytest.mark.parametrize("name", sorted(TRACES))
def test_nothing_is_drawn_beside_the_sheet(name: str) -> None:
    for drawing in genealogy_parts(TRACES[name]):
        width, height = size(drawing)
        for box in elements(drawing, "rect"):
            right = int(box.attrib.get("x", "0")) + int(box.attrib["width"])
            assert 0 <= right <= width
        for line in elements(drawing, "polyline"):
            for point in line.attrib["points"].split():
                x, y = map(int, point.split(","))
                assert 0 <= x <= width
                assert 0 <= y <= height


def test_a_way_is_run_out_to_the_edges_of_the_sheet() -> None:
    layout = lay_out(TRACES["long"])
    frame = Frame(layout, range(3, 6), least_width=0)
    end = frame.width

    assert frame.on_sheet([(-900, 5), (-100, 7), (300, 7), (500, 9)]) == [
        (0, 7),
        (300, 7),
        (500, 9),
    ]
    assert frame.on_sheet([(300, 7), (end + 1, 7)]) == [(300, 7), (end, 7)]
    assert frame.on_sheet([(-5, 1), (-5, 8), (end + 5, 8)]) == [(0, 8), (end, 8)]
    assert frame.on_sheet([(-9, 1), (-5, 8)]) == []


def test_every_part_shows_whole_columns() -> None:
    for drawing in genealogy_parts(TRACES["long"]):
        left = [int(box.attrib["x"]) for box in elements(drawing, "rect")[1:]]

        assert min(left) >= 0
        assert max(left) + BOX[0] <= size(drawing)[0]
