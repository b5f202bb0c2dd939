"""Recalling: the list of what is concerned, and a hold on what is still in the house."""

from dataclasses import replace
from datetime import date, datetime

from ledger.books.effect import Subject, SubjectKind
from ledger.books.lookup import expect, opening
from ledger.books.recall import Recall, RecallCustomer, find_recall
from ledger.books.shelf import Shelf
from ledger.chain.canonical import JsonValue
from ledger.desk.record import Recording, record
from ledger.desk.sealed_for import EntryReader
from ledger.desk.writing import Writing
from ledger.errors import NotFoundError
from ledger.store.shelf import SqlShelf
from ledger.trade.party import PartyRegistered
from ledger.trade.record import body_of


def recall_for(reader: EntryReader, shelf: Shelf, word: str, on: date) -> Recall:
    """Return a recall as somebody may see it.

    Args:
        reader: Who asks; names and contacts that the reader may not see are left out.
        shelf: What is recorded.
        word: What is in doubt, as for a trace.
        on: Last trade date that counts.

    Raises:
        NotFoundError: Nothing of that name is recorded, or the shipment has not arrived.
    """
    found = find_recall(shelf, word, on)
    customers = tuple(_as_seen(reader, shelf, one) for one in found.customers)
    return replace(found, customers=customers)


def recall_pdf(
    shelf: Shelf, found: Recall, *, made_at: datetime, made_by: str
) -> bytes:
    """Return a recall as PDF.

    Args:
        shelf: What is recorded.
        found: The recall.
        made_at: The moment it was asked, in UTC.
        made_by: Who asked.

    Raises:
        EntryRefusedError: The ledger is not opened yet.
    """
    from ledger.reports.recall_sheet import RecallCover, render_recall

    cover = RecallCover(opening(shelf).organisation_name, made_at, made_by)
    return render_recall(cover, found)


def _as_seen(
    reader: EntryReader, shelf: Shelf, customer: RecallCustomer
) -> RecallCustomer:
    registered = shelf.introducer(Subject(SubjectKind.PARTY, customer.party))
    if registered is None:
        return customer
    body = body_of(expect(registered.record, PartyRegistered))
    sees_name, sees_contacts = (
        reader.sees(registered.kind, member, body)
        for member in ("legal_name", "contacts")
    )
    return replace(
        customer,
        legal_name=customer.legal_name if sees_name else None,
        contacts=customer.contacts if sees_contacts else (),
    )


def hold_recalled(
    writing: Writing, word: str, *, hold: str, reason: str, on: date
) -> tuple[Recall, Recording]:
    """Place a hold on every lot on hand that holds some of the goods in doubt.

    The list and the hold come from the same transaction, so nothing can slip out between.

    Args:
        writing: The open transaction.
        word: What is in doubt, as for a trace.
        hold: Name of the hold.
        reason: Why.
        on: Trade date of the hold, and last one that counts for the list.

    Returns:
        The recall as it stands with the hold, and the entry that placed it.

    Raises:
        NotFoundError: Nothing of that name is recorded, or nothing of it is on hand.
        EntryRefusedError: The books refuse the hold.
    """
    shelf = SqlShelf(writing.rows)
    lots = [lot.lot for lot in find_recall(shelf, word, on).on_hand]
    if not lots:
        raise NotFoundError(
            f"nothing that holds some of {word} is on hand on {on}, so hold {hold} has "
            "no lot to hold; leave --hold out to print the list of customers"
        )
    body: dict[str, JsonValue] = {"hold": hold, "lots": [*lots], "reason": reason}
    placed = record(writing, "hold.placed", on, body)
    return find_recall(SqlShelf(writing.rows), word, on), placed
