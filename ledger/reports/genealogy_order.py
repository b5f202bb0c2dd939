"""Which box of a drawn trace lies above which, so that links cross little."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import Final

from ledger.reports.genealogy_boxes import Box, Column, Link, Sort

_SWEEPS: Final = 8


def untangle(columns: Sequence[Column], links: Sequence[Link]) -> None:
    """Order the boxes so that links cross little: each beside what it is linked to."""
    beside: dict[int, list[Box]] = defaultdict(list)
    for link in links:
        if link.span > 0:
            beside[id(link.source)].append(link.target)
            beside[id(link.target)].append(link.source)
    _number_rows(columns)
    for sweep in range(_SWEEPS):
        forth = sweep % 2 == 0
        for column in columns if forth else reversed(columns):
            seen = {
                id(box): [
                    other
                    for other in beside[id(box)]
                    if (other.column < box.column) == forth
                ]
                for box in column.boxes
            }
            column.boxes.sort(key=lambda box: _wish(box, seen[id(box)], columns))
            _number_rows([column])


def _number_rows(columns: Iterable[Column]) -> None:
    for column in columns:
        for row, box in enumerate(column.boxes):
            box.row = row


def _wish(
    box: Box, others: Sequence[Box], columns: Sequence[Column]
) -> tuple[bool, Fraction, int]:
    """Return where a box would like to be: the rest last, others by their neighbours."""
    heights = [_height(other, columns) for other in others or [box]]
    return box.sort is Sort.REST, sum(heights, Fraction(0)) / len(heights), box.row


def _height(box: Box, columns: Sequence[Column]) -> Fraction:
    """Return how far down a box lies, from the middle of its column."""
    return Fraction(2 * box.row + 1 - len(columns[box.column].boxes), 2)


def straighten(columns: Sequence[Column], links: Sequence[Link]) -> None:
    """Shift whole columns up or down until most of the mass runs level."""
    rows = max((len(column.boxes) for column in columns), default=0)
    for column in columns:
        column.top = rows - len(column.boxes)
    for sweep in range(_SWEEPS):
        for column in columns if sweep % 2 else reversed(columns):
            spare = 2 * (rows - len(column.boxes))
            column.top = min(max(0, column.top + _slope(column, columns, links)), spare)


def _slope(column: Column, columns: Sequence[Column], links: Sequence[Link]) -> int:
    """Return half rows by which the neighbours of a column lie lower, by mass."""
    slopes: list[tuple[Fraction, int]] = []
    for link in links:
        source, target = columns[link.source.column], columns[link.target.column]
        drop = target.top + 2 * link.target.row - source.top - 2 * link.source.row
        if link.span > 0 and source is column:
            slopes.append((link.grams, drop))
        elif link.span > 0 and target is column:
            slopes.append((link.grams, -drop))
    whole = sum((grams for grams, _ in slopes), Fraction(0))
    return round(sum(grams * drop for grams, drop in slopes) / whole) if whole else 0
