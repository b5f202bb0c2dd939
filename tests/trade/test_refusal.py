"""ledger.trade.refusal: a refused value is printed safely."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.trade.refusal import as_given


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        ("12.3456", '"12.3456"'),
        ("two\nlines", '"two\\nlines"'),
        ("\x1b[31mred", '"\\x1b[31mred"'),
        ("\ud800", '"\\ud800"'),
        (1.5, "1.5"),
        (True, "true"),
        (None, "null"),
        (7, "7"),
        (Decimal("1E+9"), "1E+9"),
        (date(2026, 3, 2), "2026-03-02"),
        ([1, 2], "a list"),
        ({"a": 1}, "a dict"),
    ],
)
def test_values_are_shown_as_they_were_given(value: object, shown: str) -> None:
    assert shown == as_given(value)


def test_long_text_is_cut_and_says_so() -> None:
    assert f'"{"x" * 60}…"' == as_given("x" * 500)


def test_an_integer_too_long_for_str_is_still_shown() -> None:
    assert as_given(10**5000) == "1" + "0" * 59 + "…"


@given(st.text())
def test_whatever_is_shown_can_be_printed_on_one_line(text: str) -> None:
    shown = as_given(text)

    assert shown.encode()
    assert len(shown.splitlines()) == 1
