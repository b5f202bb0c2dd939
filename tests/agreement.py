"""Comparing the books with the second reading, and one shelf with another."""

from collections import defaultdict
from datetime import date
from fractions import Fraction

from ledger.books.account import Account
from ledger.books.balance import breaches
from ledger.books.day_order import receipts_first_in
from ledger.books.effect import Book, Effects
from ledger.books.memory import MemoryShelf
from ledger.books.rolling import average_on
from ledger.books.running import days
from ledger.books.source import composition
from tests.naive import Naive
from tests.naive_accounts import family
from tests.naive_limits import is_short, percentages
from tests.naive_trade import Key


def moved(shelf: MemoryShelf) -> dict[Key, dict[str, int]]:
    """Return grams that the books moved, by book and day; days without are left out."""
    found: dict[Key, dict[str, int]] = {}
    for book in Book:
        for tally in shelf.tallies(book):
            of_days: dict[str, int] = defaultdict(int)
            for movement in shelf.run(tally).movements:
                of_days[str(movement.day)] += movement.grams
            found[str(book), tally.key] = dict(of_days)
    return without_zeros(found)


def lows(shelf: MemoryShelf) -> dict[Key, dict[str, int]]:
    """Return the lowest that the books stood at, by book and day on which they moved."""
    return {
        (str(book), tally.key): {
            str(day.on): day.lowest_g
            for day in days(
                shelf.run(tally), receipts_first=receipts_first_in(shelf, tally)
            )
        }
        for book in Book
        for tally in shelf.tallies(book)
    }


def without_zeros(found: dict[Key, dict[str, int]]) -> dict[Key, dict[str, int]]:
    """Return grams by book and day without the days on which nothing moved."""
    plain = {
        key: {on: grams for on, grams in of_days.items() if grams}
        for key, of_days in found.items()
    }
    return {key: of_days for key, of_days in plain.items() if of_days}


def assert_agree(shelf: MemoryShelf, naive: Naive) -> None:
    """Check every stock and account on every date, and every share of every lot."""
    assert moved(shelf) == without_zeros(naive.by_day())
    for key, of_days in lows(shelf).items():
        theirs = naive.lowest(key)
        assert {on: of_days[on] for on in theirs} == theirs, key
    for lot in naive.lots():
        shares = composition(shelf, lot)
        assert shares == naive.shares(lot)
        assert sum(shares.values()) == Fraction(1)


def assert_limits_agree(shelf: MemoryShelf, naive: Naive) -> None:
    """Check which accounts fell too low, and on every date what is averaged."""
    accounts = {key for key in moved(shelf) if key[0] == "account"}
    short = {("account", found.account.tally.key) for found in breaches(shelf)}
    assert {key for key in accounts if is_short(naive, key)} == short
    dates = {post.on for posts in naive.posts.values() for post in posts}
    for name in sorted({family(key) for _, key in accounts}):
        for on in sorted(dates):
            found = average_on(shelf, Account(*name.split("|")), date.fromisoformat(on))
            again = percentages(naive, name, on)
            assert (found is None) == (again is None)
            if found is not None and again is not None:
                sums = found.input_g, found.certified_g, found.output_g, found.claimed_g
                assert (*sums, found.excess_g) == (*again, again.excess()), (name, on)


def everything(shelf: MemoryShelf, entries: int) -> list[Effects]:
    """Return what every entry does, by its place: names, postings, edges."""
    return [shelf.effects(slot) for slot in range(entries)]
