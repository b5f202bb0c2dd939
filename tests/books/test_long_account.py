"""An account with many movements is added up piece by piece, and comes to the same."""

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ledger.books import balance
from ledger.books.account import Account
from ledger.books.balance import balance_of
from ledger.books.effect import Cause, Effects, Posting, Recorded
from ledger.books.memory import MemoryShelf
from tests.books.test_floor import QUARTERS
from tests.world import World, certified

FIRST = date(2025, 1, 1)
DAYS = st.integers(0, 200).map(lambda days: FIRST + timedelta(days=days))
MOVES = st.lists(st.tuples(DAYS, st.integers(-60_000, 60_000)), max_size=25)
ACCOUNT = Account("fairfield", "cocoa", "mill", "conventional", "all")


@pytest.fixture(scope="module")
def terms() -> World:
    """Terms that let accounts stand fifty kilograms below zero within a quarter."""
    return certified(**QUARTERS)


def shelf_of(terms: World, moves: list[tuple[date, int]]) -> MemoryShelf:
    """Return a shelf with terms on which one account moved so, allowed or not."""
    shelf = terms.shelf.copy()
    party = next(iter(shelf.of_kind("party.registered"))).record
    for place, (day, grams) in enumerate(moves):
        recorded = Recorded(
            slot=1000 + place,
            seq=1000 + place,
            occurred_on=day,
            recorded_at=datetime(2026, 1, 1, tzinfo=UTC),
            recorded_by="clerk",
            record=party,
        )
        posting = Posting(ACCOUNT.tally, day, grams, Cause.RECEIVED)
        shelf.put(recorded, Effects(postings=(posting,)))
    return shelf


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(
    moves=MOVES,
    since=st.none() | DAYS,
    until=st.none() | DAYS,
    at_a_time=st.integers(1, 4),
)
def test_however_few_days_are_in_memory_it_comes_to_the_same(
    terms: World,
    monkeypatch: pytest.MonkeyPatch,
    moves: list[tuple[date, int]],
    since: date | None,
    until: date | None,
    at_a_time: int,
) -> None:
    shelf = shelf_of(terms, moves)
    at_once = balance_of(shelf, ACCOUNT, since=since, until=until)
    with monkeypatch.context() as patched:
        patched.setattr(balance, "_DAYS_AT_A_TIME", at_a_time)
        in_pieces = balance_of(shelf, ACCOUNT, since=since, until=until)

    assert in_pieces == at_once
    of_them = [
        grams
        for day, grams in moves
        if (since is None or day >= since) and (until is None or day <= until)
    ]
    assert in_pieces.closing_g - in_pieces.opening_g == sum(of_them)
