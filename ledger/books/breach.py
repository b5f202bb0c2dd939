"""Breaches: claims that are no longer covered, why, what they touch, and the way out.

An account in breach has given out more claims than certified receipts cover. The breach
closes by itself when the account is whole again; a closed one stays listed with what
closed it. Beside the accounts stand physical claims, segregated or identity preserved,
that the goods sold no longer support: they are in breach even where the account is whole.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date

from ledger.books.account import ALL, Account
from ledger.books.certified import site_of
from ledger.books.effect import Book, Recorded, Subject, SubjectKind, Tally
from ledger.books.lookup import expect, governing_terms
from ledger.books.shelf import Shelf
from ledger.books.shortfall import (
    Shortfall,
    left_short_by,
    made_good_by,
    shortfalls_of,
)
from ledger.books.stopped import Stopped, corrected_record, stopped_lots
from ledger.books.touched import (
    TouchedClaim,
    TouchedLot,
    touched_claims,
    touched_lots,
)
from ledger.books.trace import recorded_of
from ledger.books.transferring import may_give
from ledger.trade.batch import BatchMade
from ledger.trade.control import Correction
from ledger.trade.lot import LotRejected
from ledger.trade.party import CertificateSuspended, CertificateWithdrawn
from ledger.trade.sale import SaleDispatched
from ledger.trade.shipment import ShipmentReceived


@dataclass(frozen=True, slots=True)
class Drawn:
    """A sale that draws on an account in breach.

    Attributes:
        recorded: The sale.
        drawn_g: Grams of bean equivalent that it drew.
        back_g: Grams that returns and withdrawn claims gave back.
        is_uncovered: Whether it drew while the account was short.
    """

    recorded: Recorded
    drawn_g: int
    back_g: int
    is_uncovered: bool

    @property
    def still_g(self) -> int:
        """Grams that taking its claims back would still give to the account."""
        return self.drawn_g - self.back_g


@dataclass(frozen=True, slots=True)
class Breach:
    """One account in breach, open or closed.

    Attributes:
        account: The account.
        opened_by: Entries that left it short when they were recorded; none where the
            entry that did so was made void since.
        shortfall: The stretch in which it was short; None where a later entry changed
            the past, so that it never was.
        began_with: The entry that took it below zero, which may be older than the one
            that opened the breach.
        closed_by: The entry that made it whole; None while it is open.
        stopped: Lots of the account that no longer count, by whatever entry.
        lots: These lots and every lot made from them, or, where none stopped counting,
            those of the entry that was corrected. Only while it is open.
        claims: Claims under the scheme made for these lots. Only while it is open.
        draws: Sales that drew on the account since the first of these lots was credited
            or since it was short, latest first. Only while it is open.
        givers: Accounts that the terms let give to this one, and the grams that each
            holds. Only while it is open.
    """

    account: Account
    opened_by: tuple[Recorded, ...]
    shortfall: Shortfall | None
    began_with: Recorded | None
    closed_by: Recorded | None
    stopped: tuple[Stopped, ...] = ()
    lots: tuple[TouchedLot, ...] = ()
    claims: tuple[TouchedClaim, ...] = ()
    draws: tuple[Drawn, ...] = ()
    givers: tuple[tuple[Account, int], ...] = ()

    @property
    def is_open(self) -> bool:
        """Whether the account is still short."""
        return self.shortfall is not None and self.shortfall.is_open

    @property
    def needed_g(self) -> int:
        """Grams of bean equivalent that would make the account whole; 0 once it is."""
        return -self.shortfall.standing_g if self.is_open and self.shortfall else 0


@dataclass(frozen=True, slots=True)
class BrokenClaim:
    """A physical claim that the goods sold no longer support.

    Attributes:
        touched: The sale, its claim, and what of it is still claimed.
        stopped: Lots in the goods that no longer count.
    """

    touched: TouchedClaim
    stopped: tuple[Stopped, ...]

    @property
    def is_open(self) -> bool:
        """Whether some of it is still claimed."""
        return self.touched.still_g > 0


@dataclass(frozen=True, slots=True)
class Breaches:
    """Everything that is or was in breach, open ones first.

    Attributes:
        as_of: Last trade date that counts.
        accounts: Accounts.
        claims: Physical claims.
    """

    as_of: date
    accounts: tuple[Breach, ...]
    claims: tuple[BrokenClaim, ...]

    @property
    def is_open(self) -> bool:
        """Whether anything is open."""
        return any(one.is_open for one in self.accounts) or any(
            one.is_open for one in self.claims
        )


def find_breaches(shelf: Shelf, as_of: date) -> Breaches:
    """Return every breach, open and closed.

    Args:
        shelf: What is recorded.
        as_of: Last trade date that counts.
    """
    stopped = tuple(
        one for one in stopped_lots(shelf) if one.because.occurred_on <= as_of
    )
    accounts = [
        breach
        for tally in shelf.tallies(Book.ACCOUNT)
        for breach in _breaches_of(shelf, Account.of(tally), stopped, as_of)
    ]
    claims = sorted(_broken_claims(shelf, stopped, as_of), key=_latest_first)
    return Breaches(
        as_of=as_of,
        accounts=tuple(sorted(accounts, key=lambda breach: not breach.is_open)),
        claims=tuple(sorted(claims, key=lambda claim: not claim.is_open)),
    )


def _breaches_of(
    shelf: Shelf, account: Account, stopped: tuple[Stopped, ...], as_of: date
) -> Iterator[Breach]:
    openers = left_short_by(shelf, account, as_of)
    closers = made_good_by(shelf, account, as_of)
    own = tuple(one for one in stopped if _belongs(shelf, account, one))
    told: set[int] = set()
    for shortfall in shortfalls_of(shelf, account, as_of):
        until = shortfall.last.day if shortfall.last else as_of
        opened_by = tuple(
            one for one in openers if _first_day(shelf, one, own) <= until
        )
        closed_by = _closed_by(shelf, shortfall, closers)
        told |= {one.seq for one in opened_by} | (
            {closed_by.seq} if closed_by else set()
        )
        breach = Breach(
            account=account,
            opened_by=opened_by,
            shortfall=shortfall,
            began_with=shelf.at(shortfall.first.slot),
            closed_by=closed_by,
            stopped=tuple(one for one in own if one.lot.receipt.occurred_on <= until),
        )
        yield _with_details(shelf, breach, as_of) if breach.is_open else breach
    yield from _put_right(account, openers, closers, told)


def _put_right(
    account: Account,
    openers: tuple[Recorded, ...],
    closers: tuple[Recorded, ...],
    told: set[int],
) -> Iterator[Breach]:
    """Yield breaches that a later entry took out of the account's past."""
    waiting = [one for one in openers if one.seq not in told]
    for closer in closers:
        if closer.seq in told:
            continue
        opened_by = tuple(one for one in waiting if one.seq < closer.seq)
        waiting = [one for one in waiting if one.seq > closer.seq]
        yield Breach(account, opened_by, None, None, closer)


def _belongs(shelf: Shelf, account: Account, stopped: Stopped) -> bool:
    lot = stopped.lot
    return (
        account.scheme == stopped.claim.scheme
        and account.commodity == lot.commodity
        and account.site in {ALL, site_of(shelf, lot)}
        and account.production in {ALL, "organic" if lot.organic else "conventional"}
        and account.origin in {ALL, lot.origin}
        and account.grade in {ALL, lot.grade}
    )


def _first_day(shelf: Shelf, opener: Recorded, stopped: Iterable[Stopped]) -> date:
    """Return the first trade date on which an entry can have made an account short."""
    if isinstance(opener.record, LotRejected):
        return opener.record.from_on
    days = [one.lot.receipt.occurred_on for one in stopped if one.because == opener]
    if isinstance(opener.record, Correction):
        corrected = corrected_record(shelf, opener)
        days += [opener.occurred_on] if corrected is None else [corrected.occurred_on]
    elif isinstance(opener.record, CertificateSuspended | CertificateWithdrawn):
        days.append(opener.occurred_on)
    return min(days, default=opener.occurred_on)


def _closed_by(
    shelf: Shelf, shortfall: Shortfall, closers: tuple[Recorded, ...]
) -> Recorded | None:
    if shortfall.last is None:
        return None
    for closer in closers:
        if closer.occurred_on == shortfall.last.day:
            return closer
    return shelf.at(shortfall.last.slot)


def _with_details(shelf: Shelf, breach: Breach, as_of: date) -> Breach:
    roots = {one.lot.lot for one in breach.stopped}
    roots |= {
        lot
        for opener in breach.opened_by
        for lot in _lots_of(shelf, opener)
        if not roots
    }
    lots = touched_lots(shelf, roots, as_of)
    return replace(
        breach,
        lots=lots,
        claims=touched_claims(
            shelf, (one.lot for one in lots), [breach.account.scheme], as_of
        ),
        draws=tuple(_draws(shelf, breach, lots, as_of)),
        givers=tuple(_givers(shelf, breach.account, as_of)),
    )


def _givers(
    shelf: Shelf, account: Account, as_of: date
) -> Iterator[tuple[Account, int]]:
    """Yield accounts that may give to another on a date, and the grams they hold."""
    terms = governing_terms(shelf, account.scheme, as_of)
    if terms is None or not terms.account.transfers:
        return
    for tally in shelf.tallies(Book.ACCOUNT):
        giver = Account.of(tally)
        held_g = shelf.run(tally, until=as_of).closing_g
        if held_g > 0 and may_give(terms, giver, account):
            yield giver, held_g


def _lots_of(shelf: Shelf, opener: Recorded) -> Iterator[str]:
    """Yield the lots of what a correction put in the place of a wrong entry."""
    if not isinstance(opener.record, Correction):
        return
    corrected = corrected_record(shelf, opener)
    if corrected is None:
        return
    if isinstance(corrected.record, ShipmentReceived):
        yield from (part.lot for part in corrected.record.lots)
    elif isinstance(corrected.record, BatchMade):
        yield from (part.lot for part in corrected.record.outputs)


def _draws(
    shelf: Shelf, breach: Breach, lots: tuple[TouchedLot, ...], as_of: date
) -> Iterator[Drawn]:
    if breach.shortfall is None:
        return
    tally = breach.account.tally
    first = min(
        (recorded_of(one.what).occurred_on for one in lots),
        default=breach.shortfall.first.day,
    )
    since = min(first, breach.shortfall.first.day)
    short = {movement.slot for movement in breach.shortfall.moved}
    slots = {
        movement.slot
        for movement in shelf.run(tally, since=since, until=as_of).movements
        if movement.grams < 0
    }
    for slot in sorted(slots, reverse=True):
        recorded = shelf.at(slot)
        if recorded is not None and isinstance(recorded.record, SaleDispatched):
            yield Drawn(
                recorded=recorded,
                drawn_g=-_moved_by(shelf, slot, tally),
                back_g=_back_g(shelf, recorded, tally, as_of),
                is_uncovered=slot in short,
            )


def _moved_by(shelf: Shelf, slot: int, tally: Tally) -> int:
    return sum(
        posting.grams
        for posting in shelf.effects(slot).postings
        if posting.tally == tally
    )


def _back_g(shelf: Shelf, sold: Recorded, tally: Tally, as_of: date) -> int:
    sale = expect(sold.record, SaleDispatched)
    found = shelf.about(Subject(SubjectKind.SALE, sale.sale))
    return sum(
        _moved_by(shelf, one.slot, tally)
        for one in found
        if one.slot != sold.slot and one.occurred_on <= as_of
    )


def _broken_claims(
    shelf: Shelf, stopped: tuple[Stopped, ...], as_of: date
) -> Iterator[BrokenClaim]:
    lots_of = {
        one.lot.lot: {
            touched.lot for touched in touched_lots(shelf, [one.lot.lot], as_of)
        }
        for one in stopped
    }
    for scheme in sorted({one.claim.scheme for one in stopped}):
        under = [one for one in stopped if one.claim.scheme == scheme]
        lots = {lot for one in under for lot in lots_of[one.lot.lot]}
        for claim in touched_claims(shelf, lots, [scheme], as_of):
            if claim.unsupported:
                inside = (one for one in under if claim.lot in lots_of[one.lot.lot])
                yield BrokenClaim(claim, tuple(inside))


def _latest_first(claim: BrokenClaim) -> int:
    return -claim.touched.recorded.slot
