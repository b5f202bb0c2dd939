"""A part of a ledger, shown by itself: which entries, and the books over them alone."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from ledger.audit.replay import Ground, Replay
from ledger.books.account import Account
from ledger.books.balance import balance_of
from ledger.books.due_line import Standing
from ledger.books.dues import dues_of
from ledger.books.effect import Book, Recorded, SubjectKind
from ledger.books.finding import EntryRefusedError
from ledger.books.needed import needed
from ledger.books.opening import open_entry
from ledger.books.portion import Portion
from ledger.books.shelf import Shelf
from ledger.chain.entry import parse_entry
from ledger.chain.link import Withheld
from ledger.errors import InputError, LedgerError, NotFoundError, SealError
from ledger.store.day import stream_slots_on
from ledger.store.entries import (
    disclosures_of,
    entry_raw,
    stream_leaves,
    stream_raws,
)
from ledger.store.shelf import SqlShelf

if TYPE_CHECKING:
    from ledger.store.rows import Rows


@dataclass(frozen=True, slots=True)
class LedgerHistory:
    """Implements `ledger.books.needed.History` on a ledger."""

    rows: "Rows"

    def first(self, seq: int) -> Recorded | None:
        """Return an entry as it was first recorded."""
        disclosures = disclosures_of(self.rows, [seq]).get(seq, ())
        entry = parse_entry(entry_raw(self.rows, seq))
        return open_entry(entry, disclosures, converted_before=True)

    def on_days(self, since: date | None, until: date | None) -> Iterator[int]:
        """Yield the slots of what counts and occurred in a stretch of time."""
        return stream_slots_on(self.rows, since, until)


def portion_asked(
    *, scheme: str | None, since: date | None, until: date | None, sale: str | None
) -> Portion | None:
    """Return the part of a ledger that somebody asks for, or None for the whole of it.

    Raises:
        InputError: A sale is asked for together with something else, or the period ends
            before it begins.
    """
    if (scheme, since, until, sale) == (None, None, None, None):
        return None
    if sale is not None and (scheme, since, until) != (None, None, None):
        raise InputError(
            f"a pack of sale {sale} shows this sale and where it came from; leave out the "
            "scheme and the period, or the sale"
        )
    if since is not None and until is not None and until < since:
        raise InputError(
            f"the period ends on {until}, before it begins on {since}; swap the two dates"
        )
    return Portion(scheme, since, until, sale)


def entries_needed(rows: "Rows", portion: Portion, *, as_of: date) -> frozenset[int]:
    """Return the numbers of the entries that a part of a ledger must show.

    Args:
        rows: The ledger.
        portion: The part.
        as_of: Trade date up to which its dues are added up.

    Raises:
        NotFoundError: Nothing is recorded of the scheme or sale that it is about.
    """
    try:
        return needed(SqlShelf(rows), LedgerHistory(rows), portion, as_of=as_of)
    except EntryRefusedError as error:
        raise NotFoundError(str(error)) from error


def stream_shown(
    rows: "Rows", entries: frozenset[int] | None
) -> Iterator[bytes | Withheld]:
    """Yield every entry in order: as it is, or only its digest where it is not shown.

    Args:
        rows: The ledger.
        entries: Numbers of the entries that are shown; None for all.
    """
    if entries is None:
        yield from stream_raws(rows)
        return
    pairs = zip(stream_raws(rows), stream_leaves(rows), strict=True)
    for seq, (raw, leaf) in enumerate(pairs):
        yield raw if seq in entries else Withheld(leaf)


def shelf_of_portion(
    rows: "Rows",
    portion: Portion,
    entries: frozenset[int],
    disclosures: Mapping[int, Sequence[str]],
    *,
    as_of: date,
    ground: Ground | None = None,
) -> Shelf:
    """Return the books over the entries of a part alone, as its reader will have them.

    Args:
        rows: The ledger.
        portion: The part.
        entries: Numbers of the entries that are shown.
        disclosures: What is shown of their sealed values, by number.
        as_of: Trade date up to which figures are added up.
        ground: An empty shelf to count on; one in memory where left out.

    Raises:
        SealError: They do not give the figures that the whole ledger gives, so the part
            cannot be shown by itself.
    """
    replay = Replay(portion, ground)
    for seq in sorted(entries):
        raw = entry_raw(rows, seq)
        try:
            replay.judge(parse_entry(raw), disclosures.get(seq, ()), raw=raw)
        except LedgerError as error:
            raise SealError(
                f"the part asked for ({portion}) cannot be shown by itself: entry {seq} "
                f"would be refused without the entries outside of it ({error}); pack the "
                "whole ledger"
            ) from error
    _compare(SqlShelf(rows), replay.shelf, portion, as_of)
    return replay.shelf


def _compare(whole: Shelf, part: Shelf, portion: Portion, as_of: date) -> None:
    """Refuse a part whose figures are not those of the whole.

    Raises:
        SealError: They are not.
    """
    for tally in whole.tallies(Book.ACCOUNT):
        account = Account.of(tally)
        if portion.keeps(tally) and balance_of(
            whole, account, until=as_of
        ) != balance_of(part, account, until=as_of):
            raise _differs(portion, f"account {account}")
    for contract in part.subjects(SubjectKind.CONTRACT):
        signed = part.introducer(contract)
        if signed is None or signed.occurred_on > as_of:
            continue
        if not portion.has_contract(part, contract.name):
            continue
        own = dues_of(part, contract.name, as_of)
        # Where prices are hidden from the reader there is no figure to compare.
        if any(line.standing is Standing.NOT_DISCLOSED for line in own.lines):
            continue
        if own.lines != dues_of(whole, contract.name, as_of).lines:
            raise _differs(portion, f"what is owed under {contract}")


def _differs(portion: Portion, what: str) -> SealError:
    return SealError(
        f"the part asked for ({portion}) cannot be shown by itself: {what} would come out "
        "otherwise than in the whole ledger; pack the whole ledger"
    )
