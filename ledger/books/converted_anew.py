"""What converts differently because something earlier changed.

Two rules look at more than the records that an entry names: measured yields look at the
batches of a window, and parted forms at what earlier claims left over.
"""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date

from ledger.books.account import ALL, Account
from ledger.books.effect import Book, Effects, SubjectKind
from ledger.books.measured import days_converted_by, months_measured
from ledger.books.shelf import Shelf
from ledger.trade.terms import TermsPublished
from ledger.trade.words import Form

_Change = Mapping[int, tuple[Effects, Effects]]


def by_yields(shelf: Shelf, change: _Change) -> list[int]:
    """Return the slots of what converts by yields that a change touches, by date.

    Args:
        shelf: What is recorded, after the change.
        change: Effects before and after, by the slot that changed.
    """
    months = months_measured(
        effects for old, new in change.values() if old != new for effects in (old, new)
    )
    windows: dict[str, int] = {}
    for found in shelf.of_kind("terms.published") if months else ():
        terms = found.record
        if isinstance(terms, TermsPublished) and terms.measured_yields is not None:
            months_back = terms.measured_yields.window_months
            windows[terms.scheme] = max(months_back, windows.get(terms.scheme, 0))
    slots = {
        movement.slot
        for book in (Book.ACCOUNT, Book.INPUT, Book.OUTPUT)
        for tally in (shelf.tallies(book) if windows else ())
        if (back := windows.get(Account.of(tally).scheme)) is not None
        for month in months
        for movement in shelf.run(tally, *days_converted_by(month, back)).movements
    }
    return _in_order_of_date(shelf, slots | _coming_back(shelf, slots))


def by_leftovers(shelf: Shelf, change: _Change) -> list[int]:
    """Return the slots of what drew on forms that a change leaves other amounts of.

    Args:
        shelf: What is recorded, after the change.
        change: Effects before and after, by the slot that changed.
    """
    since: dict[Account, date] = {}
    touched = (
        posting
        for old, new in change.values()
        if old != new
        for posting in (*old.postings, *new.postings)
        if posting.tally.book is Book.ACCOUNT
    )
    for posting in touched:
        account = Account.of(posting.tally)
        if account.form != ALL:
            family = account.of_all_forms
            since[family] = min(posting.day, since.get(family, posting.day))
    slots = {
        movement.slot
        for family, first in since.items()
        for form in Form
        for movement in shelf.run(replace(family, form=form).tally, first).movements
    }
    return _in_order_of_date(shelf, slots)


def _coming_back(shelf: Shelf, slots: Iterable[int]) -> set[int]:
    """Return what came back of sales: it comes back as it was drawn."""
    return {
        found.slot
        for slot in slots
        for subject in shelf.effects(slot).introduces
        if subject.kind is SubjectKind.SALE
        for found in shelf.about(subject)
    }


def _in_order_of_date(shelf: Shelf, slots: Iterable[int]) -> list[int]:
    found = [recorded for slot in slots if (recorded := shelf.at(slot)) is not None]
    found.sort(key=lambda recorded: (recorded.occurred_on, recorded.slot))
    return [recorded.slot for recorded in found]
