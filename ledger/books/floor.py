"""How far below zero an account may stand: not at all, or within a period up to a limit.

Where terms allow it, an account may be below zero inside a reconciliation period, up to
the limit they state, and must be at zero or above when the period ends. Without that,
and always for stock, zero is the floor on every date.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from typing import TYPE_CHECKING

from ledger.books.account import Account
from ledger.books.effect import Book, Tally
from ledger.books.running import Floor, at_zero
from ledger.books.shelf import Run, Shelf
from ledger.trade.grams import to_grams

if TYPE_CHECKING:
    # A plain balance does not load the models of the trade.
    from ledger.trade.terms import TermsPublished


def floor_of(shelf: Shelf, tally: Tally) -> Floor:
    """Return the floor of a running total by date, as the terms of the date state it."""
    if tally.book is not Book.ACCOUNT:
        return at_zero
    scheme = Account.of(tally).scheme

    def floor(on: date) -> int:
        from ledger.books.lookup import governing_terms  # noqa: PLC0415 - slow to load

        terms = governing_terms(shelf, scheme, on)
        limit_kg = None if terms is None else terms.account.below_zero_kg
        return 0 if limit_kg is None else -to_grams(limit_kg)

    return floor


def unsettled(
    shelf: Shelf, tally: Tally, run: Run, *, since: date, until: date
) -> Iterator[tuple[date, int]]:
    """Yield ends of reconciliation periods at which an account stood below zero.

    Only periods whose terms allow standing below zero within them are asked about; an
    account that may never be below zero is in breach on the day it first is.

    Args:
        shelf: What is recorded.
        tally: The account.
        run: How it moved, from `since` or before.
        since: First day.
        until: Last day; only periods that ended by then count.

    Yields:
        The last day of the period, and grams below zero at its end, as a negative figure.
    """
    if tally.book is not Book.ACCOUNT:
        return
    scheme = Account.of(tally).scheme
    standing, coming = run.opening_g, iter(run.movements)
    following = next(coming, None)
    for end in month_ends(since, until):
        while following is not None and following.day <= end:
            standing += following.grams
            following = next(coming, None)
        if standing < 0 and _must_settle(shelf, scheme, end):
            yield end, standing


def is_unsettled(
    shelf: Shelf, tally: Tally, run: Run, *, until: date | None = None
) -> bool:
    """Tell whether an account stood below zero when a period ended, from a run on.

    Args:
        shelf: What is recorded.
        tally: The account.
        run: How it moved.
        until: Last day; only periods that ended by then count. Where left out, only
            those that ended before the last movement are known to be over.
    """
    if not run.movements:
        return False
    if run.opening_g >= 0 and all(m.grams >= 0 for m in run.movements):
        return False
    since, last = run.movements[0].day, run.movements[-1].day
    over_by = last - timedelta(days=1) if until is None else until
    return any(unsettled(shelf, tally, run, since=since, until=over_by))


def _must_settle(shelf: Shelf, scheme: str, end: date) -> bool:
    from ledger.books.lookup import governing_terms  # noqa: PLC0415 - slow to load

    terms = governing_terms(shelf, scheme, end)
    return (
        terms is not None
        and terms.account.below_zero_kg is not None
        and is_period_end(terms, end)
    )


def month_ends(since: date, until: date) -> Iterator[date]:
    """Yield the last days of months from one day to another, both included."""
    month = since.year * 12 + since.month
    while (end := date(month // 12, month % 12 + 1, 1) - timedelta(days=1)) <= until:
        yield end
        month += 1


def is_period_end(terms: TermsPublished, day: date) -> bool:
    """Tell whether a reconciliation period of a scheme ends on a day."""
    tomorrow = day + timedelta(days=1)
    months = (tomorrow.month - terms.reconciliation_starts) % 12
    return tomorrow.day == 1 and months % terms.reconciliation_months == 0
