"""What an audit on a day would find first: every figure that a certifier asks for."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

from ledger.books.balance import averages
from ledger.books.breach import Breaches, find_breaches
from ledger.books.due_line import DueLine
from ledger.books.dues import ContractDues, all_dues
from ledger.books.effect import Recorded
from ledger.books.effects import warnings_of
from ledger.books.finding import Finding
from ledger.books.headroom import Headroom, headrooms
from ledger.books.owing import Shortfall, shortfalls
from ledger.books.reconciliation import Reconciliation, reconcile
from ledger.books.rolling import Average
from ledger.books.shelf import Shelf
from ledger.books.stock import OnHand, stream_stock
from ledger.books.validity import Validity, validities
from ledger.books.yield_ratio import YieldSeries, yield_series

LOOKED_BACK: Final = timedelta(days=364)
"""Days before the one asked about that batches, late payments and masses are looked at."""


@dataclass(frozen=True, slots=True)
class Signed:
    """How far the record is signed, and how far others have seen it.

    Attributes:
        entries: Entries in the ledger.
        covered: Entries that the last checkpoint covers; 0 where none is signed.
        since: Entries recorded since, the one that records the checkpoint left out.
        signed_at: When the last checkpoint was signed; None where none is.
        seen: Entries that the last checkpoint seen outside the house covers; 0 if none.
        seen_by: Who saw it: a witness that cosigned, or a timestamp authority.
        seen_at: When they say they did.
        problem: Why this cannot be told or does not hold, one sentence; None if it does.
        is_broken: Whether the ledger does not extend what was signed.
    """

    entries: int
    covered: int = 0
    since: int = 0
    signed_at: datetime | None = None
    seen: int = 0
    seen_by: str = ""
    seen_at: datetime | None = None
    problem: str | None = None
    is_broken: bool = False


@dataclass(frozen=True, slots=True)
class Readiness:
    """What an audit on a day would find first.

    Attributes:
        on: The day; what happened later is left out.
        since: First day that batches, late payments and masses are looked at from.
        headrooms: What every account may still cover.
        averages: Windows that end with the day, of accounts whose terms average
            percentages.
        breaches: Accounts and claims in breach, open and closed.
        dues: What is owed to growers.
        certificates: Every certificate.
        flagged: Batches with what is unusual about each.
        yields: Measured yields with their control limits.
        held: Lots on hand that may not move.
        masses: Whether all masses add up.
        signed: How far the record is signed and seen.
    """

    on: date
    since: date
    headrooms: tuple[Headroom, ...]
    averages: tuple[Average, ...]
    breaches: Breaches
    dues: tuple[ContractDues, ...]
    certificates: tuple[Validity, ...]
    flagged: tuple[tuple[Recorded, Finding], ...]
    yields: tuple[YieldSeries, ...]
    held: tuple[OnHand, ...]
    masses: Reconciliation
    signed: Signed

    @property
    def overdue(self) -> tuple[Shortfall, ...]:
        """What growers should have been paid by now."""
        return shortfalls(self.dues)

    @property
    def paid_late(self) -> tuple[DueLine, ...]:
        """Dues of which a part was paid late in the time looked at."""
        return tuple(
            line
            for dues in self.dues
            for line in dues.lines
            if any(part.late_days and part.paid_on >= self.since for part in line.paid)
        )

    @property
    def flagged_batches(self) -> tuple[str, ...]:
        """Batches with something unusual about them, each once."""
        found = (getattr(recorded.record, "batch", "") for recorded, _ in self.flagged)
        return tuple(dict.fromkeys(found))


def readiness(shelf: Shelf, on: date, signed: Signed) -> Readiness:
    """Return what an audit on a day would find first.

    Args:
        shelf: What is recorded.
        on: Trade date.
        signed: How far the record is signed and seen.

    Raises:
        EntryRefusedError: The ledger is not opened yet.
    """
    since = on - LOOKED_BACK
    return Readiness(
        on=on,
        since=since,
        headrooms=headrooms(shelf, on),
        averages=averages(shelf, on),
        breaches=find_breaches(shelf, on),
        dues=all_dues(shelf, on),
        certificates=validities(shelf, on),
        flagged=tuple(_flagged(shelf, since, on)),
        yields=yield_series(shelf, since=since, until=on),
        held=tuple(one for one in stream_stock(shelf, on) if one.hold is not None),
        masses=reconcile(shelf, since=since, until=on),
        signed=signed,
    )


def _flagged(shelf: Shelf, since: date, on: date) -> Iterator[tuple[Recorded, Finding]]:
    for recorded in shelf.of_kind("batch.made"):
        if since <= recorded.occurred_on <= on:
            for finding in warnings_of(shelf, recorded):
                yield recorded, finding
