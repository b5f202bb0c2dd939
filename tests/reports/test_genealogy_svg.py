"""ledger.reports.genealogy_svg: a picture that holds still and says what it shows."""

import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from xml.etree.ElementTree import Element, fromstring

import pytest

from ledger.books.asked import find_asked
from ledger.books.effect import Subject, SubjectKind
from ledger.books.genealogy import trace_back, trace_forward
from ledger.books.trace import Direction, Trace
from ledger.reports.genealogy_svg import genealogy_drawing, genealogy_svg
from ledger.reports.svg import NAMESPACE
from tests.books.making_world import MakingWorld, deep_tank, lot
from tests.reports.sample_traces import busy_world, small_world

Box = tuple[int, int, int, int]


def traced(word: str, direction: Direction, world: MakingWorld | None = None) -> Trace:
    shelf = (world or small_world()).shelf
    trace = trace_forward if direction is Direction.FORWARD else trace_back
    return trace(shelf, find_asked(shelf, word))


def elements(svg: str, tag: str) -> list[Element]:
    return fromstring(svg).findall(f"{{{NAMESPACE}}}{tag}")


def words_in(svg: str) -> list[str]:
    return [element.text or "" for element in elements(svg, "text")]


def boxes_in(svg: str) -> list[Box]:
    """Left, top, right and bottom of every box; the first rectangle is the paper."""
    return [
        (x, y, x + int(rect.attrib["width"]), y + int(rect.attrib["height"]))
        for rect in elements(svg, "rect")[1:]
        for x, y in [(int(rect.attrib["x"]), int(rect.attrib["y"]))]
    ]


EVERY_SORT = [
    traced("S-2", Direction.BACK),
    traced("PE-01", Direction.FORWARD),
    traced("S-60", Direction.BACK, busy_world()),
    traced("PE-01", Direction.FORWARD, busy_world()),
]


def test_title_and_description_tell_what_is_drawn() -> None:
    drawing = genealogy_drawing(traced("S-2", Direction.BACK))

    assert drawing.title == "Trace of sale S-2 back to growers: 50.000 kg"
    assert drawing.description == (
        "12 lots. From north 30.121 kg, 60.2 %; south 19.879 kg, 39.8 %. "
        "To ben 50.000 kg, 100.0 %."
    )
    assert elements(drawing.svg, "title")[0].text == drawing.title
    assert elements(drawing.svg, "desc")[0].text == drawing.description


def test_the_description_of_a_trace_forward_says_what_was_not_sold() -> None:
    drawing = genealogy_drawing(traced("PE-01", Direction.FORWARD))

    assert drawing.description.endswith(
        "Not sold: in stock 376.908 kg, 75.4 %; lost in making 44.128 kg, 8.8 %; "
        "written off 0.714 kg, 0.1 %."
    )


def test_every_box_says_name_mass_and_share() -> None:
    words = words_in(genealogy_svg(traced("S-2", Direction.BACK)))
    place = words.index("CO-1")

    assert words[place : place + 3] == ["CO-1", "42.169 kg", "84.3 %"]


@pytest.mark.parametrize("trace", EVERY_SORT)
def test_boxes_lie_on_the_sheet_and_apart(trace: Trace) -> None:
    svg = genealogy_svg(trace)
    _, _, width, height = map(int, fromstring(svg).attrib["viewBox"].split())
    boxes = boxes_in(svg)

    assert all(
        x1 >= 0 and y1 >= 0 and x2 <= width and y2 <= height for x1, y1, x2, y2 in boxes
    )
    assert not [
        (one, other)
        for place, one in enumerate(boxes)
        for other in boxes[:place]
        if one[0] < other[2]
        and other[0] < one[2]
        and one[1] < other[3]
        and other[1] < one[3]
    ]


@pytest.mark.parametrize("trace", EVERY_SORT)
def test_no_words_run_off_the_sheet(trace: Trace) -> None:
    """Taking 0.7 of its size for the width of a character of the widest face used."""
    svg = genealogy_svg(trace)
    _, _, width, height = map(int, fromstring(svg).attrib["viewBox"].split())

    for element in elements(svg, "text"):
        size, words = int(element.attrib["font-size"]), element.text or ""
        centred = element.attrib["text-anchor"] == "middle"
        reach = len(words) * size * 7 // 10 // (2 if centred else 1)

        assert int(element.attrib["x"]) + reach <= width
        assert 0 < int(element.attrib["y"]) < height - 50


@pytest.mark.parametrize("trace", EVERY_SORT)
def test_it_holds_no_script_link_or_colour(trace: Trace) -> None:
    svg = genealogy_svg(trace)
    inks = {
        element.attrib[key]
        for element in fromstring(svg).iter()
        for key in ("fill", "stroke")
        if key in element.attrib
    }

    assert inks <= {"black", "white", "none", "#999999"}
    assert not {"script", "a", "image", "use", "style"} & {
        element.tag.rpartition("}")[2] for element in fromstring(svg).iter()
    }


def test_sixty_lots_of_a_step_fit_on_a_sheet() -> None:
    svg = genealogy_svg(traced("PE-01", Direction.FORWARD, busy_world()))

    assert len(boxes_in(svg)) == 1 + 1 + 4 * 9 + 3
    assert "and 50 more lots" in words_in(svg)


def test_heels_are_drawn_whole_and_rework_dashed() -> None:
    svg = genealogy_svg(traced("S-2", Direction.BACK))
    dashed = [line.attrib["stroke-dasharray"] for line in elements(svg, "polyline")]

    assert sorted(dashed) == ["50 35", "none"]
    assert len(elements(svg, "polygon")) == 2


def test_what_was_asked_about_has_a_heavy_outline() -> None:
    svg = genealogy_svg(traced("S-2", Direction.BACK))

    assert [rect.attrib["stroke-width"] for rect in elements(svg, "rect")[1:]].count(
        "28"
    ) == 2


def test_links_are_as_wide_as_their_share() -> None:
    svg = genealogy_svg(traced("S-2", Direction.BACK))
    widths = sorted(int(path.attrib["stroke-width"]) for path in elements(svg, "path"))

    assert widths[-1] == round(280 * 42.169 / 50)
    assert widths[0] >= 12


def test_text_is_escaped() -> None:
    name = "<script>&\"'\x00]]>"
    trace = replace(EVERY_SORT[0], asked=Subject(SubjectKind.LOT, name))
    svg = genealogy_svg(trace)

    assert "<script" not in svg
    assert "lot <script>&\"'\N{REPLACEMENT CHARACTER}]]>" in (
        elements(svg, "title")[0].text or ""
    )


def test_long_names_are_shortened_in_the_middle() -> None:
    world = MakingWorld()
    name = "LOT-2024-0001-NORTHERN-VALLEY-A"
    world.receive({name: 1_000})

    assert "LOT-2024…ALLEY-A" in words_in(
        genealogy_svg(trace_back(world.shelf, lot(name)))
    )


def test_a_tank_three_thousand_fills_deep_is_drawn() -> None:
    svg = genealogy_svg(trace_back(deep_tank().shelf, lot("T3000")))

    assert len(boxes_in(svg)) == 1 + 2 + 9


def test_a_trace_of_nothing_is_an_empty_sheet() -> None:
    world = MakingWorld()
    world.receive({"A": 1_000}, rejected=True)
    drawing = genealogy_drawing(trace_back(world.shelf, lot("A")))

    assert boxes_in(drawing.svg) == []
    assert drawing.description == "0 lots."


def test_the_same_trace_gives_the_same_bytes_in_every_run() -> None:
    code = (
        "from tests.reports.test_genealogy_svg import *\n"
        "import hashlib\n"
        "drawn = ''.join(genealogy_svg(trace) for trace in EVERY_SORT)\n"
        "print(hashlib.sha256(drawn.encode()).hexdigest())"
    )
    digests = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={"PYTHONHASHSEED": seed, "PYTHONPATH": "."},
            cwd=Path(__file__).parents[2],
            check=True,
            capture_output=True,
        ).stdout
        for seed in ("1", "2")
    }

    assert len(digests) == 1
