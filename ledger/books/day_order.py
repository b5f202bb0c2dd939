"""In which order the movements of one date count in an account: as its terms say.

The terms are opened only for a date on which the order makes a difference, so that a
plain balance does not load the models of the trade.
"""

from datetime import date
from functools import cache

from ledger.books.account import Account
from ledger.books.effect import Book, Tally
from ledger.books.running import ReceiptsFirst, as_recorded
from ledger.books.shelf import Shelf


def receipts_first_in(shelf: Shelf, tally: Tally) -> ReceiptsFirst:
    """Return what tells whether receipts count first in a running total on a date.

    Stock always counts as recorded: nothing can be taken that is not there yet.
    """
    if tally.book is not Book.ACCOUNT:
        return as_recorded

    @cache
    def receipts_first(on: date) -> bool:
        from ledger.books.lookup import governing_terms  # noqa: PLC0415 - slow to load

        terms = governing_terms(shelf, Account.of(tally).scheme, on)
        return terms is not None and terms.account.within_day == "receipts first"

    return receipts_first
