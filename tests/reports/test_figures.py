"""Figures as text."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.reports.figures import (
    NARROW_SPACE,
    grouped,
    kg_text,
    mass_text,
    mass_words,
    percent_text,
    share_words,
)
from ledger.trade.grams import show_kg


@given(st.integers(-(10**15), 10**15))
def test_kilograms_read_as_the_trade_writes_them(grams: int) -> None:
    assert kg_text(grams) == show_kg(grams)


@given(st.integers(-(10**15), 10**15))
def test_kilograms_are_exact(grams: int) -> None:
    assert Decimal(kg_text(grams)) * 1000 == grams


@pytest.mark.parametrize(
    ("grams", "text"),
    [
        (Fraction(1, 3), "0.000"),
        (Fraction(2, 3), "0.001"),
        (Fraction(2500, 2), "1.250"),
        (Fraction(-2, 3), "-0.001"),
    ],
)
def test_part_of_a_mass_is_shown_to_the_nearest_gram(
    grams: Fraction, text: str
) -> None:
    assert mass_text(grams) == text


@pytest.mark.parametrize(
    ("share", "text"),
    [
        (Fraction(1), "100.0000"),
        (Fraction(1, 8), "12.5000"),
        (Fraction(1, 3), "33.3333"),
        (Fraction(2, 3), "66.6667"),
        (Fraction(1, 10**8), "0.0000"),
        (Fraction(0), "0.0000"),
    ],
)
def test_share_is_shown_in_per_cent(share: Fraction, text: str) -> None:
    assert percent_text(share) == text


@pytest.mark.parametrize(
    ("figure", "shown"),
    [
        ("1234567.891", "1_234_567.891"),
        ("-1000.000", "-1_000.000"),
        ("999.999", "999.999"),
        ("0.000", "0.000"),
        ("2026-03-02", "2026-03-02"),
        ("L-1000", "L-1000"),
        ("1234/5", "1234/5"),
    ],
)
def test_whole_digits_stand_in_groups_of_three(figure: str, shown: str) -> None:
    """SI Brochure, 9th edition, 5.4.4: spaces, and neither dots nor commas."""
    assert grouped(figure) == shown.replace("_", NARROW_SPACE)


@pytest.mark.parametrize(
    ("grams", "words"),
    [
        (Fraction(0), "0.000 kg"),
        (Fraction(1, 3), "under 1 g"),
        (Fraction(1, 2), "0.000 kg"),
        (Fraction(2, 3), "0.001 kg"),
        (Fraction(2_400_500), f"2{NARROW_SPACE}400.500 kg"),
    ],
)
def test_a_mass_in_words_is_never_nothing_where_there_is_some(
    grams: Fraction, words: str
) -> None:
    assert mass_words(grams) == words


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (Fraction(0), "0.0 %"),
        (Fraction(1, 2001), "under 0.1 %"),
        (Fraction(1, 1000), "0.1 %"),
        (Fraction(1, 3), "33.3 %"),
        (Fraction(1), "100.0 %"),
    ],
)
def test_a_share_in_words_is_never_nothing_where_there_is_some(
    share: Fraction, words: str
) -> None:
    assert share_words(share) == words
