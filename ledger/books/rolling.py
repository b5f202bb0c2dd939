"""The rolling average percentage: what part of the output may be claimed.

ISO 22095-2:2026 names this method beside the credit method; its text is not public, so
what is kept here is this reading of the name, and terms that mean something else need
other rules:

Over the window that ends with a date, the certified part of what came in is the highest
part of what was sold that may have been claimed. Both are counted in bean equivalent, by
the account that goods belong to whether or not they are certified. The percentage is
held on every date on which something is claimed. A window that nothing came in with has
a percentage of zero. Days of the window on which the terms do not average count on no
side: what came in uncertified is not known of them, so what was certified would seem to
be more of the whole than it was.

The account of certified goods is kept all the same and may not fall below its floor, so
that claims never exceed certified receipts however the percentages fall.
"""

from calendar import monthrange
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from fractions import Fraction
from functools import cache
from typing import Final

from ledger.books.account import Account
from ledger.books.effect import Book, Cause, Effects, Posting, Tally
from ledger.books.lookup import governing_terms, terms_of
from ledger.books.shelf import Movement, Shelf
from ledger.trade.terms import TermsPublished
from ledger.trade.words import Form

_BOOKS: Final = (Book.ACCOUNT, Book.INPUT, Book.OUTPUT)
_Change = Mapping[int, tuple[Effects, Effects]]
"""Effects before and after, by the slot that changed."""
_Moved = Mapping[Book, list[Movement]]
"""What moved in each book, of one account."""


@dataclass(frozen=True, slots=True)
class Average:
    """What came in and went out over the window that ends with a date, in grams.

    Attributes:
        account: Account that the goods belong to.
        since: First day of the window.
        on: Last day of the window.
        input_g: All that came in.
        certified_g: What of it was certified.
        output_g: All that was sold, returns taken off.
        claimed_g: What of it was claimed.
    """

    account: Account
    since: date
    on: date
    input_g: int
    certified_g: int
    output_g: int
    claimed_g: int

    @property
    def allowed(self) -> Fraction:
        """Highest part of the output that may have been claimed, 0 to 1."""
        if self.input_g <= 0:
            return Fraction(0)
        part = Fraction(self.certified_g, self.input_g)
        return min(Fraction(1), max(Fraction(0), part))

    @property
    def claimed_part(self) -> Fraction:
        """Part of the output that was claimed; 0 where nothing was sold."""
        if self.output_g <= 0:
            return Fraction(0)
        return Fraction(self.claimed_g, self.output_g)

    @property
    def excess_g(self) -> Fraction:
        """Grams claimed beyond what was allowed; below zero where less was claimed."""
        return self.claimed_g - self.allowed * self.output_g


def rolling_terms(shelf: Shelf, on: date) -> Iterator[TermsPublished]:
    """Yield the terms in force on a date that average percentages, by scheme."""
    schemes = {
        found.record.scheme
        for found in shelf.of_kind("terms.published")
        if isinstance(found.record, TermsPublished) and found.record.window_months
    }
    for scheme in sorted(schemes):
        terms = governing_terms(shelf, scheme, on)
        if terms is not None and terms.window_months is not None:
            yield terms


def throughput(
    book: Book, account: Account, on: date, grams: int, cause: Cause
) -> Posting:
    """Return a posting of what came in or was sold, certified or not, in any form."""
    return Posting(Tally(book, account.of_all_forms.key), on, grams, cause)


def average_on(shelf: Shelf, account: Account, on: date) -> Average | None:
    """Return what the window that ends with a date holds, under the terms of the date.

    None where the terms of the scheme do not average percentages on it.
    """
    months = _window_months(shelf, account, on)
    if not months:
        return None
    since = window_start(on, months)
    return _average(shelf, account, _moved(shelf, account, since, on), since, on)


def sides_of(shelf: Shelf, average: Average) -> dict[Book, list[Movement]]:
    """Return what of the certified goods a window counts as come in, and as claimed.

    Args:
        shelf: What is recorded.
        average: The window.

    Returns:
        Movements of the account, in the order in which they count: under `Book.INPUT`
        those that are certified, under `Book.OUTPUT` those of claims.
    """
    moved = _moved(shelf, average.account, average.since, average.on)
    found: dict[Book, list[Movement]] = {Book.INPUT: [], Book.OUTPUT: []}
    for movement in sorted(moved[Book.ACCOUNT]):
        side = _side(shelf, movement)
        if side is not None:
            found[side].append(movement)
    return found


def exceeded(shelf: Shelf, change: _Change) -> Iterator[Average]:
    """Yield windows in which a change leaves more claimed than is allowed.

    Windows that were exceeded before and are not made worse are left out. Of each
    account, the first such window is told.

    Args:
        shelf: What is recorded, after the change.
        change: Effects before and after, by the slot that changed.
    """
    for account, first in sorted(_touched(change).items()):
        longest = max(
            (terms.window_months or 0 for terms in terms_of(shelf, account.scheme)),
            default=0,
        )
        if longest:
            worse = next(_worse(shelf, account, first, longest, change), None)
            if worse is not None:
                yield worse


def _touched(change: _Change) -> dict[Account, date]:
    """Return the first day on which each account changed, whatever its form."""
    found: dict[Account, date] = {}
    for old, new in change.values():
        if old.postings == new.postings:
            continue
        for posting in (*old.postings, *new.postings):
            if posting.tally.book is not Book.STOCK:
                account = Account.of(posting.tally).of_all_forms
                found[account] = min(posting.day, found.get(account, posting.day))
    return found


def _worse(
    shelf: Shelf, account: Account, first: date, longest: int, change: _Change
) -> Iterator[Average]:
    since, until = window_start(first, longest), months_later(first, longest)
    after = _moved(shelf, account, since, until)
    before = _without(shelf, after, account, change)
    claimed_on = {
        movement.day
        for movement in after[Book.ACCOUNT]
        if movement.cause is Cause.SOLD and movement.day >= first
    }
    for on in sorted(claimed_on):
        start = window_start(on, _window_months(shelf, account, on))
        now = _average(shelf, account, after, start, on)
        was = _average(shelf, account, before, start, on)
        if now.excess_g > max(Fraction(0), was.excess_g):
            yield now


def _window_months(shelf: Shelf, account: Account, on: date) -> int:
    """Return the months that the terms of a date average; 0 where they do not."""
    terms = governing_terms(shelf, account.scheme, on)
    return (terms.window_months or 0) if terms is not None else 0


def window_start(on: date, months: int) -> date:
    """Return the first day of the window of some months that ends with a date.

    It is the day after the same day of the month so long before: the twelve months that
    end with 2025-03-14 begin with 2024-03-15.
    """
    return months_later(on, -months) + timedelta(days=1)


def months_later(on: date, months: int) -> date:
    """Return the same day some months later, or the last day of a shorter month."""
    year, month = divmod(on.year * 12 + on.month - 1 + months, 12)
    return date(year, month + 1, min(on.day, monthrange(year, month + 1)[1]))


def _moved(shelf: Shelf, account: Account, since: date, until: date) -> _Moved:
    averages = _averages(shelf, account)
    return {
        book: [
            movement
            for tally in _tallies(book, account)
            for movement in shelf.run(tally, since, until).movements
            if averages(movement.day)
        ]
        for book in _BOOKS
    }


def _averages(shelf: Shelf, account: Account) -> Callable[[date], bool]:
    """Return what tells whether the terms of a day average percentages."""

    @cache
    def averages(day: date) -> bool:
        return _window_months(shelf, account, day) > 0

    return averages


def _tallies(book: Book, account: Account) -> list[Tally]:
    """Return the running totals of an account in a book; claims are kept by form too."""
    tallies = [Tally(book, account.of_all_forms.key)]
    if book is Book.ACCOUNT:
        tallies += [replace(account, form=form).tally for form in Form]
    return tallies


def _without(shelf: Shelf, moved: _Moved, account: Account, change: _Change) -> _Moved:
    """Return how an account moved before a change."""
    averages = _averages(shelf, account)
    return {
        book: [
            *(movement for movement in movements if movement.slot not in change),
            *(
                Movement(posting.day, slot, line, posting.grams, posting.cause)
                for slot, (old, _) in change.items()
                for line, posting in enumerate(old.postings)
                if posting.tally in _tallies(book, account) and averages(posting.day)
            ),
        ]
        for book, movements in moved.items()
    }


def _average(
    shelf: Shelf, account: Account, moved: _Moved, since: date, on: date
) -> Average:
    certified_g = claimed_g = 0
    inside = {
        b: [m for m in found if since <= m.day <= on] for b, found in moved.items()
    }
    for movement in inside[Book.ACCOUNT]:
        side = _side(shelf, movement)
        if side is Book.INPUT:
            certified_g += movement.grams
        elif side is Book.OUTPUT:
            claimed_g -= movement.grams
    inputs = sum(movement.grams for movement in inside[Book.INPUT])
    outputs = sum(movement.grams for movement in inside[Book.OUTPUT])
    return Average(account, since, on, inputs, certified_g, outputs, claimed_g)


def _side(shelf: Shelf, movement: Movement) -> Book | None:
    """Tell whether a movement of an account is of what came in, or of what was sold.

    A lot that is rejected after it was taken, and what a correction of a closed period
    lands later, are on the side of the entry that they belong to. What a loss, a lapse
    or a parting moves is on neither.
    """
    causes = {movement.cause}
    if movement.cause in {Cause.CORRECTED, Cause.WRITTEN_OFF}:
        causes = {posting.cause for posting in shelf.effects(movement.slot).postings}
    if Cause.RECEIVED in causes:
        return Book.INPUT
    return Book.OUTPUT if causes & {Cause.SOLD, Cause.RETURNED} else None
