"""Drawing sales as a certifier asks for them: by chance with a seed, or by a rule.

Chance is a digest here, too: the ticket of a sale is worked out from the tree head, the
certifier's own seed and the number of its entry, and the least tickets are drawn. The
tree head holds fast what there was to draw from, and the seed keeps the maker from
knowing beforehand what will be drawn; whoever has the three draws the same again.
"""

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Final

from ledger.books.effect import Recorded
from ledger.books.lookup import expect
from ledger.books.portion import Portion
from ledger.books.shelf import Shelf
from ledger.books.source import SourceLot, composition, lot_named
from ledger.trade.grams import to_grams
from ledger.trade.sale import SaleDispatched

MOST_DRAWN: Final = 100


class DrawRule(StrEnum):
    """What decides which sales are drawn."""

    RANDOM = "random"
    """By the least tickets."""
    LARGEST = "largest"
    """By the mass sold under a claim, the largest first."""
    EACH_COOPERATIVE = "each supplier once"
    """By the least tickets, until every supplier of beans has a sale with beans of it."""
    EACH_MONTH = "each month once"
    """The least ticket of each month."""


@dataclass(frozen=True, slots=True)
class Draw:
    """What decides a draw; the same gives the same sales again.

    Attributes:
        rule: What decides.
        seed: The certifier's own seed; a largest mass needs none, but ties do.
        root: Tree head over the entries that take part, 32 bytes.
        size: How many entries it covers; sales recorded later take no part.
        count: How many sales to draw; a rule that is about each of something draws as
            many as it takes, up to this.
        since: First trade date that takes part; None from the beginning.
        until: Last trade date that takes part; None to the end.
        scheme: The one scheme under which the sales are claimed; None for any.
    """

    rule: DrawRule
    seed: str
    root: bytes
    size: int
    count: int
    since: date | None = None
    until: date | None = None
    scheme: str | None = None

    def __str__(self) -> str:
        told = [f"{self.rule}, seed {self.seed}, {self.count} at most"]
        told += [str(self._portion)] if str(self._portion) else []
        return f"{', '.join(told)}, tree head {self.size}:{self.root.hex()}"

    @property
    def _portion(self) -> Portion:
        return Portion(self.scheme, self.since, self.until)

    def takes(self, recorded: Recorded) -> bool:
        """Tell whether a sale takes part."""
        return recorded.seq < self.size and self._portion.has_sale(recorded)

    def ticket(self, seq: int) -> str:
        """Return the ticket of an entry: SHA-256 in hexadecimal.

        What is hashed is the text of the tree head in hexadecimal, a colon, the seed in
        UTF-8, a colon and the number in decimal. A tree head and a number have no colon
        in them, so no two draws hash the same text for one entry.
        """
        text = f"{self.root.hex()}:{self.seed}:{seq}"
        return hashlib.sha256(text.encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class DrawnSale:
    """A sale that was drawn.

    Attributes:
        recorded: Its entry.
        sale: What it says.
        ticket: Its ticket.
        claimed_g: Grams sold under a claim of the draw.
        why: What it was drawn for: the supplier or the month; empty where it was drawn
            by its ticket or its mass alone.
    """

    recorded: Recorded
    sale: SaleDispatched
    ticket: str
    claimed_g: int
    why: str = ""


def draw(shelf: Shelf, wanted: Draw) -> tuple[DrawnSale, ...]:
    """Return the sales that are drawn, the first drawn first."""
    there = sorted(population(shelf, wanted), key=lambda one: one.ticket)
    return tuple(_drawn(shelf, there, wanted.rule))[: wanted.count]


def _drawn(shelf: Shelf, there: list[DrawnSale], rule: DrawRule) -> Iterable[DrawnSale]:
    match rule:
        case DrawRule.RANDOM:
            return there
        case DrawRule.LARGEST:
            return sorted(there, key=lambda one: -one.claimed_g)
        case DrawRule.EACH_MONTH:
            return _each_month(there)
        case DrawRule.EACH_COOPERATIVE:
            return _each_supplier(shelf, there)


def population(shelf: Shelf, wanted: Draw) -> Iterator[DrawnSale]:
    """Yield the sales that take part in a draw, in the order recorded."""
    for recorded in shelf.of_kind("sale.dispatched"):
        if wanted.takes(recorded):
            sale = expect(recorded.record, SaleDispatched)
            claimed = claimed_grams(sale, wanted.scheme)
            yield DrawnSale(recorded, sale, wanted.ticket(recorded.seq), claimed)


def claimed_grams(sale: SaleDispatched, scheme: str | None) -> int:
    """Return the grams of a sale that are claimed under a scheme, or under any."""
    return sum(
        to_grams(line.mass_kg)
        for line in sale.lines
        if any(scheme in {None, claim.scheme} for claim in line.claims)
    )


def suppliers_of(shelf: Shelf, sale: SaleDispatched) -> frozenset[str]:
    """Return the parties from which the goods of a sale came."""
    lots = {lot for line in sale.lines for lot in composition(shelf, line.lot)}
    found = (lot_named(shelf, lot, field="lot") for lot in lots)
    return frozenset(one.supplier for one in found if isinstance(one, SourceLot))


def _each_month(there: Iterable[DrawnSale]) -> Iterator[DrawnSale]:
    first: dict[str, DrawnSale] = {}
    for one in there:
        first.setdefault(f"{one.recorded.occurred_on:%Y-%m}", one)
    for month, one in sorted(first.items()):
        yield _for(one, month)


def _each_supplier(shelf: Shelf, there: Iterable[DrawnSale]) -> Iterator[DrawnSale]:
    met: set[str] = set()
    for one in there:
        new = suppliers_of(shelf, one.sale) - met
        if new:
            met |= new
            yield _for(one, ", ".join(sorted(new)))


def _for(one: DrawnSale, why: str) -> DrawnSale:
    return DrawnSale(one.recorded, one.sale, one.ticket, one.claimed_g, why)
