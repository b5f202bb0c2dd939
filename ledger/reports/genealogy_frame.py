"""The measures of a drawn trace: where columns, rows and the gaps between them lie."""

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

from ledger.reports.genealogy_boxes import Box, Layout
from ledger.reports.svg import Point

BOX: Final = (1240, 560)
GAP: Final = (600, 160)
MARGIN: Final = 250
HEAD: Final = 900
_PITCH: Final = BOX[1] + GAP[1]


class Frame:
    """Where everything of a layout lies on the sheet, in units.

    What lies in columns that are not shown lies beside the sheet.
    """

    def __init__(self, layout: Layout, shown: range, *, least_width: int) -> None:
        """Measure a layout.

        Args:
            layout: The layout.
            shown: Columns that the sheet shows.
            least_width: Width that the sheet has at least.
        """
        self.shown = shown
        self._columns = layout.columns
        self._across = len(shown) * (BOX[0] + GAP[0]) - GAP[0]
        self._rows = max((len(c.boxes) for c in layout.columns), default=1)
        self._least_width = least_width

    @property
    def width(self) -> int:
        """Width of the sheet."""
        return max(self._across + 2 * MARGIN, self._least_width)

    @property
    def bottom(self) -> int:
        """Where the lowest row ends, with the gap below it."""
        return HEAD + self._rows * _PITCH

    def middle(self, column: int) -> int:
        """Return the middle line of a column."""
        left = (self.width - self._across) // 2
        return left + (column - self.shown.start) * (BOX[0] + GAP[0]) + BOX[0] // 2

    def corner(self, box: Box) -> Point:
        """Return the upper left corner of a box."""
        x = self.middle(box.column) - BOX[0] // 2
        return x, self._top(box.column) + box.row * _PITCH

    def gaps(self, column: int) -> list[int]:
        """Return the middle of every gap of a column, from above its first box on."""
        count = len(self._columns[column].boxes)
        above = self._top(column) - GAP[1] // 2
        return [above + row * _PITCH for row in range(count + 1)]

    def on_sheet(self, way: Sequence[Point]) -> list[Point]:
        """Return the part of a way that is on the sheet, run out to its edges.

        A way is level where it crosses an edge, so it leaves at the height of the point
        before it; one that crosses the whole sheet has no point on it.
        """
        inside = [place for place, (x, _) in enumerate(way) if 0 <= x <= self.width]
        if not inside:
            return [
                (self._edge(point), a[1])
                for a, b in pairwise(way)
                if a[1] == b[1] and self._edge(a) != self._edge(b)
                for point in (a, b)
            ]
        first, last = inside[0], inside[-1]
        kept = list(way[first : last + 1])
        if first > 0:
            kept.insert(0, (self._edge(way[first - 1]), kept[0][1]))
        if last < len(way) - 1:
            kept.append((self._edge(way[last + 1]), kept[-1][1]))
        return kept

    def _edge(self, beyond: Point) -> int:
        return 0 if beyond[0] < 0 else self.width

    def _top(self, column: int) -> int:
        return HEAD + self._columns[column].top * _PITCH // 2
