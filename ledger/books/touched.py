"""What some received lots touch: what was made of them, who bought it, what is left.

The mass of a lot is followed as a trace follows it, well mixed; the masses that a person
has to fetch or to lock away are those of whole lots, since nobody can take the share of
one lot out of a bar.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from ledger.books.claimed import LineOut, lines_out
from ledger.books.custody import check_goods
from ledger.books.effect import Recorded, Subject, SubjectKind, Tally
from ledger.books.finding import EntryRefusedError
from ledger.books.genealogy import trace_forward
from ledger.books.lookup import expect, terms_in_force
from ledger.books.shelf import Shelf
from ledger.books.source import MadeLot, SourceLot, exact_sum
from ledger.books.stock import OnHand, on_hand
from ledger.trade.grams import to_grams
from ledger.trade.sale import (
    ClaimWithdrawn,
    SaleClaim,
    SaleDispatched,
    SaleReturned,
)


@dataclass(frozen=True, slots=True)
class TouchedLot:
    """A lot that holds some of the goods asked about.

    Attributes:
        what: What the lot is.
        part_g: How much of the goods asked about went into it.
        left: What is left of the whole lot; None where nothing is.
    """

    what: SourceLot | MadeLot
    part_g: Fraction
    left: OnHand | None

    @property
    def lot(self) -> str:
        """Lot number."""
        return self.what.lot


@dataclass(frozen=True, slots=True)
class TouchedClaim:
    """A claim made for goods that came from the lots asked about.

    Attributes:
        recorded: The sale.
        lot: Lot sold.
        claim: The claim.
        sold_g: Grams sold with it.
        still_g: Grams that are with the customer and still claimed.
        given_back_by: Entries that took back goods or claims of the sale.
        unsupported: Why the goods no longer support it; empty where they do, or where
            mass balance asks nothing of them.
    """

    recorded: Recorded
    lot: str
    claim: SaleClaim
    sold_g: int
    still_g: int
    given_back_by: tuple[int, ...]
    unsupported: str

    @property
    def sale(self) -> SaleDispatched:
        """The sale as recorded."""
        return expect(self.recorded.record, SaleDispatched)


def touched_lots(shelf: Shelf, lots: Iterable[str], on: date) -> tuple[TouchedLot, ...]:
    """Return the lots that hold some of other lots, these included, in order of making.

    Args:
        shelf: What is recorded.
        lots: Lots asked about, none of which went into another.
        on: Last trade date that counts.
    """
    parts: dict[str, list[Fraction]] = {}
    whats: dict[str, SourceLot | MadeLot] = {}
    for lot in sorted(set(lots)):
        trace = trace_forward(shelf, Subject(SubjectKind.LOT, lot), until=on)
        for traced in trace.lots:
            whats[traced.lot] = traced.what
            parts.setdefault(traced.lot, []).append(traced.grams)
    found = []
    for lot, what in whats.items():
        left_g = shelf.run(Tally.stock(lot), until=on).closing_g
        left = on_hand(shelf, lot, left_g, on) if left_g else None
        found.append(TouchedLot(what, exact_sum(parts[lot]), left))
    return tuple(found)


def touched_claims(
    shelf: Shelf, lots: Iterable[str], schemes: Iterable[str], on: date
) -> tuple[TouchedClaim, ...]:
    """Return the claims under some schemes that were made for some lots, by sale.

    Args:
        shelf: What is recorded.
        lots: Lots sold.
        schemes: Schemes of the claims.
        on: Last trade date that counts, and date on which the goods must support them.
    """
    wanted, names = set(lots), set(schemes)
    sales = {
        found.slot: found
        for lot in sorted(wanted)
        for found in shelf.about(Subject(SubjectKind.LOT, lot), "sale.dispatched")
        if found.occurred_on <= on
    }
    return tuple(
        claim
        for slot in sorted(sales)
        for claim in _claims_of(shelf, sales[slot], wanted, names, on)
    )


def _claims_of(
    shelf: Shelf, recorded: Recorded, lots: set[str], schemes: set[str], on: date
) -> Iterator[TouchedClaim]:
    sale = expect(recorded.record, SaleDispatched)
    for out in lines_out(shelf, sale, until=on):
        if out.line.lot not in lots:
            continue
        for claim in out.line.claims:
            if claim.scheme in schemes:
                yield TouchedClaim(
                    recorded=recorded,
                    lot=out.line.lot,
                    claim=claim,
                    sold_g=to_grams(out.line.mass_kg),
                    still_g=out.claimed_g[claim.scheme],
                    given_back_by=tuple(_given_back_by(shelf, sale, out, claim)),
                    unsupported=_why_unsupported(shelf, recorded, out, claim, on),
                )


def _given_back_by(
    shelf: Shelf, sale: SaleDispatched, out: LineOut, claim: SaleClaim
) -> Iterator[int]:
    for found in shelf.about(Subject(SubjectKind.SALE, sale.sale)):
        record = found.record
        if isinstance(record, SaleReturned):
            if any(line.lot == out.line.lot for line in record.lines):
                yield found.seq
        elif isinstance(record, ClaimWithdrawn) and any(
            (line.lot, line.scheme) == (out.line.lot, claim.scheme)
            for line in record.lines
        ):
            yield found.seq


def _why_unsupported(
    shelf: Shelf, recorded: Recorded, out: LineOut, claim: SaleClaim, on: date
) -> str:
    """Return why goods do not support a claim any more, as the books see it now."""
    terms = terms_in_force(shelf, claim.scheme, recorded.occurred_on, field="claims")
    try:
        check_goods(shelf, terms, out.line.lot, claim, on, field="the sale")
    except EntryRefusedError as error:
        return str(error).partition(";")[0]
    return ""
