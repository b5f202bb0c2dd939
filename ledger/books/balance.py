"""Mass balance: what was certified, what was claimed, what is left, by account.

The balance of a period is opening + received - claimed = closing, the reconciliation
that inspections work through (7 CFR 205.403(d)(4) states it for organic goods).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from functools import reduce
from typing import TYPE_CHECKING, Final

from ledger.books.account import Account
from ledger.books.day_order import receipts_first_in
from ledger.books.effect import Book, Cause, Tally
from ledger.books.floor import floor_of, is_unsettled
from ledger.books.running import days, in_order
from ledger.books.shelf import Movement, Shelf

if TYPE_CHECKING:
    from ledger.books.rolling import Average


_DAYS_AT_A_TIME: Final = 100
"""Days on which an account moved that are in memory at a time."""


@dataclass(frozen=True, slots=True)
class Balance:
    """One account over a stretch of time, in grams of bean equivalent.

    Attributes:
        account: The account.
        opening_g: What it stood at before the first day.
        by_cause: Net grams moved, by cause; draws are negative.
        closing_g: What it stood at after the last day.
        lowest_g: The lowest it stood at on any date of the stretch.
        lowest_on: The first date on which it stood there; None where nothing moved.
        is_breach: Whether it was below its floor on some date, or a reconciliation
            period that was over by the last day ended with it below zero.
    """

    account: Account
    opening_g: int
    by_cause: dict[Cause, int]
    closing_g: int
    lowest_g: int
    lowest_on: date | None
    is_breach: bool = False


@dataclass(frozen=True, slots=True)
class RunningLine:
    """One movement of an account with what it left standing, in grams."""

    movement: Movement
    standing_g: int


def balances(
    shelf: Shelf, *, since: date | None = None, until: date | None = None
) -> tuple[Balance, ...]:
    """Return the balance of every account that ever moved, sorted by account.

    Args:
        shelf: What is recorded.
        since: First trade date; from the beginning where left out.
        until: Last trade date; to the end where left out.
    """
    return tuple(
        balance_of(shelf, Account.of(tally), since=since, until=until)
        for tally in shelf.tallies(Book.ACCOUNT)
    )


def balance_of(
    shelf: Shelf,
    account: Account,
    *,
    since: date | None = None,
    until: date | None = None,
) -> Balance:
    """Return the balance of one account over a stretch of time."""
    return reduce(_followed_by, _pieces(shelf, account, since=since, until=until))


def _followed_by(before: Balance, after: Balance) -> Balance:
    """Return the balance over two stretches, the second of which follows the first."""
    by_cause = dict(before.by_cause)
    for cause, grams in after.by_cause.items():
        by_cause[cause] = by_cause.get(cause, 0) + grams
    lowest = after if after.lowest_g < before.lowest_g else before
    return Balance(
        account=before.account,
        opening_g=before.opening_g,
        by_cause=by_cause,
        closing_g=after.closing_g,
        lowest_g=lowest.lowest_g,
        lowest_on=lowest.lowest_on,
        is_breach=before.is_breach or after.is_breach,
    )


def _pieces(
    shelf: Shelf, account: Account, *, since: date | None, until: date | None
) -> Iterator[Balance]:
    """Yield the balance piece by piece, some days of it in memory at a time."""
    moved = shelf.days_moved(account.tally, since, until)
    starts = [since, *moved[_DAYS_AT_A_TIME::_DAYS_AT_A_TIME]]
    for place, start in enumerate(starts):
        following = starts[place + 1] if place + 1 < len(starts) else None
        end = following - timedelta(days=1) if following else until
        yield _piece(shelf, account, since=start, until=end)


def _piece(
    shelf: Shelf, account: Account, *, since: date | None, until: date | None
) -> Balance:
    run = shelf.run(account.tally, since=since, until=until)
    by_cause: dict[Cause, int] = {}
    for movement in run.movements:
        by_cause[movement.cause] = by_cause.get(movement.cause, 0) + movement.grams
    lowest_g, lowest_on = run.opening_g, None
    order, floor = (
        receipts_first_in(shelf, account.tally),
        floor_of(shelf, account.tally),
    )
    is_breach = False
    for day in days(run, receipts_first=order):
        is_breach = is_breach or (day.lowest_g < 0 and day.lowest_g < floor(day.on))
        if lowest_on is None or day.lowest_g < lowest_g:
            lowest_g, lowest_on = day.lowest_g, day.on
    is_breach = is_breach or is_unsettled(shelf, account.tally, run, until=until)
    return Balance(
        account=account,
        opening_g=run.opening_g,
        by_cause=by_cause,
        closing_g=run.closing_g,
        lowest_g=lowest_g,
        lowest_on=lowest_on,
        is_breach=is_breach,
    )


def running_lines(
    shelf: Shelf,
    account: Account,
    *,
    since: date | None = None,
    until: date | None = None,
) -> Iterator[RunningLine]:
    """Yield the movements of an account in the order in which they count."""
    return lines_of(shelf, account.tally, since=since, until=until)


def lines_of(
    shelf: Shelf, tally: Tally, *, since: date | None = None, until: date | None = None
) -> Iterator[RunningLine]:
    """Yield the movements of a running total in the order in which they count."""
    run = shelf.run(tally, since=since, until=until)
    standing = run.opening_g
    order = receipts_first_in(shelf, tally)
    for movement in in_order(run.movements, receipts_first=order):
        standing += movement.grams
        yield RunningLine(movement, standing)


def averages(shelf: Shelf, until: date | None = None) -> tuple[Average, ...]:
    """Return the window that ends with a date, for accounts whose terms average.

    Args:
        shelf: What is recorded.
        until: The date; that of the last movement of each account where left out.
    """
    counted = shelf.tallies(Book.INPUT)
    if not counted:
        return ()
    from ledger.books.rolling import average_on  # noqa: PLC0415 - slow to load

    found = []
    for tally in counted:
        account = Account.of(tally)
        moved = shelf.run(tally).movements + shelf.run(account.tally).movements
        on = until or max(movement.day for movement in moved)
        average = average_on(shelf, account, on)
        if average is not None:
            found.append(average)
    return tuple(found)


def breaches(shelf: Shelf) -> Iterator[Balance]:
    """Yield the accounts that stand below their floor on some date: open breaches."""
    for balance in balances(shelf):
        if balance.is_breach:
            yield balance
