"""Foreseeing: what an entry would do to balances, lots and dues, told before it is made.

The entry is recorded as any other and everything is rolled back, so what is told is what
the books will say, not a second opinion of theirs.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, suppress
from dataclasses import dataclass
from datetime import date
from typing import Final

from ledger.books.account import Account
from ledger.books.due_line import Standing
from ledger.books.dues import dues_of
from ledger.books.effect import Book, Effects, Recorded, SubjectKind, Tally
from ledger.books.finding import Finding
from ledger.books.payment import Settlement
from ledger.books.shelf import Shelf
from ledger.chain.canonical import JsonValue
from ledger.desk.foresight import (
    AccountChange,
    DueChange,
    Foresight,
    LotChange,
    Rehearsal,
)
from ledger.desk.record import Recording, record
from ledger.desk.writing import Writing
from ledger.errors import LedgerError
from ledger.store.shelf import SqlShelf
from ledger.trade.control import Correction
from ledger.trade.record import Record

_BASIS_OF_ANY: Final = frozenset(
    {
        "quote.recorded",
        "rate.recorded",
        "terms.published",
        "certificate.suspended",
        "certificate.withdrawn",
        "certificate.reinstated",
        "lot.rejected",
    }
)
"""Kinds on which the dues of a contract may rest that the entry does not name."""

Transaction = Callable[[], AbstractContextManager[Writing]]
"""Opens a transaction on the ledger."""


class _RehearsedError(Exception):
    """Rolls the transaction back after the entries were judged."""


Step = tuple[str, date, dict[str, JsonValue]]
"""Kind of an entry, when it happened in the trade, and its body as given."""


def foresee(
    transaction: Transaction, kind: str, on: date, body: dict[str, JsonValue]
) -> Foresight:
    """Return what would come of an entry; nothing is recorded.

    Args:
        transaction: Opens a transaction on the ledger, which is rolled back.
        kind: Kind of the entry.
        on: When it happened in the trade.
        body: Its body as the person gave it.
    """
    found = rehearse(transaction, [(kind, on, body)])
    for _, error in found.refusals:
        return Foresight(refusal=error)
    return found.foresight


def rehearse(transaction: Transaction, steps: Sequence[Step]) -> Rehearsal:
    """Return what would come of several entries; nothing is recorded.

    Args:
        transaction: Opens a transaction on the ledger, which is rolled back.
        steps: The entries, in the order of recording.
    """
    found = Rehearsal(Foresight())
    with suppress(_RehearsedError), transaction() as writing:
        found = _rehearsed(writing, steps)
        raise _RehearsedError
    return found


def _rehearsed(writing: Writing, steps: Sequence[Step]) -> Rehearsal:
    as_of = max([writing.now().date(), *(on for _, on, _ in steps)])
    corrected = _corrected(SqlShelf(writing.rows), steps)
    kinds = {kind for kind, _, _ in steps} | {one.kind for one in corrected}
    writing.rows("SAVEPOINT all_of_them")
    made, refusals = _recorded(writing, steps)
    slots = sorted(
        {slot for one in made for slot in (one.recorded.slot, *one.judgement.restated)}
    )
    shelf = SqlShelf(writing.rows)
    after = _State.of(shelf, slots)
    contracts = _contracts(
        shelf, after.effects, is_any=not _BASIS_OF_ANY.isdisjoint(kinds)
    )
    contracts |= {name for one in corrected for name in _contracts_named(one.record)}
    dues_after, remarks_after = _dues(shelf, contracts, as_of)
    writing.rows("ROLLBACK TO SAVEPOINT all_of_them")
    shelf = SqlShelf(writing.rows)
    before = _State.of(shelf, slots)
    dues_before, remarks_before = _dues(shelf, contracts, as_of)
    own = {one.recorded.slot for one in made}
    foresight = Foresight(
        warnings=tuple(found for one in made for found in one.judgement.warnings),
        accounts=tuple(
            AccountChange(str(Account.of(tally)), was, is_now)
            for tally, was, is_now in _moved(shelf, before, after, Book.ACCOUNT)
        ),
        dues=tuple(_changed_dues(dues_before, dues_after)),
        lots=tuple(
            LotChange(tally.key, was, is_now)
            for tally, was, is_now in _moved(shelf, before, after, Book.STOCK)
        ),
        remarks=tuple(one for one in remarks_after if one not in remarks_before),
        restated=len(set(slots) - own),
    )
    return Rehearsal(foresight, refusals)


def _recorded(
    writing: Writing, steps: Sequence[Step]
) -> tuple[list[Recording], tuple[tuple[int, LedgerError], ...]]:
    """Record what can be, and return it with what is refused."""
    made, refusals = [], []
    for place, (kind, on, body) in enumerate(steps):
        writing.rows("SAVEPOINT one_of_them")
        try:
            made.append(record(writing, kind, on, body))
        except LedgerError as error:
            refusals.append((place, error))
            writing.rows("ROLLBACK TO SAVEPOINT one_of_them")
        writing.rows("RELEASE SAVEPOINT one_of_them")
    return made, tuple(refusals)


def _corrected(shelf: Shelf, steps: Sequence[Step]) -> list[Recorded]:
    """Return what corrections correct, as it counts without them."""
    found = (_target_of(shelf, kind, body) for kind, _, body in steps)
    return [one for one in found if one is not None]


def _target_of(shelf: Shelf, kind: str, body: dict[str, JsonValue]) -> Recorded | None:
    target = body.get("target")
    if kind != Correction.kind or not isinstance(target, int):
        return None
    found = shelf.at(target)
    while found is not None and found.seq == found.slot:
        if not isinstance(found.record, Correction):
            break
        found = shelf.at(found.record.target)
    return found


@dataclass(frozen=True, slots=True)
class _State:
    """What some entries do, with the one that is foreseen or without it."""

    effects: tuple[Effects, ...]
    moves: Mapping[Tally, int]

    @classmethod
    def of(cls, shelf: Shelf, slots: Iterable[int]) -> "_State":
        effects = tuple(shelf.effects(slot) for slot in slots)
        moves: dict[Tally, int] = {}
        for posting in (one for each in effects for one in each.postings):
            moves[posting.tally] = moves.get(posting.tally, 0) + posting.grams
        return cls(effects, moves)


def _contracts(
    shelf: Shelf, effects: Iterable[Effects], *, is_any: bool
) -> frozenset[str]:
    """Return the contracts whose dues may change."""
    named = (
        shelf.subjects(SubjectKind.CONTRACT)
        if is_any
        else (one for each in effects for one in (*each.introduces, *each.mentions))
    )
    return frozenset(one.name for one in named if one.kind is SubjectKind.CONTRACT)


def _contracts_named(record: Record) -> frozenset[str]:
    contract = getattr(record, "contract", None)
    return frozenset({contract} if isinstance(contract, str) else ())


_Owed = tuple[str, str, str, str | None]
"""Contract, duty, payee and currency."""


def _dues(
    shelf: Shelf, contracts: frozenset[str], as_of: date
) -> tuple[Mapping[_Owed, Settlement], tuple[Finding, ...]]:
    owed: dict[_Owed, Settlement] = {}
    remarks: list[Finding] = []
    for contract in sorted(contracts):
        try:
            found = dues_of(shelf, contract, as_of)
        except LedgerError:
            continue  # it is not signed without the entry
        remarks += found.findings
        for one in found.settlements:
            owed[contract, str(one.duty), one.payee, one.currency] = one
    return owed, tuple(remarks)


def _moved(
    shelf: Shelf, before: _State, after: _State, book: Book
) -> Iterator[tuple[Tally, int, int]]:
    """Yield running totals that differ, with grams before and after."""
    for tally in sorted({*before.moves, *after.moves}):
        change = after.moves.get(tally, 0) - before.moves.get(tally, 0)
        if tally.book is book and change:
            was = shelf.run(tally, since=date.max).closing_g
            yield tally, was, was + change


def _changed_dues(
    before: Mapping[_Owed, Settlement], after: Mapping[_Owed, Settlement]
) -> Iterator[DueChange]:
    for key in sorted({*before, *after}, key=lambda key: (*key[:3], key[3] or "")):
        contract, what, payee, currency = key
        was, is_now = before.get(key), after.get(key)
        lines = () if is_now is None else is_now.lines
        found = DueChange(
            contract=contract,
            what=what,
            payee=payee,
            currency=currency,
            before_minor=_still_owed(was),
            after_minor=_still_owed(is_now),
            is_provisional=any(one.standing is Standing.PROVISIONAL for one in lines),
            because=next((one.because for one in lines if one.because), ""),
        )
        if found.before_minor != found.after_minor or was is None:
            yield found


def _still_owed(settlement: Settlement | None) -> int | None:
    """Return minor units still owed; below zero what was paid beyond them."""
    if settlement is None:
        return 0
    if not settlement.is_complete:
        return None
    return settlement.outstanding_minor - settlement.overpaid_minor
