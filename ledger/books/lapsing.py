"""What lapses when a period is closed: receipts that are too old to be claimed.

Receipts are used oldest first. What lapsed rests on what else counts: where something of
a closed period is corrected afterwards, it is worked out again in hindsight, so that what
lapsed is not taken off a second time.
"""

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from ledger.books.account import Account
from ledger.books.ageing import RecentMove, recent_moves
from ledger.books.effect import (
    Book,
    Cause,
    Effects,
    Posting,
    Recorded,
    SubjectKind,
    Tally,
)
from ledger.books.floor import is_period_end, month_ends
from ledger.books.hindsight import Hindsight
from ledger.books.lookup import expect, governing_terms
from ledger.books.shelf import Shelf
from ledger.trade.control import PeriodClosed
from ledger.trade.terms import TermsPublished

Change = dict[int, tuple[Effects, Effects]]


@dataclass(frozen=True, slots=True)
class Close:
    """A period that is closed, or about to be.

    Attributes:
        recorded: Its entry.
        since: First day of it; None for the first, which covers all that came before.
        until: Last day of it.
    """

    recorded: Recorded
    since: date | None
    until: date


@dataclass(frozen=True, slots=True)
class Lapse:
    """What may no longer be claimed when a reconciliation period is over.

    Receipts are used oldest first, so what is left at the end is the latest received:
    whatever exceeds the receipts of the periods that still count has lapsed.

    Attributes:
        slot: Slot of the entry that closed the period.
        tally: The account.
        end: Last day of the reconciliation period.
        terms: The terms that govern that day.
        standing_g: What the account held before anything lapsed.
        recent: What of it was received in the periods that still count.
    """

    slot: int
    tally: Tally
    end: date
    terms: TermsPublished
    standing_g: int
    recent: tuple[RecentMove, ...]

    @property
    def recent_g(self) -> int:
        """Grams that were received in the periods that still count."""
        return sum(move.recent_g for move in self.recent)

    @property
    def grams(self) -> int:
        """Grams that lapse."""
        return max(0, self.standing_g - self.recent_g)

    @property
    def posting(self) -> Posting:
        """What it takes off the account."""
        return Posting(self.tally, self.end, -self.grams, Cause.LAPSED)


def lapses_of(shelf: Shelf, recorded: Recorded) -> Iterator[Posting]:
    """Yield what lapses when a period is closed that is not on the shelf yet."""
    close = expect(recorded.record, PeriodClosed)
    closes = closed_periods(shelf)
    since = close.start if closes else None
    closes.append(Close(recorded, since, close.end))
    yield from lapses(shelf, shelf.tallies(Book.ACCOUNT), closes)[recorded.slot]


def lapses(
    shelf: Shelf, tallies: Collection[Tally], closes: Sequence[Close]
) -> Mapping[int, Sequence[Posting]]:
    """Return what lapses with each closed period as everything counts now, by slot.

    Args:
        shelf: What is recorded.
        tallies: The accounts looked at.
        closes: The periods, in order.
    """
    found: defaultdict[int, list[Posting]] = defaultdict(list)
    for lapse in lapses_by_end(shelf, tallies, closes):
        if lapse.grams:
            found[lapse.slot].append(lapse.posting)
    return found


def lapses_by_end(
    shelf: Shelf, tallies: Collection[Tally], closes: Sequence[Close]
) -> Iterator[Lapse]:
    """Yield what lapses, or that nothing does, at every end of a reconciliation period.

    Receipts lapse at each that is closed, so that closing on other days puts nothing off.

    Args:
        shelf: What is recorded.
        tallies: The accounts looked at.
        closes: The periods, in order.
    """
    view = Hindsight(shelf)
    for close in closes:
        since = close.since or _first_day(view, tallies)
        for end in () if since is None else month_ends(since, close.until):
            lapsed = [*_at_end(view, tallies, close.recorded.slot, end)]
            yield from lapsed
            for lapse in lapsed:
                view.let_lapse(lapse.slot, lapse.posting)


def restate_lapses(
    shelf: Shelf, change: Change, *, closed: date | None
) -> Iterator[tuple[Recorded, Effects, Effects]]:
    """Yield periods closed before with which more or less lapses now, with both effects.

    Args:
        shelf: What is recorded.
        change: What changed.
        closed: Last day of the closed periods.
    """
    if closed is None:
        return
    tallies = _touched(shelf, change, closed)
    if not tallies:
        return
    closes = closed_periods(shelf)
    anew = lapses(shelf, tallies, closes)
    for close in closes:
        old = shelf.effects(close.recorded.slot)
        others = tuple(one for one in old.postings if one.tally not in tallies)
        new = replace(old, postings=(*others, *anew[close.recorded.slot]))
        yield close.recorded, old, new


def closed_periods(shelf: Shelf) -> list[Close]:
    """Return the periods that are closed, in order."""
    found: list[Close] = []
    for recorded in sorted(shelf.of_kind("period.closed"), key=lambda one: one.slot):
        close = expect(recorded.record, PeriodClosed)
        found.append(Close(recorded, close.start if found else None, close.end))
    return found


def _touched(shelf: Shelf, change: Change, closed: date) -> set[Tally]:
    """Return the accounts in which a change may let something else lapse.

    They are those of every scheme and commodity of which it moves something that
    happened in a closed period, since what lapses may have moved between them.
    """
    families: set[tuple[str, str]] = set()
    schemes: set[str] = set()
    for old, new in change.values():
        if any(one.kind is SubjectKind.TERMS for one in new.introduces):
            named = (one for one in new.mentions if one.kind is SubjectKind.SCHEME)
            schemes.update(one.name for one in named)
        postings = {*old.postings} ^ {*new.postings}
        if any(posting.day <= closed for posting in (*old.postings, *new.postings)):
            families |= {
                _family(p.tally) for p in postings if p.tally.book is Book.ACCOUNT
            }
    return {
        tally
        for tally in shelf.tallies(Book.ACCOUNT)
        if _family(tally) in families or Account.of(tally).scheme in schemes
    }


def _family(tally: Tally) -> tuple[str, str]:
    account = Account.of(tally)
    return account.scheme, account.commodity


def _first_day(shelf: Shelf, tallies: Collection[Tally]) -> date | None:
    moved = (shelf.run(tally).movements for tally in tallies)
    return min((found[0].day for found in moved if found), default=None)


def _at_end(
    view: Shelf, tallies: Collection[Tally], slot: int, end: date
) -> Iterator[Lapse]:
    for tally in tallies:
        terms = governing_terms(view, Account.of(tally).scheme, end)
        if terms is not None and is_period_end(terms, end):
            since = window_start(terms, end)
            yield Lapse(
                slot=slot,
                tally=tally,
                end=end,
                terms=terms,
                standing_g=view.run(tally, since=since, until=end).closing_g,
                recent=recent_moves(view, tally, since, end),
            )


def window_start(terms: TermsPublished, end: date) -> date:
    """Return the first day whose receipts may still be claimed after a period's end."""
    tomorrow = end + timedelta(days=1)
    months = terms.reconciliation_months * terms.carry_over_periods
    whole = tomorrow.year * 12 + tomorrow.month - 1 - months
    return date(whole // 12, whole % 12 + 1, 1)
