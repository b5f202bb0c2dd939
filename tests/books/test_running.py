"""ledger.books.running: where a total falls below zero, and what made it worse."""

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from ledger.books.effect import Cause
from ledger.books.running import Day, days, in_order, worse_days
from ledger.books.shelf import Movement, Run

MONDAY = date(2025, 3, 3)
TUESDAY = MONDAY + timedelta(days=1)


def always(_on: date) -> bool:
    return True


def move(on: date, slot: int, grams: int, line: int = 0) -> Movement:
    return Movement(on, slot, line, grams, Cause.CORRECTED)


def run(*movements: Movement, opening_g: int = 0) -> Run:
    return Run(opening_g, tuple(sorted(movements)))


def test_movements_of_a_date_count_in_the_order_recorded() -> None:
    moved = run(move(MONDAY, 1, -30), move(MONDAY, 2, 50))

    assert list(days(moved)) == [Day(MONDAY, -30, 20)]


def test_receipts_count_first_where_the_terms_say_so() -> None:
    moved = run(move(MONDAY, 1, -30), move(MONDAY, 2, 50))

    assert list(days(moved, receipts_first=always)) == [Day(MONDAY, 20, 20)]
    assert in_order(moved.movements, receipts_first=always) == [
        move(MONDAY, 2, 50),
        move(MONDAY, 1, -30),
    ]


def test_receipts_first_does_not_reach_over_a_date() -> None:
    moved = run(move(MONDAY, 1, -30), move(TUESDAY, 2, 50))

    assert list(days(moved, receipts_first=always)) == [
        Day(MONDAY, -30, -30),
        Day(TUESDAY, 20, 20),
    ]


def test_the_order_is_asked_for_only_where_it_makes_a_difference() -> None:
    asked = []

    def note(on: date) -> bool:
        asked.append(on)
        return False

    moved = run(
        move(MONDAY, 1, 50),
        move(MONDAY, 2, -30),
        move(TUESDAY, 3, -5),
        move(TUESDAY, 4, 9),
    )
    list(days(moved, receipts_first=note))

    assert asked == [TUESDAY]


def test_what_one_entry_does_on_a_date_counts_as_one_moment() -> None:
    moved = run(move(MONDAY, 1, -30, line=0), move(MONDAY, 1, 30, line=1))

    assert list(days(moved)) == [Day(MONDAY, 0, 0)]


def test_going_below_zero_is_worse() -> None:
    before, after = run(opening_g=10), run(move(MONDAY, 1, -11), opening_g=10)

    assert list(worse_days(before, after)) == [Day(MONDAY, -1, -1)]


def test_going_down_to_zero_is_not_worse() -> None:
    assert not list(
        worse_days(run(opening_g=10), run(move(MONDAY, 1, -10), opening_g=10))
    )


def test_a_total_that_stays_below_zero_and_rises_is_not_worse() -> None:
    before = run(opening_g=-50)
    after = run(move(MONDAY, 1, 20), opening_g=-50)

    assert not list(worse_days(before, after))


def test_a_total_that_a_breach_left_below_zero_may_not_sink_further() -> None:
    before = run(opening_g=-50)
    after = run(move(MONDAY, 1, -1), opening_g=-50)

    assert list(worse_days(before, after)) == [Day(MONDAY, -51, -51)]


def test_an_earlier_low_of_the_same_date_excuses_nothing() -> None:
    """A breach is made good by a receipt and the account overdrawn later that day.

    Its lowest is the breach in the morning, before and after; but in the evening it is
    below zero where it stood above.
    """
    morning = (move(MONDAY, 1, 10), move(MONDAY, 2, 100))
    before = run(*morning, opening_g=-50)
    after = run(*morning, move(MONDAY, 3, -90), opening_g=-50)

    assert list(worse_days(before, after)) == [Day(MONDAY, -30, -30)]


def test_a_later_date_that_an_earlier_one_leaves_short_is_named() -> None:
    sold = move(TUESDAY, 2, -10)
    before = run(sold, opening_g=10)
    after = run(sold, move(MONDAY, 3, -4), opening_g=10)

    assert list(worse_days(before, after)) == [Day(TUESDAY, -4, -4)]


GRAMS = st.integers(-9, 9).filter(bool)
MOVES = st.lists(st.tuples(st.integers(0, 3), st.integers(0, 5), GRAMS), max_size=8)


def moments(moved: Run) -> dict[tuple[date, int], int]:
    """Where a total stands after each moment, by a plain loop."""
    places = [(MONDAY + timedelta(days=n), slot) for n in range(4) for slot in range(6)]
    return {
        place: moved.opening_g
        + sum(m.grams for m in moved.movements if (m.day, m.slot) <= place)
        for place in places
    }


@given(MOVES, MOVES, st.integers(-5, 5))
def test_worse_is_below_zero_and_lower_at_the_same_moment(
    first: list[tuple[int, int, int]],
    second: list[tuple[int, int, int]],
    opening_g: int,
) -> None:
    before, after = (
        run(
            *(
                move(MONDAY + timedelta(days=day), slot, grams, line)
                for line, (day, slot, grams) in enumerate(moves)
            ),
            opening_g=opening_g,
        )
        for moves in (first, second)
    )
    old, new = moments(before), moments(after)

    moved = {(m.day, m.slot) for m in (*before.movements, *after.movements)}
    worse = {on for on, slot in moved if new[on, slot] < min(0, old[on, slot])}

    assert {day.on for day in worse_days(before, after)} == worse
