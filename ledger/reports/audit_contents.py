"""Everything an audit report shows, as the books found it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from ledger.books.balance import Balance, RunningLine
from ledger.books.dues import ContractDues
from ledger.books.effect import Recorded
from ledger.books.flattery import Flattery
from ledger.books.mass_flow import MassFlow
from ledger.books.rolling import Average
from ledger.books.stock import OnHand
from ledger.books.trace import Trace
from ledger.books.yield_ratio import YieldSeries
from ledger.reports.entry_table import BreachEvent, Flagged
from ledger.trade.opening import Site
from ledger.trade.terms import TermsPublished


@dataclass(frozen=True, slots=True)
class Cover:
    """What the report is about and what it rests on.

    Attributes:
        maker: The maker's name as the certificate states it.
        sites: The maker's sites.
        size: Number of entries in the ledger.
        tree_head: Root of the Merkle tree over them (RFC 9162, 2.1.1).
        as_of: Last trade date that counts.
        made_at: When the report was made, in UTC.
        made_by: Who made it.
        closed_until: Last day of the closed periods, if one is closed.
        portion: The part of the ledger that is shown, in words; None for the whole of it.
        cheats: What somebody may try, and what finds it, in few words.
    """

    maker: str
    sites: tuple[Site, ...]
    size: int
    tree_head: bytes
    as_of: date
    made_at: datetime
    made_by: str
    closed_until: date | None = None
    portion: str | None = None
    cheats: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class AccountRun:
    """One account, as far as the report goes.

    Attributes:
        balance: It, over the whole time.
        lines: Its movements in the order in which they count.
        periods: It over the latest periods, by name, the open one last.
        average: The window up to the report's date, where its terms average percentages.
        floor_g: How low it may stand on the last date, in grams, 0 or below.
    """

    balance: Balance
    lines: tuple[RunningLine, ...]
    periods: tuple[tuple[str, Balance], ...] = ()
    average: Average | None = None
    floor_g: int = 0


@dataclass(frozen=True, slots=True)
class Masses:
    """Where all mass went, and what the steps of making gave.

    Attributes:
        flow: Everything that ever came in.
        since: First trade date of the yields.
        yields: Yields of every kind of batch.
        compared: Beans really used beside what the terms count.
    """

    flow: MassFlow
    since: date
    yields: tuple[YieldSeries, ...]
    compared: tuple[Flattery, ...]


@dataclass(frozen=True, slots=True)
class AuditContents:
    """Everything an audit report shows.

    Attributes:
        cover: What it is about and what it rests on.
        terms: Terms of every scheme in force on the last trade date.
        accounts: Every mass-balance account, from the first entry on.
        entries: By slot, number and name of the entry that counts there, for every slot
            that moved an account.
        dues: Dues of every contract.
        stock: What is on hand.
        masses: Flow of mass and yields; None in a report on a part of the ledger, which
            does not see all that came and went.
        walks: Sampled sales, traced back.
        sales_under_claim: Number of sales from which they were sampled.
        corrections: Every correction.
        decisions: Every certificate suspended, withdrawn or reinstated, every lot
            rejected after it was taken, every claim taken back.
        breach_events: Every entry that left an account short, or made it good.
        flagged_batches: Batches outside the maker's own limits.
        flagged_others: Everything else that is unusual.
    """

    cover: Cover
    terms: tuple[TermsPublished, ...]
    accounts: tuple[AccountRun, ...]
    entries: Mapping[int, tuple[int, str]]
    dues: tuple[ContractDues, ...]
    stock: tuple[OnHand, ...]
    masses: Masses | None
    walks: tuple[Trace, ...]
    sales_under_claim: int
    corrections: tuple[Recorded, ...]
    decisions: tuple[Recorded, ...]
    breach_events: tuple[BreachEvent, ...]
    flagged_batches: tuple[Flagged, ...]
    flagged_others: tuple[Flagged, ...]
