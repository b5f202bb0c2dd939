"""Closing a period: nothing in it moves any more, and old receipts lapse."""

from collections.abc import Iterator
from datetime import date, timedelta

from ledger.books.account import Account
from ledger.books.effect import (
    Book,
    Cause,
    Effects,
    Posting,
    Recorded,
    Subject,
    SubjectKind,
    Tally,
)
from ledger.books.finding import refuse
from ledger.books.lookup import expect, governing_terms
from ledger.books.shelf import Shelf
from ledger.trade.control import PeriodClosed
from ledger.trade.terms import TermsPublished


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
        EntryRefusedError: The period leaves a gap after the last one closed, or has not
            ended yet.
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
    return Effects(
        introduces=(Subject(SubjectKind.PERIOD, close.period),),
        postings=tuple(_lapses(shelf, before, close.end)),
    )


def _lapses(shelf: Shelf, before: date | None, until: date) -> Iterator[Posting]:
    for tally in shelf.tallies(Book.ACCOUNT):
        lapsed = 0
        for end in _month_ends(_first_day(shelf, tally, before), until):
            terms = governing_terms(shelf, Account.of(tally).scheme, end)
            if terms is None or not is_period_end(terms, end):
                continue
            lapsing = lapsing_g(shelf, tally, terms, end) - lapsed
            if lapsing > 0:
                lapsed += lapsing
                yield Posting(tally, end, -lapsing, Cause.LAPSED)


def _first_day(shelf: Shelf, tally: Tally, before: date | None) -> date:
    """Return the day from which periods of an account are still open."""
    if before is not None:
        return before + timedelta(days=1)
    return min(movement.day for movement in shelf.run(tally).movements)


def _month_ends(since: date, until: date) -> Iterator[date]:
    """Yield the last days of months from one day to another, both included."""
    month = since.year * 12 + since.month
    while (end := date(month // 12, month % 12 + 1, 1) - timedelta(days=1)) <= until:
        yield end
        month += 1


def lapsing_g(shelf: Shelf, tally: Tally, terms: TermsPublished, end: date) -> int:
    """Return the grams that may no longer be claimed after a period's end.

    Receipts are used oldest first, so what is left at the end is the latest received:
    whatever exceeds the receipts of the periods that still count has lapsed. A receipt
    counts with what was taken off it since: a lot rejected after all, or a correction.
    """
    window = shelf.run(tally, since=window_start(terms, end), until=end)
    receipts = {m.slot for m in window.movements if m.cause is Cause.RECEIVED}
    recent = sum(m.grams for m in window.movements if m.slot in receipts)
    return max(0, window.closing_g - recent)


def is_period_end(terms: TermsPublished, day: date) -> bool:
    """Tell whether a reconciliation period of a scheme ends on a day."""
    tomorrow = day + timedelta(days=1)
    months = (tomorrow.month - terms.reconciliation_starts) % 12
    return tomorrow.day == 1 and months % terms.reconciliation_months == 0


def window_start(terms: TermsPublished, end: date) -> date:
    """Return the first day whose receipts may still be claimed after a period's end."""
    tomorrow = end + timedelta(days=1)
    months = terms.reconciliation_months * terms.carry_over_periods
    whole = tomorrow.year * 12 + tomorrow.month - 1 - months
    return date(whole // 12, whole % 12 + 1, 1)
