"""How much an account may still cover, and the day it would run out at current sales.

Headroom is what an account holds above the lowest that its terms allow. The rate of sales
is what was claimed on it over the days before, returns taken off, as an exact fraction of
a gram a day. Nothing is foreseen: no receipt, no lapse, no change of the rate.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from math import floor
from typing import Final

from ledger.books.account import Account
from ledger.books.effect import Book, Cause
from ledger.books.floor import floor_of
from ledger.books.shelf import Shelf

WINDOW_DAYS: Final = 91
"""Days over which sales are averaged: thirteen weeks, so every weekday counts alike
(common practice, no source)."""

ASSUMED: Final = (
    "An account runs out on the first day that it could no longer cover if every day from "
    "now on drew what a day drew on average over the window, returns taken off. The window "
    "is the 91 days before, or begins with the first movement of a new account. Nothing "
    "that may yet be received is counted, nor what may lapse."
)
"""How the day is reached, for whoever reads it."""

_CLAIMED: Final = frozenset({Cause.SOLD, Cause.RETURNED})


@dataclass(frozen=True, slots=True)
class Headroom:
    """What one account may still cover on a day, in grams of bean equivalent.

    Attributes:
        account: The account.
        on: The day; all that moved on it counts.
        standing_g: What the account holds when the day is over.
        floor_g: The lowest that it may stand at, 0 or below.
        since: First day of the window over which sales are averaged.
        claimed_g: What was claimed in the window, returns taken off; below zero where
            more came back.
    """

    account: Account
    on: date
    standing_g: int
    floor_g: int
    since: date
    claimed_g: int

    @property
    def grams(self) -> int:
        """What may still be claimed; below zero where the account is short."""
        return self.standing_g - self.floor_g

    @property
    def days(self) -> int:
        """Days of the window, both ends included."""
        return (self.on - self.since).days + 1

    @property
    def per_day_g(self) -> Fraction:
        """Grams that a day of the window drew on average, exact."""
        return Fraction(self.claimed_g, self.days)

    @property
    def covered_days(self) -> int | None:
        """Whole days of sales at that rate that are still covered; None for ever."""
        if self.grams < 0:
            return 0
        if self.per_day_g <= 0:
            return None
        return floor(self.grams / self.per_day_g)

    @property
    def runs_out_on(self) -> date | None:
        """First day that would not be covered; None where none is in sight.

        An account that is short already ran out; the day asked about stands for it.
        """
        if self.grams < 0:
            return self.on
        days = self.covered_days
        if days is None or days >= (date.max - self.on).days:
            return None
        return self.on + timedelta(days=days + 1)


def headroom_of(shelf: Shelf, account: Account, on: date) -> Headroom:
    """Return what an account may still cover when a day is over.

    Args:
        shelf: What is recorded.
        account: The account.
        on: Trade date; what happened later is left out.
    """
    since = on - timedelta(days=WINDOW_DAYS - 1)
    run = shelf.run(account.tally, since=since, until=on)
    if not run.opening_g and run.movements:
        since = run.movements[0].day
    return Headroom(
        account=account,
        on=on,
        standing_g=run.closing_g,
        floor_g=floor_of(shelf, account.tally)(on),
        since=since,
        claimed_g=-sum(m.grams for m in run.movements if m.cause in _CLAIMED),
    )


def headrooms(shelf: Shelf, on: date) -> tuple[Headroom, ...]:
    """Return what every account may still cover when a day is over, by account."""
    return tuple(
        headroom_of(shelf, Account.of(tally), on)
        for tally in shelf.tallies(Book.ACCOUNT)
    )
