"""The flow of mass drawn: to scale, both sides alike, every figure in words."""

import re
from datetime import date
from fractions import Fraction
from xml.etree.ElementTree import Element, fromstring

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.books.mass_flow import MassFlow, Sort, Station, mass_flow
from ledger.reports.flow_chart import flow_chart
from ledger.reports.flow_layout import Node, lay_out_flow
from ledger.reports.flow_table import flow_sides_table, flow_table
from ledger.reports.svg import NAMESPACE, Drawing
from tests.books.making_world import day
from tests.books.random_making import Floor, floors
from tests.reports.sample_traces import busy_world, small_world

UNTIL = date(2026, 9, 30)
SMALL = mass_flow(small_world().shelf, day(99))
BUSY = mass_flow(busy_world().shelf, day(999))
NOTHING = MassFlow(UNTIL, {})


def parts(drawing: Drawing, shape: str) -> list[Element]:
    return fromstring(drawing.svg).findall(f"{{{NAMESPACE}}}{shape}")


def words(drawing: Drawing) -> list[str]:
    return [element.text or "" for element in parts(drawing, "text")]


def form(name: str) -> Station:
    return Station(Sort.FORM, name)


def supplier(name: str) -> Station:
    return Station(Sort.SUPPLIER, name)


def of(grams: dict[tuple[Station, Station], int]) -> MassFlow:
    return MassFlow(UNTIL, {pair: Fraction(mass) for pair, mass in grams.items()})


def assert_every_column_is_whole(flow: MassFlow) -> None:
    """What skips a column passes it; what goes round as rework comes on top."""
    layout = lay_out_flow(flow)
    rounds = [
        (range(target.column, node.column + 1), grams)
        for node in layout.nodes
        for target, grams in node.back_out.items()
    ]
    for number, column in enumerate(layout.columns):
        going_round = sum(grams for columns, grams in rounds if number in columns)
        assert sum(node.grams for node in column) == flow.came_in_g + going_round


@settings(deadline=None, max_examples=50)
@given(floors(), st.integers(0, 12))
def test_every_column_is_as_high_as_all_that_came_in(floor: Floor, on: int) -> None:
    assert_every_column_is_whole(mass_flow(floor.world.shelf, day(on)))


@pytest.mark.parametrize("flow", [SMALL, BUSY], ids=["small", "busy"])
def test_every_column_is_as_high_with_rework_on_top(flow: MassFlow) -> None:
    assert_every_column_is_whole(flow)


@pytest.mark.parametrize("flow", [SMALL, BUSY], ids=["small", "busy"])
def test_as_much_leaves_a_node_as_came_to_it(flow: MassFlow) -> None:
    def sums(node: Node) -> tuple[Fraction, Fraction]:
        return (
            sum(node.came.values(), Fraction(0)) + sum(node.back_in.values()),
            sum(node.went.values(), Fraction(0)) + sum(node.back_out.values()),
        )

    for node in lay_out_flow(flow).nodes:
        came, went = sums(node)
        if node.station.sort is Sort.FORM or node.is_passing:
            assert came == went


def test_streams_are_to_scale() -> None:
    """Of 2,500 units for everything, three quarters are 1,875."""
    flow = of(
        {
            (supplier("coop"), form("bean")): 4_000,
            (form("bean"), form("nib")): 3_000,
            (form("bean"), Station(Sort.LOST, "shell")): 1_000,
            (form("nib"), Station(Sort.IN_STOCK)): 3_000,
        }
    )

    bands = [
        re.findall(r"-?\d+", path.attrib["d"])
        for path in parts(flow_chart(flow), "path")
        if path.attrib["fill"] != "none"
    ]

    heights = {int(numbers[8]) - int(numbers[7]) for numbers in bands}
    assert heights == {2_500, 1_875, 625}


def test_streams_under_a_claim_are_dark() -> None:
    flow = of(
        {
            (supplier("coop"), form("bean")): 3,
            (form("bean"), Station(Sort.CLAIMED, "meadow, segregated")): 2,
            (form("bean"), Station(Sort.UNCLAIMED, "without a claim")): 1,
        }
    )

    inks = [path.attrib["fill"] for path in parts(flow_chart(flow), "path")[::2]]

    assert inks == ["#c4c4c4", "#777777", "#c4c4c4"]


def test_both_sides_are_summed_up() -> None:
    found = words(flow_chart(SMALL))

    assert "Came in: 800.000 kg" in found
    assert "Together: 800.000 kg" in found


def test_every_stream_is_told_in_words() -> None:
    drawing = flow_chart(SMALL)

    assert drawing.title.startswith("Flow of mass up to ")
    for (source, target), grams in SMALL.grams.items():
        assert f"{round(grams) / 1000:.3f} kg." in drawing.description
        assert source.name in drawing.description
        assert target.name in drawing.description


def test_rework_is_drawn_back_with_a_dashed_line() -> None:
    drawing = flow_chart(SMALL)

    [line] = parts(drawing, "polyline")
    assert line.attrib["stroke-dasharray"] != "none"
    [told] = [found for found in words(drawing) if found.startswith("rework")]
    assert re.fullmatch("rework: [0-9.]+ kg", told)


def test_no_text_is_below_seven_points_on_a_page_lying_down() -> None:
    """A4 is 297 mm wide (ISO 216); margins of 16 mm leave 265 mm."""
    drawing = flow_chart(BUSY)

    width = int(fromstring(drawing.svg).attrib["viewBox"].split()[2])
    smallest = min(int(text.attrib["font-size"]) for text in parts(drawing, "text"))
    assert smallest * (265 / 25.4 * 72) / width >= 7


def test_small_suppliers_and_losses_stand_together_and_keep_their_mass() -> None:
    many = {
        (supplier(f"coop-{number:02}"), form("bean")): 1_000 + number
        for number in range(12)
    }
    lost = {
        (form("bean"), Station(Sort.LOST, "dust")): 5,
        (form("bean"), Station(Sort.LOST, "sample")): 6,
        (form("bean"), Station(Sort.IN_STOCK)): 12_055,
    }

    drawing = flow_chart(of(many | lost))

    assert {"5 more suppliers", "coop-11", "coop-05"} <= set(words(drawing))
    assert "coop-04" not in words(drawing)
    assert "5.010 kg  41.5 %" in words(drawing)
    assert "lost: 2 other reasons" in words(drawing)
    assert "lost: dust" in drawing.description


def test_names_stand_as_they_are_and_are_cut_where_they_are_long() -> None:
    hostile = "</text><script>alert(1)</script>" + "x" * 40
    flow = of({(supplier(hostile), form("bean")): 1})

    drawing = flow_chart(flow)

    assert "<script>" not in drawing.svg
    assert hostile[:33] + "…" in words(drawing)


def test_a_ledger_without_goods_says_so() -> None:
    drawing = flow_chart(NOTHING)

    assert "Nothing came in." in words(drawing)
    assert flow_sides_table(NOTHING).rows == []


def test_the_same_flow_gives_the_same_drawing() -> None:
    assert flow_chart(SMALL) == flow_chart(mass_flow(small_world().shelf, day(99)))


def test_both_sides_of_the_table_sum_to_the_same() -> None:
    table = flow_sides_table(SMALL)

    together = [row[2] for row in table.rows if row[1] == "together"]
    assert together == ["800.000", "800.000"]
    for side, whole in zip(("came in", "went"), together, strict=True):
        rows = [r for r in table.rows if r[0] == side and r[1] != "together"]
        total = sum(Fraction(row[2]) for row in rows)
        assert abs(total - Fraction(whole)) < Fraction(len(rows), 1_000)


def test_the_table_of_streams_has_each_of_them() -> None:
    table = flow_table(SMALL)

    assert len(table.rows) == len(SMALL.grams)
    assert ("north", "bean", "500.000", "62.5000") in table.rows
