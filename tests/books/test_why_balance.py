"""ledger.books.why_balance: the movements of an account between two days."""

from datetime import date

from ledger.books.account import Account
from ledger.books.why_balance import why_balance
from tests.world import SCHEME, certified, claim


def test_days_before_and_after_those_asked_for_are_not_told() -> None:
    world = certified()
    world.receive({"L": "100"}, "2025-01-10")
    sold = [world.sell(f"V{n}", {"L": "10"}, f"2025-0{n}-01", claim()) for n in (2, 3)]
    account = Account(SCHEME, "cocoa", "mill", "conventional", "all")

    why = why_balance(
        world.shelf, account, since=date(2025, 2, 1), until=date(2025, 2, 28)
    )

    assert [one.recorded and one.recorded.seq for one in why.movements] == sold[:1]
    assert (why.opening_g, why.closing_g) == (100_000, 90_000)
