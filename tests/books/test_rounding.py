"""ledger.books.rounding: never in the maker's favour, and shown without false digits."""

from fractions import Fraction

import pytest

from ledger.books.rounding import credited, drawn, exactly, owed, shown


@pytest.mark.parametrize(
    ("exact", "down", "up"),
    [
        (Fraction(0), 0, 0),
        (Fraction(7), 7, 7),
        (Fraction(1, 10**9), 0, 1),
        (Fraction(13, 2), 6, 7),
        (7 - Fraction(1, 10**9), 6, 7),
    ],
)
def test_credits_go_down_and_draws_and_debts_go_up(
    exact: Fraction, down: int, up: int
) -> None:
    assert (credited(exact), drawn(exact), owed(exact)) == (down, up, up)


@pytest.mark.parametrize(
    ("figure", "text"),
    [
        (Fraction(0), "0.00"),
        (Fraction(2400), "2400.00"),
        (Fraction(5, 2), "2.50"),
        (Fraction("-125.5"), "-125.50"),
        (Fraction("0.123456789"), "0.123456789"),
        (Fraction("0.1234567891"), "0.123456789…"),
        (Fraction(2, 3), "0.666666666…"),
        (Fraction(-2, 3), "-0.666666666…"),
        (Fraction(10**40) + Fraction(1, 8), f"1{'0' * 40}.125"),
    ],
)
def test_a_figure_is_shown_exact_or_marked_as_cut(figure: Fraction, text: str) -> None:
    assert shown(figure) == text


@pytest.mark.parametrize(
    ("figure", "text"),
    [
        (Fraction(3), "3"),
        (Fraction(1, 2), "0.5"),
        (Fraction(1, 10), "0.1"),
        (Fraction(45359237, 10**8), "0.45359237"),
        (Fraction(-5, 4), "-1.25"),
        (10**40 + Fraction(1, 8), f"1{'0' * 40}.125"),
    ],
)
def test_an_exact_figure_has_as_many_decimals_as_it_needs(
    figure: Fraction, text: str
) -> None:
    assert exactly(figure) == text


def test_a_large_figure_is_shown_with_every_digit() -> None:
    assert shown(Fraction(10**40 + 1)) == f"1{'0' * 39}1.00"
