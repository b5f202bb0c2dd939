"""ledger.books.quarter: three months of a calendar year."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.books.quarter import Quarter
from ledger.errors import InputError


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("2026Q1", "2026-01-01", "2026-03-31"),
        ("2024Q1", "2024-01-01", "2024-03-31"),
        ("2026Q2", "2026-04-01", "2026-06-30"),
        ("2026Q3", "2026-07-01", "2026-09-30"),
        ("2026Q4", "2026-10-01", "2026-12-31"),
        ("1900Q1", "1900-01-01", "1900-03-31"),
        ("9998Q4", "9998-10-01", "9998-12-31"),
    ],
)
def test_a_quarter_has_three_months(text: str, first: str, last: str) -> None:
    quarter = Quarter.parse(text)

    assert (str(quarter), str(quarter.first), str(quarter.last)) == (text, first, last)


@pytest.mark.parametrize(
    "text", ["2026q1", "2026Q5", "2026Q0", "26Q1", "", "1899Q4", "9999Q1", "Q1"]
)
def test_what_is_no_quarter_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="is not a quarter; write the year"):
        Quarter.parse(text)


@given(day=st.dates(date(1901, 1, 1), date(9990, 1, 1)))
def test_every_day_lies_in_one_quarter_and_quarters_follow(day: date) -> None:
    quarter = Quarter.of(day)

    assert quarter.first <= day <= quarter.last
    assert quarter.next.first == quarter.last + timedelta(days=1)
    assert quarter.next.before == quarter
    assert Quarter.parse(str(quarter)) == quarter
