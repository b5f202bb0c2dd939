"""A recall: which lots hold the goods in doubt, where they are, and whom to call.

What is asked is whether everything that was made of the goods can be found again: sold to
whom, on hand where, lost or written off. The books always account for it in full, since
they refuse an entry that does not; what can be missing is found by counting. So where a
lot was counted after it last moved, the count stands in for the book.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Final

from ledger.books.asked import find_asked
from ledger.books.claimed import lines_out
from ledger.books.effect import Recorded, Subject, SubjectKind, Tally
from ledger.books.genealogy import trace_forward
from ledger.books.lookup import expect, recipe_named
from ledger.books.shelf import Shelf
from ledger.books.source import MadeLot, SourceLot, exact_sum
from ledger.books.stock import OnHand, on_hand
from ledger.books.trace import Trace, Way, recorded_of, whole_g
from ledger.trade.grams import to_grams
from ledger.trade.lot import HoldPlaced, LotCounted, LotRejected
from ledger.trade.party import Contact, PartyRegistered
from ledger.trade.recipe import RecipePublished
from ledger.trade.sale import SaleDispatched

ACCEPTED_PERCENT: Final = (Fraction(995, 10), Fraction(105))
"""Per cent reconciled that one published manual for mock recalls accepts.

There is no official tolerance. Source: mock recall manual quoted at ifsqn.com.
"""


@dataclass(frozen=True, slots=True)
class Count:
    """What somebody found of a lot.

    Attributes:
        recorded: The count.
        found_g: Grams found.
    """

    recorded: Recorded
    found_g: int


@dataclass(frozen=True, slots=True)
class RecallLot:
    """A lot that holds some of the goods in doubt.

    Attributes:
        what: What the lot is.
        doubted_g: How much of the goods in doubt is in it, well mixed.
        left: What is left of the whole lot by the book; None where nothing is.
        count: The last count of it, if nothing moved since.
    """

    what: SourceLot | MadeLot
    doubted_g: Fraction
    left: OnHand | None
    count: Count | None

    @property
    def lot(self) -> str:
        """Lot number."""
        return self.what.lot

    @property
    def recorded(self) -> Recorded:
        """The receipt or batch that gave the lot."""
        return recorded_of(self.what)

    @property
    def left_g(self) -> int:
        """Grams of the whole lot left by the book."""
        return 0 if self.left is None else self.left.grams

    @property
    def found_g(self) -> int:
        """Grams of the whole lot that are there: as counted, or else by the book."""
        return self.left_g if self.count is None else self.count.found_g

    @property
    def counted_g(self) -> Fraction:
        """Grams of the goods in doubt in what was counted, well mixed; 0 uncounted."""
        found_g = 0 if self.count is None else self.count.found_g
        return self.doubted_g * found_g / (whole_g(self.what) or 1)


@dataclass(frozen=True, slots=True)
class RecallSale:
    """Goods of one lot with a customer.

    Attributes:
        recorded: The sale.
        lot: Lot sold.
        sold_g: Grams dispatched, of the whole lot.
        kept_g: Grams that did not come back.
        doubted_g: How much of the goods in doubt is in what did not come back.
        pieces: Pieces dispatched, where they were counted.
    """

    recorded: Recorded
    lot: str
    sold_g: int
    kept_g: int
    doubted_g: Fraction
    pieces: int | None

    @property
    def sale(self) -> SaleDispatched:
        """The sale as recorded."""
        return expect(self.recorded.record, SaleDispatched)


@dataclass(frozen=True, slots=True)
class RecallCustomer:
    """A customer to call.

    Attributes:
        party: Short name.
        registered: The entry that registered it.
        legal_name: Name on invoices; None where it is not disclosed.
        contacts: Whom to call; none where they are not recorded or not disclosed.
        sales: What went there and did not all come back.
    """

    party: str
    registered: int
    legal_name: str | None
    contacts: tuple[Contact, ...]
    sales: tuple[RecallSale, ...]

    @property
    def kept_g(self) -> int:
        """Grams that are with the customer, or went on from there."""
        return sum(sale.kept_g for sale in self.sales)


@dataclass(frozen=True, slots=True)
class Caution:
    """Something that whoever decides should know.

    Attributes:
        entry: Where it is recorded.
        about: Lot, recipe or hold.
        text: What it says.
    """

    entry: int
    about: str
    text: str


@dataclass(frozen=True, slots=True)
class Recall:
    """Everything a recall needs, from one set of entries.

    Attributes:
        asked: What is in doubt.
        as_of: Last trade date that counts.
        trace: The goods in doubt, followed forward.
        lots: Lots that hold them, in the order of making.
        customers: Whom to call, by name.
        cautions: Allergens, remarks at arrival, rejections and holds.
    """

    asked: Subject
    as_of: date
    trace: Trace
    lots: tuple[RecallLot, ...]
    customers: tuple[RecallCustomer, ...]
    cautions: tuple[Caution, ...]

    @property
    def on_hand(self) -> tuple[RecallLot, ...]:
        """Lots of which something is left, by the book or by a count."""
        return tuple(lot for lot in self.lots if lot.left_g or lot.found_g)

    @property
    def found_g(self) -> Fraction:
        """Grams of the goods in doubt that are accounted for, counts included."""
        ways = self.trace.ways
        in_stock = {
            outcome.lot: outcome.grams
            for outcome in self.trace.outcomes
            if outcome.way is Way.IN_STOCK
        }
        there = [
            in_stock.get(lot.lot, Fraction(0)) if lot.count is None else lot.counted_g
            for lot in self.lots
        ]
        counted = exact_sum(there)
        return counted + ways[Way.SOLD] + ways[Way.LOST] + ways[Way.WRITTEN_OFF]

    @property
    def percent_reconciled(self) -> Fraction:
        """Sold, on hand, lost and written off, in per cent of what came in."""
        return (
            self.found_g * 100 / self.trace.grams if self.trace.grams else Fraction(100)
        )

    @property
    def is_accepted(self) -> bool:
        """Whether the per cent reconciled is what `ACCEPTED_PERCENT` says."""
        lowest, highest = ACCEPTED_PERCENT
        return lowest <= self.percent_reconciled <= highest


def find_recall(shelf: Shelf, word: str, as_of: date) -> Recall:
    """Return the recall of a lot, batch, shipment, sale or bill of lading.

    Args:
        shelf: What is recorded.
        word: What is in doubt, as for a trace.
        as_of: Last trade date that counts.

    Raises:
        NotFoundError: Nothing of that name is recorded, or the shipment has not arrived.
    """
    asked = find_asked(shelf, word)
    trace = trace_forward(shelf, asked, until=as_of)
    lots = tuple(
        RecallLot(
            what=traced.what,
            doubted_g=traced.grams,
            left=_left(shelf, traced.lot, as_of),
            count=_count(shelf, traced.lot, as_of),
        )
        for traced in trace.lots
    )
    return Recall(
        asked=asked,
        as_of=as_of,
        trace=trace,
        lots=lots,
        customers=tuple(_customers(shelf, lots, as_of)),
        cautions=tuple(_cautions(shelf, lots, as_of)),
    )


def _left(shelf: Shelf, lot: str, as_of: date) -> OnHand | None:
    grams = shelf.run(Tally.stock(lot), until=as_of).closing_g
    return on_hand(shelf, lot, grams, as_of) if grams else None


def _count(shelf: Shelf, lot: str, as_of: date) -> Count | None:
    """Return the last count of a lot, unless the lot moved on its day or later."""
    counts = [
        found
        for found in shelf.about(Subject(SubjectKind.LOT, lot), "lot.counted")
        if found.occurred_on <= as_of
    ]
    if not counts:
        return None
    last = max(counts, key=lambda found: (found.occurred_on, found.slot))
    moved = shelf.run(Tally.stock(lot), since=last.occurred_on, until=as_of).movements
    if any((one.day, one.slot) > (last.occurred_on, last.slot) for one in moved):
        return None
    return Count(last, to_grams(expect(last.record, LotCounted).found_kg))


def _customers(
    shelf: Shelf, lots: Iterable[RecallLot], as_of: date
) -> Iterator[RecallCustomer]:
    by_party: dict[str, list[RecallSale]] = {}
    parts = {lot.lot: lot.doubted_g / (whole_g(lot.what) or 1) for lot in lots}
    for sale in _sales(shelf, parts, as_of):
        if sale.kept_g:
            by_party.setdefault(sale.sale.customer, []).append(sale)
    for name in sorted(by_party):
        found = shelf.introducer(Subject(SubjectKind.PARTY, name))
        if found is None:
            raise TypeError(f"customer {name} of a sale is not registered")
        party = expect(found.record, PartyRegistered)
        yield RecallCustomer(
            party=name,
            registered=found.seq,
            legal_name=party.legal_name,
            contacts=party.contacts,
            sales=tuple(by_party[name]),
        )


def _sales(
    shelf: Shelf, parts: Mapping[str, Fraction], as_of: date
) -> Iterator[RecallSale]:
    """Yield what was sold of some lots, given which part of each is in doubt."""
    found = {
        recorded.slot: recorded
        for lot in sorted(parts)
        for recorded in shelf.about(Subject(SubjectKind.LOT, lot), "sale.dispatched")
        if recorded.occurred_on <= as_of
    }
    for slot in sorted(found):
        sale = expect(found[slot].record, SaleDispatched)
        for out in lines_out(shelf, sale, until=as_of):
            if out.line.lot in parts:
                yield RecallSale(
                    recorded=found[slot],
                    lot=out.line.lot,
                    sold_g=to_grams(out.line.mass_kg),
                    kept_g=out.goods_g,
                    doubted_g=parts[out.line.lot] * out.goods_g,
                    pieces=out.line.pieces,
                )


def _cautions(
    shelf: Shelf, lots: tuple[RecallLot, ...], as_of: date
) -> Iterator[Caution]:
    recipes = {
        lot.what.output.recipe
        for lot in lots
        if isinstance(lot.what, MadeLot) and lot.what.output.recipe is not None
    }
    for name in sorted(recipes):
        found = shelf.introducer(Subject(SubjectKind.RECIPE, name))
        entry = 0 if found is None else found.seq
        yield _allergens(recipe_named(shelf, name, field="recipe"), entry)
    for lot in lots:
        yield from _remarks(shelf, lot, as_of)


def _allergens(recipe: RecipePublished, entry: int) -> Caution:
    text = (
        f"allergens on the label of {recipe.product}: {', '.join(recipe.allergens)}"
        if recipe.allergens
        else f"{recipe.product} declares no allergen; hold that against its real label"
    )
    return Caution(entry, f"recipe {recipe.recipe}", text)


def _remarks(shelf: Shelf, lot: RecallLot, as_of: date) -> Iterator[Caution]:
    about = f"lot {lot.lot}"
    if isinstance(lot.what, SourceLot):
        quality = lot.what.part.quality
        if quality is not None and quality.note is not None:
            yield Caution(lot.recorded.seq, about, f"noted at arrival: {quality.note}")
    for found in shelf.about(Subject(SubjectKind.LOT, lot.lot)):
        if found.occurred_on > as_of:
            continue
        if isinstance(found.record, LotRejected):
            yield Caution(found.seq, about, f"rejected: {found.record.reason}")
        elif isinstance(found.record, HoldPlaced):
            hold = f"hold {found.record.hold} was placed: {found.record.reason}"
            yield Caution(found.seq, about, hold)
