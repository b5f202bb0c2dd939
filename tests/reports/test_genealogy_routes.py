"""ledger.reports.genealogy_routes: mass passed on is drawn around boxes, not across."""

from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.books.asked import find_asked
from ledger.books.genealogy import trace_back, trace_forward
from ledger.reports.genealogy_boxes import Box, Column, Layout, Link, Sort
from ledger.reports.genealogy_frame import BOX, Frame
from ledger.reports.genealogy_layout import lay_out
from ledger.reports.genealogy_routes import routes
from ledger.reports.svg import Point
from tests.books.making_world import lot
from tests.books.random_making import Floor, floors
from tests.reports.sample_traces import busy_world, small_world


def whole(layout: Layout) -> Frame:
    return Frame(layout, range(len(layout.columns)), least_width=7400)


def routed(layout: Layout) -> list[tuple[Link, list[Point]]]:
    forth = [link for link in layout.links if link.span > 0]
    return routes(forth, {id(link): 12 for link in forth}, whole(layout))


def assert_clear_of_boxes(layout: Layout) -> None:
    frame = whole(layout)
    for link, stations in routed(layout):
        for column in range(link.source.column + 1, link.target.column):
            left = frame.middle(column) - BOX[0] // 2
            levels = [y for x, y in stations if x in {left, left + BOX[0]}]

            assert len(levels) == 2
            assert levels[0] == levels[1]
            for box in layout.columns[column].boxes:
                top = frame.corner(box)[1]
                assert not top < levels[0] < top + BOX[1]


@settings(deadline=None)
@given(floors(), st.data())
def test_no_link_crosses_a_box(floor: Floor, data: st.DataObject) -> None:
    asked = lot(data.draw(st.sampled_from(floor.lots)))

    assert_clear_of_boxes(lay_out(trace_back(floor.world.shelf, asked)))
    assert_clear_of_boxes(lay_out(trace_forward(floor.world.shelf, asked)))


def test_no_link_crosses_a_box_on_a_full_drawing() -> None:
    for world, word in ((small_world(), "PE-01"), (busy_world(), "PE-01")):
        asked = find_asked(world.shelf, word)

        assert_clear_of_boxes(lay_out(trace_forward(world.shelf, asked)))


def test_a_link_sets_out_from_its_source_and_comes_in_at_its_target() -> None:
    world = small_world()
    layout = lay_out(trace_back(world.shelf, find_asked(world.shelf, "S-2")))
    frame = whole(layout)

    for link, stations in routed(layout):
        (x1, y1), (x2, y2) = frame.corner(link.source), frame.corner(link.target)

        assert stations[0][0] == x1 + BOX[0]
        assert stations[-1][0] == x2
        assert y1 < stations[0][1] < y1 + BOX[1]
        assert y2 < stations[-1][1] < y2 + BOX[1]


def test_links_between_two_columns_do_not_cross_at_their_ends() -> None:
    boxes = [Box(Sort.LOT, name, Fraction(1)) for name in "axyz"]
    for row, box in enumerate(boxes[1:]):
        box.column, box.row = 1, row
    source, *targets = boxes
    columns = [Column(("from",), [source], top=2), Column(("to",), targets)]
    links = [Link(source, target, Fraction(1)) for target in reversed(targets)]

    leaves = {
        link.target.name: way[0][1] for link, way in routed(Layout(columns, links))
    }

    assert leaves["x"] < leaves["y"] < leaves["z"]


def test_the_widest_link_is_drawn_first() -> None:
    boxes = [Box(Sort.LOT, name, Fraction(1)) for name in "abx"]
    boxes[1].row, boxes[2].column = 1, 1
    columns = [Column(("from",), boxes[:2]), Column(("to",), boxes[2:])]
    links = [Link(box, boxes[2], Fraction(1)) for box in boxes[:2]]
    layout = Layout(columns, links)
    widths = {id(links[0]): 12, id(links[1]): 90}

    assert [link for link, _ in routes(links, widths, whole(layout))] == links[::-1]
