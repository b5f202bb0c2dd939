"""Recording: a draft becomes an entry if the books let it in."""

from dataclasses import dataclass
from datetime import date
from typing import cast

from ledger.books.effect import Recorded
from ledger.books.finding import EntryRefusedError, refuse
from ledger.books.judge import Judgement, judge
from ledger.books.opening import parse_body
from ledger.books.statement import DOCUMENT
from ledger.chain.canonical import JsonValue
from ledger.chain.entry import Entry, entry_bytes
from ledger.chain.seal import seal
from ledger.desk.recordable import refuse_kind
from ledger.desk.two_persons import refuse_alone
from ledger.desk.writing import Writing
from ledger.store.entries import append, head
from ledger.store.shelf import SqlShelf
from ledger.trade.contract import PaymentMade
from ledger.trade.control import Correction
from ledger.trade.kinds import sealed_fields
from ledger.trade.opening import LedgerOpened
from ledger.trade.record import Record, body_of
from ledger.trade.refusal import as_given


@dataclass(frozen=True, slots=True)
class Recording:
    """An entry that was let in.

    Attributes:
        recorded: The entry, opened.
        judgement: What the books said of it.
    """

    recorded: Recorded
    judgement: Judgement


def record(
    writing: Writing, kind: str, occurred_on: date, body: dict[str, JsonValue]
) -> Recording:
    """Write an entry and what follows from it, or refuse it.

    The caller's transaction holds the write lock; on refusal it must roll back.

    Args:
        writing: The open transaction.
        kind: Kind of the entry.
        occurred_on: When it happened in the trade.
        body: Its body as the person gave it.

    Raises:
        InputError: The body does not follow the model of its kind.
        RefusedError: The roles of who records do not go so far.
        EntryRefusedError: The books do not let it in.
    """
    if writing.roles is not None:
        refuse_kind(writing.roles, kind)
    record_given = _with_key(_with_clean_replacement(parse_body(kind, body)), writing)
    refuse_alone(writing, record_given)
    _refuse_unfilled(record_given)
    written = body_of(record_given)
    seq, prev = head(writing.rows)
    if not seq and not isinstance(record_given, LedgerOpened):
        raise _not_opened(kind)
    sealed = seal(
        written, _sealed_paths(record_given, written), new_salt=writing.new_salt
    )
    entry = Entry(
        seq=seq,
        prev=prev,
        kind=kind,
        occurred_on=occurred_on,
        recorded_at=writing.now(),
        recorded_by=writing.by,
        body=sealed.body,
    )
    append(writing.rows, entry_bytes(entry), tuple(sealed.disclosures.values()))
    recorded = Recorded(
        seq=seq,
        slot=seq,
        occurred_on=occurred_on,
        recorded_at=entry.recorded_at,
        recorded_by=entry.recorded_by,
        record=record_given,
    )
    return Recording(recorded, judge(SqlShelf(writing.rows), recorded))


def _refuse_unfilled(given: Record) -> None:
    """Refuse the entry that a statement prints, where nobody filled in the reference.

    Raises:
        EntryRefusedError: It is one; nothing would show that the money arrived.
    """
    if isinstance(given, PaymentMade) and given.document == DOCUMENT:
        raise refuse(
            "reference-not-filled-in",
            "document",
            f"document is {as_given(DOCUMENT)}, as a statement prints it; put the bank's "
            "reference in its place, and on the day when the money arrived",
        )


def _not_opened(kind: str) -> EntryRefusedError:
    # What came before an opening entry could never be signed, nor opened afterwards.
    return refuse(
        "not-opened",
        "",
        f"the ledger has no entries yet, so {kind} cannot be recorded; the first entry is "
        "ledger.opened, so open it with `evenweight open`, or check which ledger is named",
    )


def _with_key(given: Record, writing: Writing) -> Record:
    """Return an opening entry with the public key that signs for the ledger."""
    # A second opening is refused by the books, and must not cost a key.
    if (
        not isinstance(given, LedgerOpened)
        or writing.key_for is None
        or head(writing.rows)[0]
    ):
        return given
    line = writing.key_for(given.organisation, given.public_key)
    return given.model_copy(update={"public_key": line})


def _with_clean_replacement(given: Record) -> Record:
    """Return a correction whose replacement is written as if recorded by itself.

    Raises:
        InputError: The replacement does not follow the model of its kind.
    """
    if not isinstance(given, Correction) or given.replacement is None:
        return given
    wanted = given.replacement
    body = cast("dict[str, JsonValue]", wanted.body)
    clean = body_of(parse_body(wanted.entry_kind, body))
    return given.model_copy(
        update={"replacement": wanted.model_copy(update={"body": clean})}
    )


def _sealed_paths(given: Record, written: dict[str, JsonValue]) -> tuple[str, ...]:
    paths = tuple(field for field in sealed_fields(given.kind) if field in written)
    if isinstance(given, Correction) and given.replacement is not None:
        inner = given.replacement
        paths += tuple(
            f"replacement.body.{field}"
            for field in sealed_fields(inner.entry_kind)
            if field in inner.body
        )
    return paths
