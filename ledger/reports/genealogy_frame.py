"""The measures of a drawn trace: where columns, rows and the gaps between them lie."""

from typing import Final

from ledger.reports.genealogy_boxes import Box, Layout
from ledger.reports.svg import Point

BOX: Final = (1240, 560)
GAP: Final = (600, 160)
MARGIN: Final = 250
HEAD: Final = 900
_LEAST_WIDTH: Final = 7400
_PITCH: Final = BOX[1] + GAP[1]


class Frame:
    """Where everything of a layout lies on the sheet, in units."""

    def __init__(self, layout: Layout) -> None:
        self._columns = layout.columns
        count = len(layout.columns)
        self._across = count * (BOX[0] + GAP[0]) - GAP[0]
        self._rows = max((len(c.boxes) for c in layout.columns), default=1)

    @property
    def width(self) -> int:
        """Width of the sheet."""
        return max(self._across + 2 * MARGIN, _LEAST_WIDTH)

    @property
    def bottom(self) -> int:
        """Where the lowest row ends, with the gap below it."""
        return HEAD + self._rows * _PITCH

    def middle(self, column: int) -> int:
        """Return the middle line of a column."""
        left = (self.width - self._across) // 2
        return left + column * (BOX[0] + GAP[0]) + BOX[0] // 2

    def corner(self, box: Box) -> Point:
        """Return the upper left corner of a box."""
        x = self.middle(box.column) - BOX[0] // 2
        return x, self._top(box.column) + box.row * _PITCH

    def gaps(self, column: int) -> list[int]:
        """Return the middle of every gap of a column, from above its first box on."""
        count = len(self._columns[column].boxes)
        above = self._top(column) - GAP[1] // 2
        return [above + row * _PITCH for row in range(count + 1)]

    def _top(self, column: int) -> int:
        return HEAD + self._columns[column].top * _PITCH // 2
