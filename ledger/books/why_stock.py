"""What moved the stock of a lot: masses as entries state them, and as they were typed."""

from collections.abc import Iterator

from ledger.books.effect import Cause, Posting, Recorded, Tally
from ledger.books.lookup import expect
from ledger.books.shelf import Shelf
from ledger.books.why_claim import Reached
from ledger.books.working import Working
from ledger.trade.batch import BatchMade
from ledger.trade.grams import show_kg, to_grams
from ledger.trade.lot import LotWrittenOff
from ledger.trade.record import Measured
from ledger.trade.sale import SaleDispatched, SaleReturned
from ledger.trade.shipment import ShipmentReceived


def received_masses(_shelf: Shelf, recorded: Recorded) -> Iterator[Reached]:
    """Yield what a receipt brought into the stock: net landed weight."""
    receipt = expect(recorded.record, ShipmentReceived)
    for part in receipt.lots:
        if part.decision == "accepted":
            grams = to_grams(part.net_landed_kg)
            text = f"net landed with shipment {receipt.shipment}"
            typed = _typed(part, "net_landed_kg")
            yield _moved(recorded, part.lot, grams, Cause.RECEIVED, text + typed)


def batch_masses(_shelf: Shelf, recorded: Recorded) -> Iterator[Reached]:
    """Yield what a batch took out of the stock and what it gave."""
    batch = expect(recorded.record, BatchMade)
    for taken in batch.inputs:
        text = f"taken by batch {batch.batch}{_typed(taken, 'mass_kg')}"
        grams = -to_grams(taken.mass_kg)
        yield _moved(recorded, taken.lot, grams, Cause.USED, text)
    for given in batch.outputs:
        text = f"given by batch {batch.batch}{_typed(given, 'mass_kg')}"
        grams = to_grams(given.mass_kg)
        yield _moved(recorded, given.lot, grams, Cause.MADE, text)


def sold_masses(_shelf: Shelf, recorded: Recorded) -> Iterator[Reached]:
    """Yield what a sale took out of the stock."""
    sale = expect(recorded.record, SaleDispatched)
    for line in sale.lines:
        text = f"dispatched with sale {sale.sale}{_typed(line, 'mass_kg')}"
        grams = -to_grams(line.mass_kg)
        yield _moved(recorded, line.lot, grams, Cause.SOLD, text)


def returned_masses(_shelf: Shelf, recorded: Recorded) -> Iterator[Reached]:
    """Yield what a return brought back into the stock."""
    returned = expect(recorded.record, SaleReturned)
    for line in returned.lines:
        text = f"came back of sale {returned.sale}{_typed(line, 'mass_kg')}"
        grams = to_grams(line.mass_kg)
        yield _moved(recorded, line.lot, grams, Cause.RETURNED, text)


def written_off_masses(_shelf: Shelf, recorded: Recorded) -> Iterator[Reached]:
    """Yield what writing off took out of the stock."""
    loss = expect(recorded.record, LotWrittenOff)
    text = f"written off: {loss.reason}{_typed(loss, 'mass_kg')}"
    grams = -to_grams(loss.mass_kg)
    yield _moved(recorded, loss.lot, grams, Cause.WRITTEN_OFF, text)


def _moved(
    recorded: Recorded, lot: str, grams: int, cause: Cause, text: str
) -> Reached:
    posting = Posting(Tally.stock(lot), recorded.occurred_on, grams, cause)
    line = Working(text, f"{show_kg(abs(grams))} kg", "", recorded.seq)
    return Reached(posting, (line,))


def _typed(part: Measured, field: str) -> str:
    """Return what was typed, where that was not kilograms."""
    text = part.typed.get(field)
    return "" if text is None else f", typed as {text}"
