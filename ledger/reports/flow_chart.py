"""The flow of mass drawn: from cooperatives, through forms, to claims and all else.

Streams are as wide as their mass, and both sides are as high as all that came in. What
goes out under a claim is dark, everything else light; every end is named beside it.
"""

from collections.abc import Mapping
from fractions import Fraction
from typing import Final

from ledger.books.mass_flow import MassFlow, Sort
from ledger.reports.figures import mass_text, mass_words, share_words
from ledger.reports.flow_layout import FlowLayout, Node, lay_out_flow
from ledger.reports.flow_table import flow_title, station_name
from ledger.reports.phrases import told
from ledger.reports.svg import Drawing, Sheet
from ledger.reports.tongue import PLAIN, Tongue

WIDTH: Final = 10_000
_HEIGHT: Final = 2_500
"""Height of everything that came in, in units."""
_HEAD: Final = 400
"""Where the title ends."""
_LEFT, _RIGHT = 1_500, 2_250
_BAR: Final = 130
_MOST_PITCH: Final = 1_500
_SMALL: Final = 95
_LINE: Final = 125
_FORM_GAP, _END_GAP, _PASSING_GAP = 420, 90, 40
_LABEL: Final = 2 * _LINE
_LANE: Final = 230
_THINNEST: Final = 10
_CLAIMED_INK, _INK = "#777777", "#c4c4c4"
_BREADTH: Final = 62
"""Mean breadth of a bold letter."""
_DASHES: Final = "50 35"
_NAME_LENGTH: Final = 34
_KEY: Final = (
    "Kilograms as weighed; streams are as wide as their mass. "
    "Dark: under a claim. Dashed: back in as rework."
)


def flow_chart(flow: MassFlow, tongue: Tongue = PLAIN) -> Drawing:
    """Return a flow of mass as a drawing.

    Args:
        flow: The flow.
        tongue: How to describe it to those who do not see it.
    """
    layout = lay_out_flow(flow)
    reworks = [
        (node, target, grams)
        for node in layout.nodes
        for target, grams in node.back_out.items()
    ]
    frame = _Frame(layout, flow.came_in_g, lanes=len(reworks))
    sheet = Sheet(
        WIDTH,
        frame.bottom + _LINE + 100,
        title=flow_title(flow),
        description=_description(flow, tongue),
    )
    sheet.text((0, 160), flow_title(flow), size=150, weight="bold")
    sheet.text((0, 330), _KEY, size=_SMALL)
    _draw_streams(sheet, layout, frame)
    for lane, (source, target, grams) in enumerate(reworks):
        _draw_rework(sheet, frame, (source, target), grams, _HEAD + _LANE * (lane + 1))
    for node in layout.nodes:
        if not node.is_passing:
            _draw_bar(sheet, frame, node)
            _draw_label(sheet, frame, node, flow.came_in_g)
    _draw_sums(sheet, layout, frame, flow)
    return sheet.finished()


class _Frame:
    """Where every node lies, and how wide a mass is drawn, in units."""

    def __init__(self, layout: FlowLayout, whole_g: Fraction, *, lanes: int) -> None:
        self._scale = Fraction(_HEIGHT) / whole_g if whole_g else Fraction(0)
        steps = max(len(layout.columns) - 1, 1)
        self._pitch = min((WIDTH - _LEFT - _RIGHT - _BAR) // steps, _MOST_PITCH)
        self._tops: dict[Node, int] = {}
        top = _HEAD + _LABEL + 150 + lanes * _LANE
        self.bottom = top
        for column in layout.columns:
            y = top
            for node in column:
                self._tops[node] = y
                y += self._room(node)
            self.bottom = max(self.bottom, y)

    def _room(self, node: Node) -> int:
        height = self.width(node.grams)
        if node.is_passing:
            return height + _PASSING_GAP
        if node.station.sort is Sort.FORM:
            return height + _FORM_GAP
        return max(height, _LABEL) + _END_GAP

    def width(self, grams: Fraction) -> int:
        """Return how wide a mass is drawn."""
        return round(self._scale * grams)

    def left(self, node: Node) -> int:
        """Return the left side of a node."""
        return _LEFT + node.column * self._pitch

    def top(self, node: Node) -> int:
        """Return the upper end of a node."""
        return self._tops[node]

    def uppers(self, node: Node, moved: Mapping[Node, Fraction]) -> dict[Node, int]:
        """Return where streams meet a node, one below the other by their other ends."""
        found: dict[Node, int] = {}
        drawn = Fraction(0)
        for other in sorted(moved, key=self.top):
            found[other] = self.top(node) + self.width(drawn)
            drawn += moved[other]
        return found


def _draw_streams(sheet: Sheet, layout: FlowLayout, frame: _Frame) -> None:
    """Draw all streams, the widest first, so that none is hidden."""
    enters = {node: frame.uppers(node, node.came) for node in layout.nodes}
    leaves = {node: frame.uppers(node, node.went) for node in layout.nodes}
    pairs = [(node, other) for node in layout.nodes for other in node.went]
    for node, other in sorted(pairs, key=lambda pair: -pair[0].went[pair[1]]):
        x1 = frame.left(node) + (0 if node.is_passing else _BAR)
        x2 = frame.left(other)
        height = max(frame.width(node.went[other]), _THINNEST)
        start, end = (x1, leaves[node][other]), (x2, enters[other][node])
        sheet.ribbon(start, end, height=height, ink=_ink(other))


def _ink(target: Node) -> str:
    return _CLAIMED_INK if target.station.sort is Sort.CLAIMED else _INK


def _draw_rework(
    sheet: Sheet, frame: _Frame, ends: tuple[Node, Node], grams: Fraction, level: int
) -> None:
    """Draw what goes back in: up beside its bar, back above all labels, and down."""
    source, target = ends
    right, left = frame.left(source) + _BAR + 70, frame.left(target) + _BAR // 2
    down = frame.top(target) - _LABEL - 80
    bottom = frame.top(source) + frame.width(source.grams)
    width = max(frame.width(grams), 14)
    way = [(right - 70, bottom), (right, bottom), (right, level), (left, level)]
    sheet.path([*way, (left, down)], width=width, dashes=_DASHES)
    sheet.shape(((left, down), (left - 50, down - 90), (left + 50, down - 90)))
    words = f"rework: {mass_words(grams)}"
    sheet.text(((left + right) // 2, level - 50), words, size=_SMALL, anchor="middle")


def _draw_bar(sheet: Sheet, frame: _Frame, node: Node) -> None:
    height = max(frame.width(node.grams), _THINNEST)
    is_light = node.station.sort > Sort.CLAIMED
    corner = frame.left(node), frame.top(node)
    sheet.box(corner, (_BAR, height), fill="white" if is_light else "black", width=10)


def _draw_label(sheet: Sheet, frame: _Frame, node: Node, whole_g: Fraction) -> None:
    if node.station.sort is Sort.FORM:
        _draw_label_above(sheet, frame, node)
    else:
        _draw_label_beside(sheet, frame, node, whole_g)


def _draw_label_above(sheet: Sheet, frame: _Frame, node: Node) -> None:
    x, y = frame.left(node) + _BAR // 2, frame.top(node) - 60
    name, mass = station_name(node.station), mass_words(node.grams)
    half = max(len(name), len(mass)) * _BREADTH // 2 + 30
    sheet.blank((x - half, y - _LABEL + 10), (2 * half, _LABEL + 20))
    at = x, y - _LINE
    sheet.text(at, name, size=_SMALL, anchor="middle", weight="bold")
    sheet.text((x, y), mass, size=_SMALL, anchor="middle")


def _draw_label_beside(
    sheet: Sheet, frame: _Frame, node: Node, whole_g: Fraction
) -> None:
    is_end = node.station.sort is not Sort.SUPPLIER
    x = frame.left(node) + (_BAR + 80 if is_end else -80)
    spare = max(frame.width(node.grams) - _LABEL, 0) // 2
    y = frame.top(node) + spare + 90
    anchor = "start" if is_end else "end"
    name = _shortened(station_name(node.station))
    mass = f"{mass_words(node.grams)}  {share_words(node.grams / whole_g)}"
    sheet.text((x, y), name, size=_SMALL, anchor=anchor, weight="bold")
    sheet.text((x, y + _LINE), mass, size=_SMALL, anchor=anchor)


def _draw_sums(sheet: Sheet, layout: FlowLayout, frame: _Frame, flow: MassFlow) -> None:
    if not layout.columns:
        sheet.text((0, _HEAD + _LINE), "Nothing came in.", size=_SMALL)
        return
    y = frame.bottom + _LINE
    first, last = layout.columns[0][0], layout.columns[-1][0]
    came = f"Came in: {mass_words(flow.came_in_g)}"
    went = f"Together: {mass_words(sum(flow.ends.values(), Fraction(0)))}"
    sheet.text(
        (frame.left(first) + _BAR, y), came, size=_SMALL, anchor="end", weight="bold"
    )
    sheet.text((frame.left(last), y), went, size=_SMALL, weight="bold")


def _description(flow: MassFlow, tongue: Tongue) -> str:
    """Return every figure of the drawing in words."""
    says = tongue.says
    return " ".join(
        told(
            says("From {1} to {2}: {3} kg."),
            says(station_name(source)),
            says(station_name(target)),
            mass_text(grams).replace(".", tongue.decimal_sign),
        )
        for (source, target), grams in flow.grams.items()
    )


def _shortened(name: str) -> str:
    return name if len(name) <= _NAME_LENGTH else f"{name[: _NAME_LENGTH - 1]}…"
