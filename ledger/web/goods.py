"""Which goods a person means, and what they are in a few lines."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Final

from starlette.responses import Response

from ledger.books.asked import find_asked
from ledger.books.effect import Recorded, Subject, SubjectKind
from ledger.books.shelf import Shelf
from ledger.books.source import MadeLot, SourceLot, lot_named
from ledger.books.stock import OnHand, stock_of
from ledger.books.trace import recorded_of, whole_g
from ledger.errors import LedgerError
from ledger.reports.figures import kg_text
from ledger.reports.tongue import Tongue
from ledger.store.latest import latest_names
from ledger.trade.batch import BatchMade
from ledger.trade.sale import SaleDispatched
from ledger.trade.shipment import ShipmentDispatched, ShipmentReceived
from ledger.web.asked import Asked
from ledger.web.door import status_of

_OFFERED: Final = 10


@dataclass(frozen=True, slots=True)
class Fact:
    """One line of what is known.

    Attributes:
        about: What it is about, such as "Supplier", in the reader's language.
        is_: What is known.
        address: Page that tells more; empty where there is none.
        unit: Unit behind it, such as "kg".
    """

    about: str
    is_: str
    address: str = ""
    unit: str = ""


def show_choice(
    asked: Asked,
    *,
    title: str,
    word: str = "",
    error: LedgerError | None = None,
    caution: str = "",
    has_ways: bool = False,
) -> Response:
    """Ask which goods are meant, and offer those that were recorded last.

    Args:
        asked: The request.
        title: What is asked about them.
        word: What was typed.
        error: Why that was not found.
        caution: What to read first.
        has_ways: Whether there is a way to choose, back or forward.
    """
    with asked.books() as books:
        offered = [
            (kind, latest_names(books.rows, kind, most=_OFFERED))
            for kind in (SubjectKind.SALE, SubjectKind.LOT, SubjectKind.SHIPMENT)
        ]
    return asked.page(
        "goods_choice.html",
        status=status_of(error) if error else 200,
        title=title,
        sentence=str(error or ""),
        word=word,
        caution=caution,
        has_ways=has_ways,
        offered=[(kind, names) for kind, names in offered if names],
    )


def shortest_word(shelf: Shelf, subject: Subject) -> str:
    """Return the shortest word by which a person finds the same goods again."""
    if find_asked(shelf, subject.name) == subject:
        return subject.name
    return f"{subject.kind}:{subject.name}"


def facts_of(
    tongue: Tongue, shelf: Shelf, asked: Subject, on: date | None
) -> Iterator[Fact]:
    """Yield what is known of a lot, batch, shipment or sale.

    Args:
        tongue: Whom it is told.
        shelf: What is recorded.
        asked: Which; it is recorded.
        on: Day on which it is looked at; None where not all that left is shown, so that
            nothing can be said of what is there.
    """
    if asked.kind is SubjectKind.LOT:
        yield from _of_lot(tongue, shelf, asked.name, on)
        return
    kinds = [asked.kind]
    if asked.kind is SubjectKind.SHIPMENT:
        kinds.append(SubjectKind.ARRIVAL)
    for kind in kinds:
        found = shelf.introducer(Subject(kind, asked.name))
        if found is not None:
            yield from _of_record(tongue, found)
            yield from _entry(tongue, found)


def _of_lot(tongue: Tongue, shelf: Shelf, lot: str, on: date | None) -> Iterator[Fact]:
    what = lot_named(shelf, lot, field="lot")
    yield Fact(tongue.says("Form"), what.form)
    if isinstance(what, SourceLot):
        yield from _of_received(tongue, what)
    else:
        yield from _of_made(tongue, what)
    yield Fact(tongue.says("Whole lot"), kg_text(whole_g(what)), unit="kg")
    if on is not None:
        yield from _on_hand(tongue, stock_of(shelf, lot, on))
    yield from _entry(tongue, recorded_of(what))


def _of_received(tongue: Tongue, what: SourceLot) -> Iterator[Fact]:
    yield Fact(tongue.says("Shipment"), what.shipment, f"/shipments/{what.shipment}")
    if what.contract is not None:
        yield Fact(
            tongue.says("Contract"), what.contract, f"/contracts/{what.contract}"
        )
    yield Fact(tongue.says("Supplier"), what.supplier)
    if what.origin is not None:
        yield Fact(tongue.says("Origin"), what.origin)
    if what.claims:
        yield Fact(
            tongue.says("Bought under"),
            "; ".join(f"{c.scheme}, {tongue.says(c.custody)}" for c in what.claims),
        )
    if what.part.decision == "rejected":
        yield Fact(tongue.says("Decision"), tongue.says("rejected at arrival"))


def _of_made(tongue: Tongue, what: MadeLot) -> Iterator[Fact]:
    yield Fact(tongue.says("Batch"), what.made.batch, f"/batches/{what.made.batch}")
    yield Fact(tongue.says("Step"), what.made.step)
    if what.output.recipe is not None:
        yield Fact(tongue.says("Recipe"), what.output.recipe)


def _on_hand(tongue: Tongue, found: Iterable[OnHand]) -> Iterator[Fact]:
    for left in found:
        yield from _left(tongue, left)
        return
    yield Fact(tongue.says("On hand"), tongue.says("nothing is left"))


def _left(tongue: Tongue, left: OnHand) -> Iterator[Fact]:
    yield Fact(tongue.says("On hand"), kg_text(left.grams), unit="kg")
    where = ", ".join(part for part in (left.place, left.site) if part)
    if where:
        yield Fact(tongue.says("Place"), where)
    if left.hold is not None:
        yield Fact(tongue.says("On hold"), left.hold)
    if left.best_before is not None:
        yield Fact(tongue.says("Best before"), left.best_before.isoformat())


def _of_record(tongue: Tongue, found: Recorded) -> Iterator[Fact]:
    record = found.record
    if isinstance(record, SaleDispatched):
        yield Fact(tongue.says("Customer"), record.customer)
        yield Fact(tongue.says("Document"), record.document)
    elif isinstance(record, BatchMade):
        yield Fact(tongue.says("Step"), record.step)
        yield Fact(tongue.says("Batch"), record.batch, f"/batches/{record.batch}")
    elif isinstance(record, ShipmentDispatched):
        yield Fact(
            tongue.says("Contract"), record.contract, f"/contracts/{record.contract}"
        )
        yield Fact(tongue.says("Bill of lading"), record.carriage.bill_of_lading)
    elif isinstance(record, ShipmentReceived):
        yield Fact(tongue.says("Lots"), ", ".join(part.lot for part in record.lots))


def _entry(tongue: Tongue, found: Recorded) -> Iterator[Fact]:
    on = {
        "batch.made": tongue.says("Made on"),
        "sale.dispatched": tongue.says("Sold on"),
        "shipment.dispatched": tongue.says("Dispatched on"),
        "shipment.received": tongue.says("Received on"),
    }
    yield Fact(on[found.kind], found.occurred_on.isoformat())
    yield Fact(tongue.says("Entry"), str(found.seq), f"/entries/{found.seq}")
