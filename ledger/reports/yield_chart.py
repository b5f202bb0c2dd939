"""Yields of one kind of batch drawn in the order of time, with their control limits."""

from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction
from typing import Final

from ledger.books.yield_ratio import ControlLimits, MeasuredYield, YieldSeries
from ledger.reports.axis import Span, ticks
from ledger.reports.figures import percent_text
from ledger.reports.phrases import told
from ledger.reports.svg import Drawing, Point, Sheet, diamond
from ledger.reports.tongue import PLAIN, Tongue

LEAST_BATCHES: Final = 5
"""Batches from which on a drawing says more than a table (common practice, no source)."""

WIDTH: Final = 7000
HEIGHT: Final = 1750
_LEFT, _RIGHT, _TOP, _BOTTOM = 650, 5650, 300, 1350
_SMALL: Final = 100
_MARK: Final = 42
_MOST_DATES: Final = 7
_STEPS: Final = 10_000
"""Steps of one per cent on the axis."""
_BREADTH: Final = 62
"""Mean breadth of a letter."""
_LIMIT_DASHES: Final = "90 50"


def is_drawn(series: YieldSeries) -> bool:
    """Tell whether yields are worth a drawing: enough of them, and not all alike."""
    return (
        len(series.measured) >= LEAST_BATCHES
        and series.limits is not None
        and series.limits.mean_range > 0
    )


def kind_of(series: YieldSeries, tongue: Tongue = PLAIN) -> str:
    """Return what batches of a series have in common, such as "conche on conche-1, D70"."""
    made = tongue.says(series.step)
    if series.equipment:
        made = told(tongue.says("{1} on {2}"), made, series.equipment)
    return f"{made}{''.join(f', {one}' for one in series.recipes)}"


def yield_chart(series: YieldSeries, tongue: Tongue = PLAIN) -> Drawing:
    """Return the yields of one kind of batch as a control chart.

    Batches within the limits are open, those outside solid and named.

    Args:
        series: Yields, of at least two batches.
        tongue: How to say what kind of batch it is.
    """
    kind, count = kind_of(series, tongue), len(series.measured)
    title = tongue.says(f"Yields of {kind}, {count} batches, per cent")
    sheet = Sheet(WIDTH, HEIGHT, title=title, description=_description(series))
    sheet.text((0, 130), title, weight="bold")
    ratios = [one.ratio for one in series.measured]
    limits = series.limits
    shown = [*ratios, *([] if limits is None else [limits.lower, limits.upper])]
    levels = ticks(_scaled(min(shown)), _scaled(max(shown)) + 1)
    up = Span(levels[0], levels[-1], _BOTTOM, _TOP)
    across = Span(0, max(len(ratios) - 1, 1), _LEFT + 150, _RIGHT - 150)
    _draw_axes(sheet, up, levels)
    _draw_dates(sheet, across, series)
    if limits is not None:
        _draw_limits(sheet, up, limits)
    points = [
        (across.at(place), up.at(_scaled(ratio))) for place, ratio in enumerate(ratios)
    ]
    sheet.path(points, width=6)
    outside = {one.recorded.slot for one in series.outside}
    for (x, y), one in zip(points, series.measured, strict=True):
        if one.recorded.slot in outside:
            sheet.shape(diamond((x, y), size=_MARK + 20))
            _draw_name(sheet, (x, y), one)
        else:
            sheet.shape(diamond((x, y), size=_MARK), fill="white")
    return sheet.finished()


def _scaled(ratio: Fraction) -> int:
    """Return a ratio in steps of the axis, rounded down."""
    whole = ratio * 100 * _STEPS
    return whole.numerator // whole.denominator


def _draw_axes(sheet: Sheet, up: Span, levels: Iterable[int]) -> None:
    marks = tuple(levels)
    places = _decimals(marks[1] - marks[0])
    for level in marks:
        y = up.at(level)
        sheet.line((_LEFT - 50, y), (_RIGHT, y), width=4, ink="#bbbbbb")
        words = f"{Decimal(level) / _STEPS:.{places}f}"
        sheet.text((_LEFT - 90, y + 35), words, size=_SMALL, anchor="end")
    sheet.line((_LEFT, _TOP), (_LEFT, _BOTTOM), width=8)


def _decimals(apart: int) -> int:
    """Return how many decimals tell figures apart that lie some steps apart."""
    places = 0
    while apart * 10**places % _STEPS:
        places += 1
    return places


def _draw_dates(sheet: Sheet, across: Span, series: YieldSeries) -> None:
    count = len(series.measured)
    apart = -(-count // _MOST_DATES)
    for place in range(0, count, apart):
        x = across.at(place)
        words = f"{series.measured[place].recorded.occurred_on:%Y-%m-%d}"
        sheet.line((x, _BOTTOM + 20), (x, _BOTTOM + 70), width=8)
        sheet.text((x, _BOTTOM + 200), words, size=_SMALL, anchor="middle")
    words = "Batches in the order of time; some dates named"
    sheet.text((_LEFT, _BOTTOM + 350), words, size=_SMALL)


def _draw_limits(sheet: Sheet, up: Span, limits: ControlLimits) -> None:
    levels = {
        name: (ratio, up.at(_scaled(ratio)))
        for name, ratio in (
            ("upper limit", limits.upper),
            ("mean", limits.mean),
            ("lower limit", limits.lower),
        )
    }
    for name, (ratio, y) in levels.items():
        dashes = "none" if name == "mean" else _LIMIT_DASHES
        sheet.path([(_LEFT, y), (_RIGHT, y)], width=12, dashes=dashes)
        sheet.text(
            (_RIGHT + 60, y + 35), f"{name}  {percent_text(ratio)} %", size=_SMALL
        )


def _draw_name(sheet: Sheet, at: Point, one: MeasuredYield) -> None:
    """Name a batch beside its mark, on the side where there is more room."""
    x, y = at
    words = one.batch.batch
    breadth = len(words) * _BREADTH
    is_right = x > (_LEFT + _RIGHT) // 2
    left = x - 100 - breadth if is_right else x + 100
    sheet.blank((left - 20, y - 60), (breadth + 40, 115))
    anchor = "end" if is_right else "start"
    at_text = (x - 100 if is_right else x + 100), y + 35
    sheet.text(at_text, words, size=_SMALL, anchor=anchor)


def _description(series: YieldSeries) -> str:
    ratios = [one.ratio for one in series.measured]
    limits = series.limits
    first, last = (series.measured[at].recorded.occurred_on for at in (0, -1))
    lowest, highest = percent_text(min(ratios)), percent_text(max(ratios))
    parts = [f"From {lowest} to {highest}, between {first} and {last}."]
    if limits is not None:
        parts.append(
            f"Mean {percent_text(limits.mean)}, lower limit {percent_text(limits.lower)}, "
            f"upper limit {percent_text(limits.upper)}."
        )
    outside = "; ".join(
        f"{one.batch.batch} of {one.recorded.occurred_on} with {percent_text(one.ratio)}"
        for one in series.outside
    )
    parts.append(f"Outside: {outside or 'none'}.")
    return " ".join(parts)
