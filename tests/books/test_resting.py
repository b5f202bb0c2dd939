"""ledger.books.resting: what is counted again when what it rests on changes."""

from datetime import date

from ledger.books.account import Account
from ledger.books.rolling import average_on
from tests.world import SCHEME, certified


def test_terms_that_average_count_all_that_moved_from_their_first_day_on() -> None:
    """They are recorded late: what came in, went out and came back is counted again."""
    world = certified()
    first = "2025-03-01"
    world.receive({"P": "100"}, first, contract="PLAIN")
    world.sell("X", {"P": "50"}, first)
    world.take_back("R", "X", {"P": "20"}, first)
    method = "rolling average percentage"
    world.terms(valid_from=first, method=method, window_months=3)

    account = Account(SCHEME, "cocoa", "mill", "conventional", "all")
    found = average_on(world.shelf, account, date.fromisoformat(first))

    assert found is not None
    assert (found.input_g, found.output_g) == (100_000, 30_000)
    assert world.rebuilt_alike()
