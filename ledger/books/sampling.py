"""Drawing sales to walk back to their purchases, so that the maker cannot choose them.

The ticket of a sale is a digest of the tree head and the number of its entry; the sales
with the least tickets are drawn. Whoever has the entries can draw again. A maker who
writes another entry gets another draw, but has to give out another tree head with it; a
certifier who wants to be sure draws further sales by a number of their own.
"""

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from heapq import nsmallest

from ledger.books.effect import Recorded
from ledger.books.lookup import expect
from ledger.books.shelf import Shelf
from ledger.trade.sale import SaleDispatched


@dataclass(frozen=True, slots=True, order=True)
class Drawn:
    """One sale with its ticket.

    Attributes:
        ticket: SHA-256 in hexadecimal; the least is drawn first.
        seq: Number of the entry that records the sale.
        sale: Name of the sale.
    """

    ticket: str
    seq: int
    sale: str


def ticket(root: bytes, seq: int) -> str:
    """Return the ticket of an entry: SHA-256 in hexadecimal.

    Args:
        root: The tree head.
        seq: Number of the entry. What is hashed is the ASCII text of the tree head in
            hexadecimal, a colon and the number in decimal.
    """
    return hashlib.sha256(f"{root.hex()}:{seq}".encode()).hexdigest()


def draw_sales(
    shelf: Shelf,
    root: bytes,
    count: int,
    *,
    as_of: date = date.max,
    wanted: Callable[[Recorded], bool] | None = None,
) -> tuple[Drawn, ...]:
    """Return the sales under a claim that are drawn, the first drawn first.

    Args:
        shelf: What is recorded.
        root: The tree head over the entries.
        count: How many to draw; all where there are fewer.
        as_of: Sales up to this trade date take part.
        wanted: Whether a sale takes part; every sale under a claim where left out.
    """
    wanted = wanted or _is_claimed
    tickets = (
        Drawn(
            ticket(root, recorded.seq),
            recorded.seq,
            expect(recorded.record, SaleDispatched).sale,
        )
        for recorded in shelf.of_kind("sale.dispatched")
        if recorded.occurred_on <= as_of and wanted(recorded)
    )
    return tuple(nsmallest(count, tickets))


def _is_claimed(recorded: Recorded) -> bool:
    sale = expect(recorded.record, SaleDispatched)
    return any(line.claims for line in sale.lines)


def sampled_sales(
    shelf: Shelf, root: bytes, count: int, *, as_of: date = date.max
) -> tuple[str, ...]:
    """Return the names of the sales that `draw_sales` draws."""
    return tuple(drawn.sale for drawn in draw_sales(shelf, root, count, as_of=as_of))
