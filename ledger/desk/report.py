"""Gathering what an audit report shows from the books of a ledger."""

from collections.abc import Iterable, Iterator
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Final

from ledger.audit.cheats import CHEATS
from ledger.books.account import ALL, Account
from ledger.books.balance import Balance, balance_of, running_lines
from ledger.books.closing import closed_until
from ledger.books.dues import ContractDues, all_dues
from ledger.books.effect import Book, Recorded, Subject, SubjectKind
from ledger.books.effects import KINDS_WITH_WARNINGS, warnings_of
from ledger.books.flattery import flatteries
from ledger.books.floor import floor_of
from ledger.books.genealogy import trace_back
from ledger.books.lookup import expect, opening, terms_in_force
from ledger.books.mass_flow import mass_flow
from ledger.books.portion import Portion
from ledger.books.rolling import average_on
from ledger.books.sampling import draw_sales
from ledger.books.shelf import Shelf
from ledger.books.stock import stock_on
from ledger.books.yield_ratio import yield_series
from ledger.desk.books import open_books
from ledger.reports.audit_contents import AccountRun, AuditContents, Cover, Masses
from ledger.reports.audit_report import MOST_RUNNING_LINES
from ledger.reports.entry_table import BreachEvent, Flagged, entry_name
from ledger.store.entries import frontier
from ledger.trade.control import PeriodClosed
from ledger.trade.terms import TermsPublished

if TYPE_CHECKING:
    from ledger.store.rows import Rows

SAMPLED_SALES: Final = 3
CLOSED_PERIODS_SHOWN: Final = 3
YIELDS_OVER: Final = timedelta(days=364)
"""Days before the last one over which yields are measured: a year, as the command does."""
_DECISIONS: Final = (
    "certificate.suspended",
    "certificate.withdrawn",
    "certificate.reinstated",
    "lot.rejected",
    "claim.withdrawn",
)


def collect_contents(
    rows: "Rows", *, as_of: date, made_at: datetime, made_by: str
) -> AuditContents:
    """Return everything that an audit report shows.

    Args:
        rows: The ledger.
        as_of: Last trade date that counts.
        made_at: The moment, in UTC.
        made_by: Who makes the report.

    Raises:
        EntryRefusedError: The ledger is not opened yet.
    """
    tree = frontier(rows)
    with open_books(rows) as books:
        return contents_of(
            books.shelf,
            size=tree.size,
            tree_head=tree.root(),
            as_of=as_of,
            made_at=made_at,
            made_by=made_by,
        )


def contents_of(
    shelf: Shelf,
    *,
    size: int,
    tree_head: bytes,
    as_of: date,
    made_at: datetime,
    made_by: str,
    portion: Portion | None = None,
) -> AuditContents:
    """Return everything that an audit report shows, from books that are open.

    Args:
        shelf: What is recorded.
        size: Number of entries.
        tree_head: Root of the Merkle tree over them.
        as_of: Last trade date that counts.
        made_at: The moment, in UTC.
        made_by: Who makes the report.
        portion: The part of the ledger that is shown; None for the whole of it.

    Raises:
        EntryRefusedError: The ledger is not opened yet.
    """
    opened = opening(shelf)
    accounts = tuple(_account_runs(shelf, as_of, portion))
    wanted = None if portion is None else portion.has_sale
    drawn = draw_sales(shelf, tree_head, size, as_of=as_of, wanted=wanted)
    # A count differs from a book that does not see all that left.
    passed = {"batch.made", *(("lot.counted",) if portion else ())}
    return AuditContents(
        cover=Cover(
            maker=opened.organisation_name,
            sites=opened.sites,
            size=size,
            tree_head=tree_head,
            as_of=as_of,
            made_at=made_at,
            made_by=made_by,
            closed_until=closed_until(shelf),
            portion=None if portion is None else str(portion),
            cheats=tuple((cheat.tried, cheat.found) for cheat in CHEATS),
        ),
        terms=tuple(_terms(shelf, as_of)),
        accounts=accounts,
        entries=_entries(shelf, accounts),
        dues=tuple(_dues(shelf, as_of, portion)),
        # Goods also leave to where a part does not look.
        stock=() if portion else stock_on(shelf, as_of),
        masses=None if portion else masses_of(shelf, as_of),
        walks=tuple(
            trace_back(shelf, Subject(SubjectKind.SALE, one.sale))
            for one in drawn[:SAMPLED_SALES]
        ),
        sales_under_claim=len(drawn),
        corrections=tuple(_until(shelf, "correction", as_of)),
        decisions=tuple(
            found for kind in _DECISIONS for found in _until(shelf, kind, as_of)
        ),
        breach_events=tuple(_breach_events(shelf, accounts, as_of)),
        flagged_batches=tuple(_flagged(shelf, ("batch.made",), as_of)),
        flagged_others=tuple(
            _flagged(shelf, (k for k in KINDS_WITH_WARNINGS if k not in passed), as_of)
        ),
    )


def masses_of(shelf: Shelf, as_of: date) -> Masses:
    """Return where all mass went up to a date, and the yields of the year before it."""
    since = as_of - YIELDS_OVER
    return Masses(
        flow=mass_flow(shelf, as_of),
        since=since,
        yields=yield_series(shelf, since=since, until=as_of),
        compared=flatteries(shelf, since=since, until=as_of),
    )


def _until(shelf: Shelf, kind: str, as_of: date) -> Iterator[Recorded]:
    return (found for found in shelf.of_kind(kind) if found.occurred_on <= as_of)


def _terms(shelf: Shelf, as_of: date) -> Iterator[TermsPublished]:
    published = _until(shelf, "terms.published", as_of)
    schemes = {expect(found.record, TermsPublished).scheme for found in published}
    for scheme in sorted(schemes):
        if any(
            found.record.valid_from <= as_of
            for found in shelf.about(Subject(SubjectKind.SCHEME, scheme))
            if isinstance(found.record, TermsPublished)
        ):
            yield terms_in_force(shelf, scheme, as_of, field="as_of")


def _dues(shelf: Shelf, as_of: date, portion: Portion | None) -> Iterator[ContractDues]:
    for dues in all_dues(shelf, as_of):
        if portion is None or portion.has_contract(shelf, dues.contract):
            yield dues


def _account_runs(
    shelf: Shelf, as_of: date, portion: Portion | None
) -> Iterator[AccountRun]:
    for tally in shelf.tallies(Book.ACCOUNT):
        if portion is not None and not portion.keeps(tally):
            continue
        account = Account.of(tally)
        yield AccountRun(
            balance=balance_of(shelf, account, until=as_of),
            lines=tuple(running_lines(shelf, account, until=as_of)),
            periods=tuple(_periods(shelf, account, as_of)),
            average=None
            if portion or account.form != ALL
            else average_on(shelf, account, as_of),
            floor_g=floor_of(shelf, tally)(as_of),
        )


def _periods(
    shelf: Shelf, account: Account, as_of: date
) -> Iterator[tuple[str, Balance]]:
    closed = [
        expect(found.record, PeriodClosed) for found in shelf.of_kind("period.closed")
    ]
    over = sorted(
        (period for period in closed if period.end <= as_of), key=lambda p: p.end
    )
    for period in over[-CLOSED_PERIODS_SHOWN:]:
        yield (
            period.period,
            balance_of(shelf, account, since=period.start, until=period.end),
        )
    if over and over[-1].end < as_of:
        since = over[-1].end + timedelta(days=1)
        yield "Open period", balance_of(shelf, account, since=since, until=as_of)


def _entries(
    shelf: Shelf, accounts: Iterable[AccountRun]
) -> dict[int, tuple[int, str]]:
    slots = {
        line.movement.slot
        for run in accounts
        if len(run.lines) <= MOST_RUNNING_LINES
        for line in run.lines
    }
    return {
        slot: (found.seq, entry_name(found))
        for slot in sorted(slots)
        if (found := shelf.at(slot)) is not None
    }


def _breach_events(
    shelf: Shelf, accounts: Iterable[AccountRun], as_of: date
) -> Iterator[BreachEvent]:
    for run in accounts:
        account = run.balance.account
        for kind in (SubjectKind.SHORTFALL, SubjectKind.MADE_GOOD):
            found = shelf.about(Subject(kind, account.tally.key))
            is_opened = kind is SubjectKind.SHORTFALL
            yield from (
                BreachEvent(one, str(account), is_opened)
                for one in found
                if one.occurred_on <= as_of
            )


def _flagged(shelf: Shelf, kinds: Iterable[str], as_of: date) -> Iterator[Flagged]:
    for kind in kinds:
        for recorded in _until(shelf, kind, as_of):
            for finding in warnings_of(shelf, recorded):
                yield Flagged(recorded, finding)
