"""Closing a period: nothing in it moves any more, and old receipts lapse."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from ledger.books.account import Account
from ledger.books.effect import (
    Book,
    Effects,
    Recorded,
    Subject,
    SubjectKind,
    Tally,
)
from ledger.books.finding import refuse
from ledger.books.floor import is_period_end, month_ends, unsettled
from ledger.books.lapsing import lapses_of
from ledger.books.lookup import expect, governing_terms
from ledger.books.shelf import Shelf
from ledger.trade.control import PeriodClosed
from ledger.trade.grams import show_kg

_LONGEST_PERIOD: Final = timedelta(days=5 * 366)


def closed_until(shelf: Shelf) -> date | None:
    """Return the last day of the latest closed period, if one is closed."""
    ends = [
        expect(found.record, PeriodClosed).end
        for found in shelf.of_kind("period.closed")
    ]
    return max(ends, default=None)


def effects_of_close(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what closing a period does: unused receipts lapse.

    They lapse at every end of a reconciliation period that is closed with it, so that
    closing on other days puts nothing off.

    Raises:
        EntryRefusedError: The period leaves a gap after the last one closed, has not
            ended yet, or ends with an account below zero that its terms let fall below
            zero within a period only.
    """
    close = expect(recorded.record, PeriodClosed)
    before = closed_until(shelf)
    if before is not None and close.start != before + timedelta(days=1):
        raise refuse(
            "period-gap",
            "start",
            f"start is {close.start}, but the last closed period ends on {before}; "
            f"start on {before + timedelta(days=1)}",
        )
    if close.end > recorded.occurred_on:
        raise refuse(
            "period-not-over",
            "end",
            f"end is {close.end}, after the day of signing {recorded.occurred_on}; "
            "close a period once it is over",
        )
    if not close.accept_breach:
        _refuse_unsettled(shelf, close.end)
    return Effects(
        introduces=(Subject(SubjectKind.PERIOD, close.period),),
        postings=tuple(lapses_of(shelf, recorded)),
    )


@dataclass(frozen=True, slots=True)
class Unsettled:
    """An account that stood below zero when a reconciliation period ended.

    Attributes:
        account: The account.
        end: Last day of the period.
        grams: Where it stood, in bean-equivalent grams, below zero.
    """

    account: Account
    end: date
    grams: int


def unsettled_accounts(shelf: Shelf, until: date) -> Iterator[Unsettled]:
    """Yield what keeps the books from being closed up to a day, account by account.

    Only terms that let an account fall below zero within a period ask for it to be
    settled at the end of one.
    """
    before = closed_until(shelf)
    for tally in shelf.tallies(Book.ACCOUNT):
        since = _first_day(shelf, tally, before)
        run = shelf.run(tally, since=since, until=until)
        for end, standing_g in unsettled(shelf, tally, run, since=since, until=until):
            yield Unsettled(Account.of(tally), end, standing_g)


def _refuse_unsettled(shelf: Shelf, until: date) -> None:
    for one in unsettled_accounts(shelf, until):
        raise refuse(
            "period-unsettled",
            "end",
            f"end is {until}, but account {one.account} is {show_kg(-one.grams)} kg of "
            f"bean equivalent below zero on {one.end}, when its reconciliation period "
            "ends; the terms allow that within a period only, so record what settles it "
            "by then, or close with accept_breach",
        )


def next_period(shelf: Shelf) -> tuple[date, date] | None:
    """Return first and last day of the period to close next; None before any account.

    It begins after the last one closed, or with the first movement of an account, and
    ends with the first reconciliation period of any scheme that ends after that.
    """
    before = closed_until(shelf)
    tallies = shelf.tallies(Book.ACCOUNT)
    if not tallies:
        return None
    start = min(_first_day(shelf, tally, before) for tally in tallies)
    if before is None:
        start = start.replace(day=1)
    schemes = {Account.of(tally).scheme for tally in tallies}
    for end in month_ends(start, start + _LONGEST_PERIOD):
        for scheme in schemes:
            terms = governing_terms(shelf, scheme, end)
            if terms is not None and is_period_end(terms, end):
                return start, end
    return start, start


def _first_day(shelf: Shelf, tally: Tally, before: date | None) -> date:
    """Return the day from which periods of an account are still open."""
    if before is not None:
        return before + timedelta(days=1)
    return min(movement.day for movement in shelf.run(tally).movements)
