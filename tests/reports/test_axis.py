"""Axes name round figures and first days of months, and place them evenly."""

from datetime import date
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.reports.axis import Span, month_starts, ticks

FIGURES = st.integers(-(10**9), 10**9)


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        (0, 0, (0, 1)),
        (0, 6, (0, 1, 2, 3, 4, 5, 6)),
        (0, 7, (0, 2, 4, 6, 8)),
        (0, 16_000, (0, 5_000, 10_000, 15_000, 20_000)),
        (-1_900, 9_300, (-2_000, 0, 2_000, 4_000, 6_000, 8_000, 10_000)),
    ],
)
def test_ticks_are_round(low: int, high: int, expected: tuple[int, ...]) -> None:
    assert ticks(low, high) == expected


@given(FIGURES, FIGURES)
def test_ticks_take_in_the_whole_stretch(one: int, other: int) -> None:
    low, high = sorted((one, other))

    found = ticks(low, high)

    assert found[0] <= low
    assert high <= found[-1]
    assert 2 <= len(found) <= 7
    assert len({after - before for before, after in pairwise(found)}) == 1


@pytest.mark.parametrize(
    ("first", "last", "expected"),
    [
        (date(2026, 1, 1), date(2026, 2, 28), ["2026-01-01", "2026-02-01"]),
        (date(2026, 1, 2), date(2026, 1, 31), []),
        (
            date(2024, 12, 15),
            date(2026, 1, 1),
            [
                "2025-01-01",
                "2025-03-01",
                "2025-05-01",
                "2025-07-01",
                "2025-09-01",
                "2025-11-01",
                "2026-01-01",
            ],
        ),
    ],
)
def test_month_starts_lie_between_the_days(
    first: date, last: date, expected: list[str]
) -> None:
    assert [day.isoformat() for day in month_starts(first, last)] == expected


@given(st.dates(date(1900, 1, 1), date(2090, 1, 1)), st.integers(0, 20_000))
def test_there_are_never_too_many_dates(first: date, days: int) -> None:
    last = date.fromordinal(first.toordinal() + days)

    found = month_starts(first, last)

    assert len(found) <= 9
    assert all(first <= day <= last and day.day == 1 for day in found)


def test_span_runs_from_end_to_end() -> None:
    span = Span(low=-5, high=5, at_low=1000, at_high=0)

    assert [span.at(figure) for figure in (-5, 0, 5)] == [1000, 500, 0]
