"""A trace drawn: from cooperatives on the left to customers on the right.

Sorts of boxes differ in outline and words, never in colour: suppliers and customers have
round corners, what was asked about a heavy outline, folded lots a dashed one. A link is
as wide as the share of the mass that took it.
"""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from contextlib import AbstractContextManager, nullcontext
from fractions import Fraction
from itertools import pairwise
from typing import Final

from ledger.books.trace import Direction, Trace, Way
from ledger.reports.figures import mass_words, share_words
from ledger.reports.genealogy_boxes import Box, Column, Layout, Link, Sort
from ledger.reports.genealogy_frame import BOX, GAP, HEAD, MARGIN, Frame
from ledger.reports.genealogy_layout import lay_out
from ledger.reports.genealogy_routes import routes
from ledger.reports.phrases import Says, told
from ledger.reports.svg import Drawing, Point, Sheet
from ledger.reports.trace_table import trace_title

_LEAVING_HEIGHT: Final = 310
_NAME_LENGTH: Final = 16
_WIDEST: Final = 280
_THINNEST: Final = 12
_LOW: Final = 430
_REST_OUT: Final = 330
_REWORK_OUT: Final = 120
_SMALL: Final = 95
_LINK_INK: Final = "#999999"
_DASHES: Final = "50 35"
_LEAST_WIDTH: Final = 7400
_MOST_COLUMNS_ON_PAPER: Final = 5
_MOST_BOXES_ON_PAPER: Final = 5
_KEY: Final = (
    "Mass and share of what is traced. Grey: mass passed on, as wide as its share.",
    "Black arrow: within a step, such as a tank's heel. Dashed: back in as rework.",
)
Within = Callable[[Sheet, Box | Link], AbstractContextManager[None]]
"""What a box or a link is drawn in; while it is open, shapes go there."""
_CONTINUED: Final = " What runs off the sheet goes on in the next part."


def _in_nothing(_sheet: Sheet, _part: Box | Link) -> AbstractContextManager[None]:
    return nullcontext()


def genealogy_svg(trace: Trace) -> str:
    """Return a trace as an SVG picture, the same bytes for the same trace."""
    return genealogy_drawing(trace).svg


def genealogy_drawing(trace: Trace) -> Drawing:
    """Return a trace as a drawing with its title and description."""
    layout = lay_out(trace)
    frame = Frame(layout, range(len(layout.columns)), least_width=_LEAST_WIDTH)
    return _drawn(trace, layout, frame, part="")


def genealogy_parts(trace: Trace) -> tuple[Drawing, ...]:
    """Return a trace as drawings that can be read on paper, from left to right.

    Each begins with the column that the one before ended with. On A4 lying down no text
    is smaller than 7 points: `tests/reports/test_genealogy_parts.py` measures it.
    """
    layout = lay_out(trace, most_boxes=_MOST_BOXES_ON_PAPER)
    shown = _shares(len(layout.columns))
    width = _MOST_COLUMNS_ON_PAPER * (BOX[0] + GAP[0]) - GAP[0] + 2 * MARGIN
    frames = [Frame(layout, columns, least_width=width) for columns in shown]
    return tuple(
        _drawn(
            trace,
            layout,
            frame,
            part=f", part {number} of {len(frames)}" if len(frames) > 1 else "",
        )
        for number, frame in enumerate(frames, start=1)
    )


def _shares(count: int) -> list[range]:
    """Return columns in shares of much the same size, each with the end of the last."""
    gaps = max(count - 1, 1)
    parts = -(-gaps // (_MOST_COLUMNS_ON_PAPER - 1))
    ends = [gaps * part // parts for part in range(parts + 1)]
    return [range(first, min(last, count - 1) + 1) for first, last in pairwise(ends)]


def _drawn(trace: Trace, layout: Layout, frame: Frame, *, part: str) -> Drawing:
    title = trace_title(trace) + part
    sheet = Sheet(
        frame.width,
        height_of(layout, frame),
        title=title,
        description=description_of(trace),
    )
    sheet.text((MARGIN, 260), title, size=150, weight="bold")
    sheet.text((MARGIN, 385), _KEY[0], size=_SMALL)
    sheet.text((MARGIN, 490), _KEY[1] + (_CONTINUED if part else ""), size=_SMALL)
    draw_flow(sheet, trace, layout, frame)
    return sheet.finished()


def draw_flow(
    sheet: Sheet,
    trace: Trace,
    layout: Layout,
    frame: Frame,
    within: Within = _in_nothing,
    *,
    says: Says = str,
) -> None:
    """Draw columns, boxes and what runs between them.

    Args:
        sheet: Where to.
        trace: The trace.
        layout: The same laid out.
        frame: Where everything lies, and which columns are shown.
        within: What each box and each link is drawn in.
        says: Says words in the reader's language.
    """
    _draw_links(sheet, trace, layout, frame, within)
    for place in frame.shown:
        column = layout.columns[place]
        _draw_heading(sheet, column, frame.middle(place), says)
        for box in column.boxes:
            with within(sheet, box):
                _draw_box(sheet, trace, box, frame.corner(box), says)
        foot = frame.middle(place), frame.bottom
        _draw_leaving(sheet, trace, column, foot, says)


def height_of(layout: Layout, frame: Frame) -> int:
    """Return the height of a sheet that has room for what a frame shows."""
    shown = [layout.columns[place] for place in frame.shown]
    return frame.bottom + 200 + _LEAVING_HEIGHT * _most_ways(shown)


def _most_ways(columns: Sequence[Column]) -> int:
    return max((len(column.leaving) for column in columns), default=0)


def description_of(trace: Trace, says: Says = str) -> str:
    """Return in words what the drawing of a trace shows.

    Args:
        trace: The trace.
        says: Says words in the reader's language.
    """
    parts = [told(says("{1} lots."), str(len(trace.lots)))]
    if trace.suppliers:
        parts.append(told(says("From {1}."), _listed(trace, trace.suppliers, says)))
    if trace.customers:
        parts.append(told(says("To {1}."), _listed(trace, trace.customers, says)))
    if trace.direction is Direction.FORWARD:
        left = {
            says(way): grams for way, grams in trace.ways.items() if way is not Way.SOLD
        }
        parts.append(told(says("Not sold: {1}."), _listed(trace, left, says)))
    return " ".join(parts)


def _listed(trace: Trace, grams_by_name: Mapping[str, Fraction], says: Says) -> str:
    return "; ".join(
        f"{name} {says(mass_words(grams))}, {says(share_words(trace.share(grams)))}"
        for name, grams in grams_by_name.items()
    )


def _draw_heading(sheet: Sheet, column: Column, x: int, says: Says) -> None:
    for line, words in enumerate(column.heading):
        weight = "normal" if line else "bold"
        at = x, HEAD - 260 + 130 * line
        sheet.text(at, says(words), size=110, anchor="middle", weight=weight)


def _draw_box(sheet: Sheet, trace: Trace, box: Box, corner: Point, says: Says) -> None:
    is_party = box.sort in {Sort.SUPPLIER, Sort.CUSTOMER}
    sheet.box(
        corner,
        BOX,
        width=28 if box.is_asked else 8,
        rounding=200 if is_party else 0,
        dashes=_DASHES if box.sort is Sort.REST else "none",
    )
    x, y = corner[0] + BOX[0] // 2, corner[1]
    if box.sort is Sort.REST:
        sheet.text((x, y + 190), says(box.name), anchor="middle", size=_SMALL)
    else:
        name = _shortened(box.name)
        sheet.text((x, y + 190), name, anchor="middle", weight="bold")
    mass = says(mass_words(box.grams))
    sheet.text((x, y + 340), mass, anchor="middle", size=_SMALL)
    share = says(share_words(trace.share(box.grams)))
    sheet.text((x, y + 470), share, anchor="middle", size=_SMALL)


def _draw_leaving(
    sheet: Sheet, trace: Trace, column: Column, at: Point, says: Says
) -> None:
    x, y = at
    lines = [
        line
        for way, grams in column.leaving.items()
        for line in (
            f"{says(way)}:",
            f"{says(mass_words(grams))}, {says(share_words(trace.share(grams)))}",
        )
    ]
    for number, words in enumerate(lines):
        down = y + _LEAVING_HEIGHT * (number // 2) + 130 * (number % 2) + 160
        sheet.text((x, down), words, anchor="middle", size=_SMALL)


def _draw_links(
    sheet: Sheet, trace: Trace, layout: Layout, frame: Frame, within: Within
) -> None:
    forth = [link for link in layout.links if link.span > 0]
    widths = {
        id(link): max(_THINNEST, round(_WIDEST * trace.share(link.grams)))
        for link in forth
    }
    for link, way in routes(forth, widths, frame):
        if _is_shown(link, frame):
            with within(sheet, link):
                width = widths[id(link)]
                sheet.stream(frame.on_sheet(way), width=width, ink=_LINK_INK)
    beside: Counter[int] = Counter()
    for link in layout.links:
        if link.span == 0 and link.source.column in frame.shown:
            is_rest = Sort.REST in {link.source.sort, link.target.sort}
            out = _REST_OUT if is_rest else 130 + 45 * (beside[link.source.column] % 4)
            beside[link.source.column] += not is_rest
            with within(sheet, link):
                _draw_within(sheet, link, frame, out=out)
        elif link.span < 0:
            with within(sheet, link):
                _draw_rework(sheet, link, frame)


def _is_shown(link: Link, frame: Frame) -> bool:
    """Tell whether a link runs between two columns that are shown, or passes one."""
    first, last = frame.shown.start, frame.shown.stop - 1
    return link.source.column < last and link.target.column > first


def _draw_within(sheet: Sheet, link: Link, frame: Frame, *, out: int) -> None:
    """Draw mass that stays within a step: out on the right and in again."""
    (x, y1), (_, y2) = frame.corner(link.source), frame.corner(link.target)
    x += BOX[0]
    start, end = y1 + _LOW, y2 + BOX[1] - _LOW
    sheet.path([(x, start), (x + out, start), (x + out, end), (x, end)], width=12)
    _draw_tip(sheet, (x, end))


def _draw_rework(sheet: Sheet, link: Link, frame: Frame) -> None:
    """Draw mass that goes back to an earlier step: left, below all boxes, and up."""
    (x1, y1), (x2, y2) = frame.corner(link.source), frame.corner(link.target)
    lane = frame.bottom - 50
    start, end = (x1, y1 + _LOW), (x2 + BOX[0], y2 + BOX[1] - _LOW)
    down, up = x1 - _REWORK_OUT, end[0] + GAP[0] - 2 * _REWORK_OUT
    way = [start, (down, start[1]), (down, lane), (up, lane), (up, end[1]), end]
    shown = frame.on_sheet(way)
    if shown:
        sheet.path(shown, width=12, dashes=_DASHES)
    if link.target.column in frame.shown:
        _draw_tip(sheet, end)


def _draw_tip(sheet: Sheet, at: Point) -> None:
    x, y = at
    sheet.shape(((x, y), (x + 90, y - 45), (x + 90, y + 45)))


def _shortened(name: str) -> str:
    if len(name) <= _NAME_LENGTH:
        return name
    half = (_NAME_LENGTH - 1) // 2
    return f"{name[: _NAME_LENGTH - 1 - half]}…{name[-half:]}"
