"""What a trace is asked about: a lot, batch, sale, shipment or bill of lading."""

from collections import Counter
from typing import Final

from ledger.books.effect import Subject, SubjectKind
from ledger.books.lookup import expect
from ledger.books.shelf import Shelf
from ledger.books.source import lot_named
from ledger.books.trace import whole_g
from ledger.errors import NotFoundError
from ledger.trade.batch import BatchMade
from ledger.trade.grams import to_grams
from ledger.trade.sale import SaleDispatched
from ledger.trade.shipment import ShipmentDispatched, ShipmentReceived

_TRACEABLE: Final = (
    SubjectKind.LOT,
    SubjectKind.BATCH,
    SubjectKind.SALE,
    SubjectKind.SHIPMENT,
)


def find_asked(shelf: Shelf, word: str) -> Subject:
    """Return the lot, batch, sale or shipment that a person means by a word.

    Args:
        shelf: What is recorded.
        word: A name, where several things share one in this order; or the sort of thing,
            a colon and its name, such as "batch:R-12"; or the number of a bill of lading.

    Raises:
        NotFoundError: Nothing of that name is recorded.
    """
    sort, _, name = word.partition(":")
    for kind in _TRACEABLE:
        asked = Subject(kind, name if sort == kind else word)
        if _is_known(shelf, asked):
            return asked
    for found in shelf.of_kind("shipment.dispatched"):
        shipment = expect(found.record, ShipmentDispatched)
        if shipment.carriage.bill_of_lading == word:
            return Subject(SubjectKind.SHIPMENT, shipment.shipment)
    raise NotFoundError(
        f"{word} is no lot, batch, sale, shipment or bill of lading that is recorded; "
        "check the spelling, or list the lots with the stock command"
    )


def _is_known(shelf: Shelf, asked: Subject) -> bool:
    kinds = {asked.kind}
    if asked.kind is SubjectKind.SHIPMENT:
        kinds.add(SubjectKind.ARRIVAL)
    return any(shelf.introducer(Subject(kind, asked.name)) for kind in kinds)


def goods_of(shelf: Shelf, asked: Subject) -> dict[str, int]:
    """Return the lots that a question is about, with the grams of each.

    Of a lot or batch, what was received or made; of a shipment, what was landed and
    accepted; of a sale, what was dispatched, whether or not some of it came back.

    Raises:
        NotFoundError: Nothing of that name is recorded, or the shipment has not arrived.
    """
    is_shipment = asked.kind is SubjectKind.SHIPMENT
    kind = SubjectKind.ARRIVAL if is_shipment else asked.kind
    found = shelf.introducer(Subject(kind, asked.name))
    if found is None or asked.kind not in _TRACEABLE:
        raise NotFoundError(
            f"{asked} is not recorded, or has not arrived, so there is nothing to trace; "
            "ask about a lot, a batch, a sale or a received shipment"
        )
    record = found.record
    if isinstance(record, SaleDispatched):
        sold: Counter[str] = Counter()
        for line in record.lines:
            sold[line.lot] += to_grams(line.mass_kg)
        return dict(sold)
    lots = [asked.name]
    if isinstance(record, BatchMade) and asked.kind is SubjectKind.BATCH:
        lots = [output.lot for output in record.outputs]
    elif isinstance(record, ShipmentReceived) and is_shipment:
        lots = [part.lot for part in record.lots]
    return {lot: whole_g(lot_named(shelf, lot, field=asked.kind)) for lot in lots}
