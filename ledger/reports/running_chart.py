"""The running balance of an account, drawn: a step line over its zero floor line."""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from itertools import groupby
from operator import itemgetter
from typing import Final

from ledger.books.balance import Balance, RunningLine
from ledger.books.effect import Cause
from ledger.reports.axis import Span, month_starts, ticks
from ledger.reports.balance_table import UNIT, heading_of
from ledger.reports.figures import grouped, kg_text
from ledger.reports.svg import (
    UNITS_PER_PIXEL,
    Drawing,
    Point,
    Sheet,
    diamond,
    triangle,
)

WIDTH: Final = 7000
HEIGHT: Final = 3050
_LEFT, _RIGHT, _TOP, _BOTTOM = 900, 6900, 450, 2350
_SMALL: Final = 100
_MARK: Final = 38
_GRAMS_PER_KILOGRAM: Final = 1000
_CORNERS_OF_A_STROKE: Final = 4
_MOST_MARKS: Final = 2_000
"""More marks or corners lie on each other, and a page would grow for nothing."""


def running_chart(
    balance: Balance,
    lines: Sequence[RunningLine],
    *,
    since: date | None = None,
    until: date | None = None,
    floor_g: int = 0,
) -> Drawing:
    """Return the running balance of an account as a step line.

    Receipts are solid triangles on the line, claims ticks below the axis, everything
    else open diamonds on the line.

    Args:
        balance: The account, over the same stretch of time.
        lines: Its movements in the order in which they count.
        since: First day of the drawing; that of the first movement where left out.
        until: Last day; that of the last movement where left out.
        floor_g: How low it may stand on the last day, in grams, 0 or below.
    """
    sheet = Sheet(
        WIDTH,
        HEIGHT,
        title=f"Running balance of {balance.account}",
        description=_description(balance, lines),
    )
    first, last = _days(lines, since, until)
    across = Span(first.toordinal(), last.toordinal(), _LEFT, _RIGHT)
    standing = [balance.opening_g, *(line.standing_g for line in lines)]
    levels = ticks(
        min(floor_g, *standing) // _GRAMS_PER_KILOGRAM,
        -(-max(0, *standing) // _GRAMS_PER_KILOGRAM),
    )
    up = Span(
        levels[0] * _GRAMS_PER_KILOGRAM,
        levels[-1] * _GRAMS_PER_KILOGRAM,
        _BOTTOM,
        _TOP,
    )
    sheet.text((0, 120), f"Running balance of {balance.account}", weight="bold")
    _draw_axes(sheet, across, up, levels, (first, last), floor_g)
    _draw_floor(sheet, up, floor_g)
    drawn = _drawn(lines)
    corners = _corners(balance, drawn, across, up)
    _shade_below_zero(sheet, corners, up.at(0))
    sheet.path(corners, width=16)
    _draw_marks(sheet, drawn, across, up)
    _draw_lowest(sheet, balance, across, up)
    _draw_key(sheet)
    return sheet.finished()


def _drawn(lines: Sequence[RunningLine]) -> list[RunningLine]:
    """Return the lines that make a difference to the drawing.

    Claims that follow each other on one day lie on one upright stroke and share one tick,
    so the last of them draws them all. A long account has many.
    """
    found: list[RunningLine] = []
    for line in lines:
        last = found[-1].movement if found else None
        this = line.movement
        if last and last.day == this.day and last.cause is this.cause is Cause.SOLD:
            found.pop()
        found.append(line)
    return found


def _days(
    lines: Sequence[RunningLine], since: date | None, until: date | None
) -> tuple[date, date]:
    moved = [line.movement.day for line in lines]
    first = since or min(moved, default=until or date(2000, 1, 1))
    last = until or max(moved, default=first)
    return first, max(last, first + timedelta(days=1))


def _corners(
    balance: Balance, lines: Sequence[RunningLine], across: Span, up: Span
) -> list[Point]:
    level = up.at(balance.opening_g)
    corners = [(_LEFT, level)]
    for line in lines:
        x = across.at(line.movement.day.toordinal())
        corners.append((x, level))
        level = up.at(line.standing_g)
        corners.append((x, level))
    return _thinned([*corners, (_RIGHT, level)])


def _thinned(corners: Sequence[Point]) -> list[Point]:
    """Return corners that draw the same line, however long the account is.

    What moves up and down within one pixel is one upright stroke there: its first, lowest,
    highest and last corner draw it.
    """
    if len(corners) <= _MOST_MARKS:
        return list(corners)
    found: list[Point] = []
    for _, column in groupby(corners, key=lambda at: at[0] // UNITS_PER_PIXEL):
        stroke = list(column)
        if len(stroke) > _CORNERS_OF_A_STROKE:
            low, high = min(stroke, key=itemgetter(1)), max(stroke, key=itemgetter(1))
            stroke = [stroke[0], low, high, stroke[-1]]
        found += stroke
    return found


def _draw_axes(
    sheet: Sheet,
    across: Span,
    up: Span,
    levels: Sequence[int],
    days: tuple[date, date],
    floor_g: int,
) -> None:
    sheet.text((0, 270), f"Standing, {UNIT}", size=_SMALL)
    for level in levels:
        y = up.at(level * _GRAMS_PER_KILOGRAM)
        sheet.line((_LEFT - 50, y), (_RIGHT, y), width=4, ink="#999999")
        if level * _GRAMS_PER_KILOGRAM != floor_g:
            words = grouped(str(level))
            sheet.text((_LEFT - 90, y + 35), words, size=_SMALL, anchor="end")
    zero = up.at(0)
    sheet.line((_LEFT, zero), (_RIGHT, zero), width=24)
    sheet.line((_LEFT, _TOP), (_LEFT, _BOTTOM), width=8)
    for day in month_starts(*days):
        x = across.at(day.toordinal())
        sheet.line((x, _BOTTOM + 130), (x, _BOTTOM + 180), width=8)
        words = f"{day:%Y-%m}"
        sheet.text((x, _BOTTOM + 300), words, size=_SMALL, anchor="middle")
    sheet.line((_LEFT, _BOTTOM + 130), (_RIGHT, _BOTTOM + 130), width=8)


def _draw_floor(sheet: Sheet, up: Span, floor_g: int) -> None:
    y = up.at(floor_g)
    if floor_g:
        sheet.path([(_LEFT, y), (_RIGHT, y)], width=24, dashes="90 50")
    words = f"floor {grouped(str(-(-floor_g // _GRAMS_PER_KILOGRAM)))}"
    sheet.text((_LEFT - 90, y + 35), words, size=_SMALL, anchor="end")


def _shade_below_zero(sheet: Sheet, corners: Sequence[Point], zero: int) -> None:
    below = [(x, max(y, zero)) for x, y in corners]
    if any(y > zero for _, y in below):
        sheet.shape([(_LEFT, zero), *below, (_RIGHT, zero)], fill="#bbbbbb")


def _draw_marks(
    sheet: Sheet, lines: Sequence[RunningLine], across: Span, up: Span
) -> None:
    for line in _marked(lines, across):
        x, y = across.at(line.movement.day.toordinal()), up.at(line.standing_g)
        if line.movement.cause is Cause.RECEIVED:
            sheet.shape(triangle((x, y - 2 * _MARK), size=_MARK))
        elif line.movement.cause is Cause.SOLD:
            sheet.line((x, _BOTTOM + 40), (x, _BOTTOM + 110), width=6)
        else:
            sheet.shape(diamond((x, y), size=_MARK), fill="white")


def _marked(lines: Sequence[RunningLine], across: Span) -> Iterable[RunningLine]:
    """Return the movements that get a mark: of many, one of a cause in a pixel."""
    if len(lines) <= _MOST_MARKS:
        return lines
    return {
        (
            across.at(line.movement.day.toordinal()) // UNITS_PER_PIXEL,
            line.movement.cause,
        ): line
        for line in lines
    }.values()


def _draw_lowest(sheet: Sheet, balance: Balance, across: Span, up: Span) -> None:
    if balance.lowest_on is None:
        return
    lowest = across.at(balance.lowest_on.toordinal()), up.at(balance.lowest_g)
    sheet.ring(lowest, radius=60)
    words = f"lowest {grouped(kg_text(balance.lowest_g))} on {balance.lowest_on}"
    sheet.text((_RIGHT, 270), words, size=_SMALL, anchor="end")


def _draw_key(sheet: Sheet) -> None:
    y, middle = HEIGHT - 60, HEIGHT - 95
    sheet.shape(triangle((_LEFT + 40, middle - _MARK), size=_MARK))
    sheet.text((_LEFT + 130, y), heading_of(Cause.RECEIVED), size=_SMALL)
    sheet.line((_LEFT + 1000, middle - 35), (_LEFT + 1000, middle + 35), width=6)
    sheet.text((_LEFT + 1060, y), heading_of(Cause.SOLD), size=_SMALL)
    sheet.shape(diamond((_LEFT + 1840, middle), size=_MARK), fill="white")
    others = "Returned, written off, lapsed, corrected"
    sheet.text((_LEFT + 1930, y), others, size=_SMALL)
    sheet.ring((_LEFT + 4700, middle), radius=60)
    sheet.text((_LEFT + 4830, y), "Lowest", size=_SMALL)


def _description(balance: Balance, lines: Sequence[RunningLine]) -> str:
    low = (
        "It did not move."
        if balance.lowest_on is None
        else f"It stood lowest on {balance.lowest_on}, at {kg_text(balance.lowest_g)}."
    )
    return (
        f"Step line in {UNIT}: opens at {kg_text(balance.opening_g)}, closes at "
        f"{kg_text(balance.closing_g)} after {len(lines)} movements. {low}"
    )
