"""How mass passed on is drawn from box to box: side by side, and never across a box."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence

from ledger.reports.genealogy_boxes import Box, Link
from ledger.reports.genealogy_frame import BOX, Frame
from ledger.reports.svg import Point

Widths = Mapping[int, int]
"""Width of every link, by its identity."""


def routes(
    links: Sequence[Link], widths: Widths, frame: Frame
) -> list[tuple[Link, list[Point]]]:
    """Return the stations of every link from left to right, the widest link first.

    Args:
        links: Links that span at least one column.
        widths: How wide each is drawn.
        frame: Where the boxes lie.
    """
    leaves = _ports(links, widths, frame, own=_source, other=_target, side=BOX[0])
    enters = _ports(links, widths, frame, own=_target, other=_source, side=0)
    ways: dict[int, list[Point]] = {id(link): [leaves[id(link)]] for link in links}
    for column, passing in sorted(_passing(links).items()):
        for link, y in _through(column, passing, ways, enters, widths, frame):
            left = frame.middle(column) - BOX[0] // 2
            ways[id(link)] += [(left, y), (left + BOX[0], y)]
    widest_first = sorted(links, key=lambda link: -widths[id(link)])
    return [(link, [*ways[id(link)], enters[id(link)]]) for link in widest_first]


def _source(link: Link) -> Box:
    return link.source


def _target(link: Link) -> Box:
    return link.target


def _ports(
    links: Iterable[Link],
    widths: Widths,
    frame: Frame,
    *,
    own: Callable[[Link], Box],
    other: Callable[[Link], Box],
    side: int,
) -> dict[int, Point]:
    """Return where links meet one side of their boxes, in the order of the other ends."""
    meeting: dict[int, list[Link]] = defaultdict(list)
    for link in links:
        meeting[id(own(link))].append(link)
    found: dict[int, Point] = {}
    for together in meeting.values():
        x, y = frame.corner(own(together[0]))
        together.sort(key=lambda link: frame.corner(other(link))[::-1])
        levels = _beside(together, widths, y + BOX[1] // 2)
        found |= {id(link): (x + side, level) for link, level in levels}
    return found


def _beside(
    links: Sequence[Link], widths: Widths, middle: int
) -> Iterable[tuple[Link, int]]:
    """Yield links side by side around a level, with the level of each."""
    y = middle - sum(widths[id(link)] for link in links) // 2
    for link in links:
        yield link, y + widths[id(link)] // 2
        y += widths[id(link)]


def _passing(links: Iterable[Link]) -> dict[int, list[Link]]:
    """Return the links that pass each column on the way from one before to one after."""
    found: dict[int, list[Link]] = defaultdict(list)
    for link in links:
        for column in range(link.source.column + 1, link.target.column):
            found[column].append(link)
    return found


def _through(
    column: int,
    links: Iterable[Link],
    ways: Mapping[int, Sequence[Point]],
    enters: Mapping[int, Point],
    widths: Widths,
    frame: Frame,
) -> Iterable[tuple[Link, int]]:
    """Yield at which level each link passes a column: in the gap nearest to its way."""
    gaps = frame.gaps(column)
    together: dict[int, list[tuple[int, Link]]] = defaultdict(list)
    for link in links:
        y = _on_the_way(ways[id(link)][-1], enters[id(link)], frame.middle(column))
        gap = min(gaps, key=lambda level: abs(level - y))
        is_clear = y < gaps[0] or y > gaps[-1]
        together[y if is_clear else gap].append((y, link))
    for level, wanted in together.items():
        wanted.sort(key=lambda one: one[0])
        yield from _beside([link for _, link in wanted], widths, level)


def _on_the_way(start: Point, end: Point, x: int) -> int:
    (x1, y1), (x2, y2) = start, end
    return y1 + (y2 - y1) * (x - x1) // (x2 - x1)
