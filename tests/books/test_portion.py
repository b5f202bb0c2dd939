"""ledger.books.portion: what a part of a ledger shows, whole or not at all."""

from datetime import date

import pytest

from ledger.books.account import Account
from ledger.books.effect import Book, Recorded, Tally
from ledger.books.portion import Portion
from tests.world import MAKER, OTHER_SCHEME, SCHEME, World, claim, opened

FIRST, LAST = date(2025, 3, 1), date(2025, 3, 31)


@pytest.fixture
def world() -> World:
    """One contract under each of two schemes, one under none; a sale of each."""
    world = opened()
    for scheme in (SCHEME, OTHER_SCHEME):
        world.terms(scheme)
        for holder in (MAKER, "alder", "birch"):
            world.certify(holder, scheme)
    world.sign("A", "alder", claim(), on="2025-01-05")
    world.sign("B", "birch", claim(scheme=OTHER_SCHEME), on="2025-01-05")
    world.sign("C", "birch", on="2025-01-05")
    world.receive({"LA": "10"}, "2025-03-31", contract="A")
    world.receive({"LB": "10"}, "2025-04-01", contract="B")
    world.sell("XA", {"LA": "1"}, "2025-04-02", claim())
    world.sell("XB", {"LB": "1"}, "2025-04-02", claim(scheme=OTHER_SCHEME))
    world.sell("XC", {"LB": "1"}, "2025-04-02")
    return world


@pytest.mark.parametrize(
    ("portion", "day", "inside"),
    [
        (Portion(), "2025-03-01", True),
        (Portion(None, FIRST, LAST), "2025-02-28", False),
        (Portion(None, FIRST, LAST), "2025-03-01", True),
        (Portion(None, FIRST, LAST), "2025-03-31", True),
        (Portion(None, FIRST, LAST), "2025-04-01", False),
        (Portion(since=FIRST), "2025-04-01", True),
        (Portion(since=FIRST), "2025-02-28", False),
        (Portion(until=LAST), "2025-02-28", True),
        (Portion(until=LAST), "2025-04-01", False),
    ],
)
def test_it_covers_the_days_of_its_period(
    portion: Portion, day: str, *, inside: bool
) -> None:
    assert portion.covers(date.fromisoformat(day)) is inside


@pytest.mark.parametrize(
    ("portion", "dated"),
    [
        (Portion(), False),
        (Portion(scheme=SCHEME), False),
        (Portion(since=FIRST), True),
        (Portion(until=LAST), True),
    ],
)
def test_it_is_dated_where_it_has_a_first_or_a_last_day(
    portion: Portion, *, dated: bool
) -> None:
    assert portion.is_dated is dated


MINE = Account(SCHEME, "cocoa", "mill", "conventional", "all").tally
INPUT = Tally(Book.INPUT, MINE.key)


@pytest.mark.parametrize(
    ("portion", "lots", "accounts"),
    [
        (Portion(), True, True),
        (Portion(scheme=SCHEME), True, True),
        (Portion(scheme=OTHER_SCHEME), True, False),
        (Portion(sale="X"), True, False),
    ],
)
def test_it_keeps_lots_and_the_accounts_of_its_scheme(
    portion: Portion, *, lots: bool, accounts: bool
) -> None:
    assert portion.keeps(Tally.stock("L")) is lots
    assert portion.keeps(MINE) is accounts
    assert portion.keeps(INPUT) is accounts


@pytest.mark.parametrize(
    ("portion", "contracts"),
    [
        (Portion(), "ABC"),
        (Portion(scheme=SCHEME), "A"),
        (Portion(scheme=OTHER_SCHEME), "B"),
        (Portion(None, FIRST, LAST), "A"),
        (Portion(OTHER_SCHEME, FIRST, LAST), ""),
        (Portion(since=date(2025, 4, 1)), "B"),
    ],
)
def test_a_contract_is_in_it_if_it_claims_the_scheme_and_moved_then(
    world: World, portion: Portion, contracts: str
) -> None:
    found = [name for name in "ABC" if portion.has_contract(world.shelf, name)]

    assert "".join(found) == contracts
    assert not portion.has_contract(world.shelf, "unknown")


def sales_of(world: World) -> dict[str, Recorded]:
    return {
        raw["body"]["sale"]: recorded
        for raw in world.raws
        if raw["kind"] == "sale.dispatched"
        and (recorded := world.shelf.at(raw["seq"])) is not None
    }


@pytest.mark.parametrize(
    ("portion", "sales"),
    [
        (Portion(), ["XA", "XB"]),
        (Portion(scheme=SCHEME), ["XA"]),
        (Portion(scheme=OTHER_SCHEME), ["XB"]),
        (Portion(None, FIRST, LAST), []),
        (Portion(sale="XC"), ["XC"]),
    ],
)
def test_a_sale_is_in_it_if_it_claims_the_scheme_or_is_the_one(
    world: World, portion: Portion, sales: list[str]
) -> None:
    found = [n for n, sold in sales_of(world).items() if portion.has_sale(sold)]

    assert found == sales


@pytest.mark.parametrize(
    ("portion", "told"),
    [
        (Portion(), ""),
        (Portion(scheme=SCHEME), "scheme fairfield"),
        (
            Portion(SCHEME, FIRST, LAST),
            "scheme fairfield, from 2025-03-01, until 2025-03-31",
        ),
        (Portion(sale="XA"), "sale XA"),
    ],
)
def test_it_says_what_it_is(portion: Portion, told: str) -> None:
    assert str(portion) == told
