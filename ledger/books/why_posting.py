"""How the mass of every posting was reached: one function a kind of entry.

Nothing is computed here by rules of its own: the functions that the books count with tell
part by part what they did, and that is put in words.
"""

from collections.abc import Callable, Iterator, Mapping
from typing import Final

from ledger.books.effect import Book, Recorded
from ledger.books.lookup import expect, terms_in_force
from ledger.books.shelf import Shelf
from ledger.books.why_claim import (
    Reached,
    draws_reached,
    returns_reached,
    withdrawals_reached,
)
from ledger.books.why_factor import terms_rule
from ledger.books.why_lapse import lapses_reached
from ledger.books.why_loss import losses_reached
from ledger.books.why_parting import partings_reached
from ledger.books.why_receipt import receipts_reached
from ledger.books.why_stock import (
    batch_masses,
    received_masses,
    returned_masses,
    sold_masses,
    written_off_masses,
)
from ledger.books.why_throughput import (
    inputs_reached,
    outputs_back_reached,
    outputs_reached,
)
from ledger.books.working import Working
from ledger.trade.grams import show_kg, to_grams
from ledger.trade.transfer import ClaimTransferred


def _transfers_reached(shelf: Shelf, recorded: Recorded) -> Iterator[Reached]:
    """Yield what a transfer moved: as much as it states, out of one and into the other."""
    transfer = expect(recorded.record, ClaimTransferred)
    stated = show_kg(to_grams(transfer.beans_kg))
    terms = terms_in_force(shelf, transfer.scheme, recorded.occurred_on, field="scheme")
    line = Working(
        f"transfer {transfer.transfer}, bean equivalent",
        f"{stated} kg",
        terms_rule(terms, f"may be moved {', '.join(terms.account.transfers)}"),
        recorded.seq,
    )
    for posting in shelf.effects(recorded.slot).postings:
        if posting.tally.book is Book.ACCOUNT:
            yield Reached(posting, (line,))


_REACHED: Final[
    Mapping[str, tuple[Callable[[Shelf, Recorded], Iterator[Reached]], ...]]
] = {
    "shipment.received": (received_masses, receipts_reached, inputs_reached),
    "batch.made": (batch_masses,),
    "sale.dispatched": (sold_masses, draws_reached, partings_reached, outputs_reached),
    "sale.returned": (returned_masses, returns_reached, outputs_back_reached),
    "claim.withdrawn": (withdrawals_reached,),
    "claim.transferred": (_transfers_reached,),
    "lot.written_off": (written_off_masses, losses_reached, partings_reached),
    "period.closed": (lapses_reached,),
}


def reached_by(shelf: Shelf, recorded: Recorded) -> Iterator[Reached]:
    """Yield what an entry that counts moves as things stand, and why.

    A posting of a closed period that would be another by now is not among it: what was
    signed off stays, and the difference lands in the open period.
    """
    for ask in _REACHED.get(recorded.kind, ()):
        yield from ask(shelf, recorded)
