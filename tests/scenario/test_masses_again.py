"""Every balance, stock and share of the scenario can be done again from --why."""

from fractions import Fraction

from ledger.books.account import Account
from ledger.books.effect import Book, Subject, SubjectKind
from ledger.books.genealogy import trace_back
from ledger.books.why_balance import why_balance, why_stock
from ledger.books.why_share import why_share
from ledger.reports.account_workings import explained_total
from ledger.reports.share_workings import explained_share
from sample_shipments.generator.workday import LAST
from tests.reports.masses_again import share_again, total_again
from tests.scenario.conftest import Replayed


def test_every_balance_can_be_done_again_from_its_lines(replayed: Replayed) -> None:
    shelf = replayed.shelf

    found = {
        tally.key: total_again(
            explained_total(why_balance(shelf, Account.of(tally), until=LAST))
        )
        for tally in shelf.tallies(Book.ACCOUNT)
    }

    assert list(found.values()) == [Fraction("389.329"), Fraction("501.850")]


def test_the_stock_of_every_lot_can_be_done_again(replayed: Replayed) -> None:
    shelf = replayed.shelf
    for tally in shelf.tallies(Book.STOCK):
        again = total_again(explained_total(why_stock(shelf, tally.key)))

        assert again * 1000 == shelf.run(tally).closing_g


def test_every_share_of_some_sales_can_be_done_again(replayed: Replayed) -> None:
    """The first sale, one of the last, and one with rework in it."""
    for sale in ("SA-0001", "SA-0141", "SA-0200"):
        asked = Subject(SubjectKind.SALE, sale)
        trace = trace_back(replayed.shelf, asked)
        for origin in trace.origins:
            why = why_share(replayed.shelf, asked, origin.lot)

            share, mass = share_again(explained_share(why))
            assert (share, mass) == (trace.share(origin.grams), origin.grams / 1000)
