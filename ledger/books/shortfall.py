"""When an account stood below its floor: since when, how deep, and until what came.

An account is short from the movement that takes it below its floor to the movement that
brings it back, by trade date. A later entry may also change the past, so that it never
was short; the entries that did either name the account (see `ledger.books.judge`), and a
breach that left no trace in the account is found by them.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from ledger.books.account import Account
from ledger.books.balance import running_lines
from ledger.books.effect import Recorded, Subject, SubjectKind
from ledger.books.floor import floor_of, unsettled
from ledger.books.shelf import Movement, Shelf


@dataclass(frozen=True, slots=True)
class Shortfall:
    """A stretch of time in which an account stood below zero.

    Attributes:
        account: The account.
        first: The movement that took it below zero.
        lowest_g: The lowest it stood at, in grams of bean equivalent, below 0.
        lowest_on: The date on which it first stood there.
        standing_g: What it stands at in the end: below 0 while it is open.
        last: The movement that brought it back; None while it is open.
        moved: Every movement of the stretch, the first and the last included.
    """

    account: Account
    first: Movement
    lowest_g: int
    lowest_on: date
    standing_g: int
    last: Movement | None
    moved: tuple[Movement, ...]

    @property
    def is_open(self) -> bool:
        """Whether the account is still short."""
        return self.last is None


def shortfalls_of(shelf: Shelf, account: Account, until: date) -> Iterator[Shortfall]:
    """Yield every stretch in which an account stood below zero against its terms.

    They come in order. A stretch within the limit that the terms allow inside a period,
    and settled by its end, is none.

    Args:
        shelf: What is recorded.
        account: The account.
        until: Last trade date that counts.
    """
    for stretch in _below_zero(shelf, account, until):
        if _is_short(shelf, stretch, until):
            yield stretch


def _is_short(shelf: Shelf, stretch: Shortfall, until: date) -> bool:
    """Tell whether an account was below zero further or longer than its terms allow."""
    tally, since = stretch.account.tally, stretch.first.day
    if stretch.lowest_g < floor_of(shelf, tally)(stretch.lowest_on):
        return True
    last = until if stretch.last is None else stretch.last.day - timedelta(days=1)
    run = shelf.run(tally, since=since, until=last)
    return any(unsettled(shelf, tally, run, since=since, until=last))


def _below_zero(shelf: Shelf, account: Account, until: date) -> Iterator[Shortfall]:
    moved: list[Movement] = []
    lowest_g, lowest_on, standing_g = 0, until, 0
    for line in running_lines(shelf, account, until=until):
        standing_g = line.standing_g
        if standing_g < 0 or moved:
            moved.append(line.movement)
        if standing_g < lowest_g:
            lowest_g, lowest_on = standing_g, line.movement.day
        if standing_g >= 0 and moved:
            yield _stretch(account, moved, lowest_g, lowest_on, standing_g)
            moved, lowest_g = [], 0
    if moved:
        yield _stretch(account, moved, lowest_g, lowest_on, standing_g)


def _stretch(
    account: Account,
    moved: Sequence[Movement],
    lowest_g: int,
    lowest_on: date,
    standing_g: int,
) -> Shortfall:
    return Shortfall(
        account=account,
        first=moved[0],
        lowest_g=lowest_g,
        lowest_on=lowest_on,
        standing_g=standing_g,
        last=moved[-1] if standing_g >= 0 else None,
        moved=tuple(moved),
    )


def left_short_by(shelf: Shelf, account: Account, until: date) -> tuple[Recorded, ...]:
    """Return the entries that left an account short when they were recorded."""
    return _noted(shelf, SubjectKind.SHORTFALL, account, until)


def made_good_by(shelf: Shelf, account: Account, until: date) -> tuple[Recorded, ...]:
    """Return the entries that made a short account whole when they were recorded."""
    return _noted(shelf, SubjectKind.MADE_GOOD, account, until)


def _noted(
    shelf: Shelf, kind: SubjectKind, account: Account, until: date
) -> tuple[Recorded, ...]:
    found = shelf.about(Subject(kind, account.tally.key))
    return tuple(
        sorted(
            (one for one in found if one.occurred_on <= until), key=lambda one: one.seq
        )
    )
