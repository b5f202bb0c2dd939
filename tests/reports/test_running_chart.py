"""The running balance as a drawing."""

from datetime import date, timedelta
from itertools import pairwise
from xml.etree import ElementTree as ET

from ledger.books.account import Account
from ledger.books.balance import Balance, RunningLine
from ledger.books.effect import Cause
from ledger.books.shelf import Movement
from ledger.reports.running_chart import running_chart
from ledger.reports.svg import NAMESPACE, Drawing

ACCOUNT = Account("fair-cocoa", "cocoa", "works", "organic", "all")
DAY = date(2026, 3, 2)
LATER = date(2026, 6, 30)
LINES = (
    RunningLine(Movement(DAY, 7, 0, 60_500_000, Cause.RECEIVED), 60_500_000),
    RunningLine(Movement(LATER, 8, 0, -20_000_000, Cause.SOLD), 40_500_000),
    RunningLine(Movement(LATER, 9, 0, -500_000, Cause.LAPSED), 40_000_000),
)
BALANCE = Balance(ACCOUNT, 0, {}, 40_000_000, 40_000_000, LATER)


def parts(drawing: Drawing, shape: str) -> list[ET.Element]:
    return ET.fromstring(drawing.svg).findall(f"{{{NAMESPACE}}}{shape}")


def words(drawing: Drawing) -> list[str]:
    return [element.text or "" for element in parts(drawing, "text")]


def test_drawing_says_in_words_what_it_shows() -> None:
    drawing = running_chart(BALANCE, LINES)

    [title], [desc] = parts(drawing, "title"), parts(drawing, "desc")
    assert title.text == "Running balance of fair-cocoa, cocoa, works, organic"
    assert desc.text == (
        "Step line in kg bean equivalent: opens at 0.000, closes at 40000.000 after 3 "
        "movements. It stood lowest on 2026-06-30, at 40000.000."
    )


def test_line_steps_at_each_movement_and_ends_at_the_edge() -> None:
    [line] = parts(running_chart(BALANCE, LINES), "polyline")

    corners = [
        tuple(map(int, point.split(","))) for point in line.attrib["points"].split()
    ]
    assert len(corners) == 2 + 2 * len(LINES)
    assert all(x1 == x2 or y1 == y2 for (x1, y1), (x2, y2) in pairwise(corners))
    assert corners[0] == (900, 2350)
    # The scale runs from 0 to 80,000 kg over 1,900 units, and 40,000 kg lie half way.
    assert corners[-1] == (6900, 1400)


def test_axis_names_its_unit_figures_and_dates() -> None:
    found = words(running_chart(BALANCE, LINES))

    assert "Standing, kg bean equivalent" in found
    assert "floor 0" in found
    assert "40\u202f000" in found
    assert [word for word in found if word.startswith("2026")] == [
        "2026-04",
        "2026-05",
        "2026-06",
    ]


def test_receipts_claims_and_the_rest_have_shapes_of_their_own() -> None:
    shapes = parts(running_chart(BALANCE, LINES), "polygon")

    # One triangle and one diamond for the lines, and one of each in the key.
    assert sorted(len(s.attrib["points"].split()) for s in shapes) == [3, 3, 4, 4]


def test_only_black_white_and_grey_are_used() -> None:
    drawing = running_chart(BALANCE, LINES)

    inks = {
        element.attrib[name]
        for element in ET.fromstring(drawing.svg).iter()
        for name in ("fill", "stroke")
        if name in element.attrib
    }
    assert inks <= {"black", "white", "none", "#999999", "#bbbbbb"}


def test_what_lies_below_zero_is_shaded() -> None:
    short = RunningLine(Movement(LATER, 8, 0, -1, Cause.SOLD), -5_000_000)
    balance = Balance(ACCOUNT, 0, {}, -5_000_000, -5_000_000, LATER)

    shaded = [
        shape
        for shape in parts(running_chart(balance, [short]), "polygon")
        if shape.attrib["fill"] == "#bbbbbb"
    ]
    assert len(shaded) == 1


def test_a_floor_below_zero_is_drawn_and_named() -> None:
    """Terms may let an account stand below zero within a period."""
    drawing = running_chart(BALANCE, LINES, floor_g=-20_000_000)

    [floor] = [
        line
        for line in parts(drawing, "polyline")
        if line.attrib.get("stroke-dasharray", "none") != "none"
    ]
    heights = {point.split(",")[1] for point in floor.attrib["points"].split()}
    assert len(heights) == 1
    assert "floor -20\u202f000" in words(drawing)
    assert "floor 0" not in words(drawing)


def test_the_drawing_is_named_where_it_can_be_seen() -> None:
    name = "Running balance of fair-cocoa, cocoa, works, organic"

    assert name in words(running_chart(BALANCE, LINES))


def test_account_that_never_moved_can_be_drawn() -> None:
    drawing = running_chart(Balance(ACCOUNT, 0, {}, 0, 0, None), ())

    assert "It did not move." in drawing.description


def test_drawing_is_the_same_every_time() -> None:
    assert running_chart(BALANCE, LINES) == running_chart(BALANCE, LINES)


def test_hostile_names_stay_text() -> None:
    hostile = Account("<script>", 'a"&b', "\ufffe\x00", "all", "all")

    drawing = running_chart(Balance(hostile, 0, {}, 0, 0, None), ())

    [title] = parts(drawing, "title")
    assert title.text == 'Running balance of <script>, a"&b, \ufffd\ufffd'
    assert "<script>" not in drawing.svg


def test_claims_of_one_day_are_one_stroke_and_one_tick() -> None:
    """They lie on the same upright line, so the picture is that of one claim."""
    [receipt, *_] = LINES
    many = [
        RunningLine(Movement(LATER, 8 + n, 0, -1_000_000, Cause.SOLD), standing_g)
        for n, standing_g in enumerate(range(59_500_000, 39_500_000, -1_000_000))
    ]
    one = RunningLine(Movement(LATER, 99, 0, -20_000_000, Cause.SOLD), 40_500_000)

    drawn = running_chart(BALANCE, [receipt, *many])
    alike = running_chart(BALANCE, [receipt, one])

    for shape in ("polyline", "polygon", "line", "text"):
        assert [element.attrib for element in parts(drawn, shape)] == [
            element.attrib for element in parts(alike, shape)
        ]
    assert "after 21 movements" in drawn.description


def test_a_return_between_two_claims_of_a_day_keeps_its_place() -> None:
    [receipt, *_] = LINES
    steps = [(-5_000_000, Cause.SOLD), (1_000_000, Cause.RETURNED)] * 2
    standing_g, lines = 60_500_000, [receipt]
    for slot, (grams, cause) in enumerate(steps, start=8):
        standing_g += grams
        lines.append(RunningLine(Movement(LATER, slot, 0, grams, cause), standing_g))

    [path] = parts(running_chart(BALANCE, lines), "polyline")

    assert len(path.attrib["points"].split()) == 2 + 2 * len(lines)


def test_a_long_account_is_drawn_as_high_and_as_low_with_no_more_ink() -> None:
    opening = standing = 9_000_000_000
    lines = []
    for place in range(40_000):
        grams = 300_000 if place % 3 == 0 else -(200_000 + place % 97 * 1_000)
        standing += grams
        cause = Cause.RECEIVED if grams > 0 else Cause.SOLD
        day = DAY + timedelta(days=place // 20)
        lines.append(RunningLine(Movement(day, place, 0, grams, cause), standing))
    lowest = min(lines, key=lambda line: line.standing_g)
    balance = Balance(
        ACCOUNT, opening, {}, standing, lowest.standing_g, lowest.movement.day
    )

    short = running_chart(balance, lines[:2_000])
    drawing = running_chart(balance, lines)

    assert len(drawing.svg) < 2 * len(short.svg)
    [line] = parts(drawing, "polyline")
    heights = [int(point.split(",")[1]) for point in line.attrib["points"].split()]
    ring, *_ = parts(drawing, "circle")
    assert max(heights) == int(ring.attrib["cy"])
    assert heights[-1] == heights[-2]
