"""What of a sale is still with the customer, and under which claims.

Goods may come back and claims may be taken back, in any order and in parts. What came
back or was taken back once is not given back to the accounts a second time. Entries of
one sale count here in the order recorded.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction

from ledger.books.effect import Book, Cause, Posting, Recorded, Subject, SubjectKind
from ledger.books.lookup import expect, site_named
from ledger.books.rolling import throughput
from ledger.books.rounding import credited
from ledger.books.selling import draws, outputs_of
from ledger.books.shelf import Shelf
from ledger.trade.grams import to_grams
from ledger.trade.sale import (
    ClaimWithdrawn,
    ReturnLine,
    SaleDispatched,
    SaleLine,
    SaleReturned,
    WithdrawnLine,
)


@dataclass(slots=True)
class LineOut:
    """What is left of one line of a sale, in grams.

    Attributes:
        line: The line as sold.
        goods_g: What has not come back.
        claimed_g: How much of that is still claimed, by scheme.
    """

    line: SaleLine
    goods_g: int
    claimed_g: dict[str, int]

    @classmethod
    def of(cls, line: SaleLine) -> "LineOut":
        """Return a line of which nothing came back yet."""
        grams = to_grams(line.mass_kg)
        return cls(line, grams, {claim.scheme: grams for claim in line.claims})


@dataclass(frozen=True, slots=True)
class Back:
    """What of one sale line came back, or of its claims, in grams.

    Attributes:
        place: Line of the return or withdrawal.
        line: Line of the sale.
        goods_g: Goods that came back; none where only claims were taken back.
        claims_g: Claims given back to the accounts, by scheme.
    """

    place: int
    line: SaleLine
    goods_g: int
    claims_g: dict[str, int] = field(default_factory=dict)


def lines_out(
    shelf: Shelf,
    sale: SaleDispatched,
    *,
    before: int | None = None,
    until: date = date.max,
) -> list[LineOut]:
    """Return what is left of every line of a sale.

    Args:
        shelf: What is recorded.
        sale: The sale.
        before: Slot; only what was recorded before it counts, all where left out.
        until: Last trade date that counts.
    """
    lines = [LineOut.of(line) for line in sale.lines]
    for found in shelf.about(Subject(SubjectKind.SALE, sale.sale)):
        if (before is None or found.slot < before) and found.occurred_on <= until:
            if isinstance(found.record, SaleReturned):
                list(take_back(lines, found.record))
            elif isinstance(found.record, ClaimWithdrawn):
                list(withdraw(lines, found.record))
    return lines


def take_back(lines: list[LineOut], returned: SaleReturned) -> Iterator[Back]:
    """Take returned goods off the lines of their sale, and yield what came back.

    Where a lot was sold in several lines, what went with fewer claims is taken to come
    back first, and within a line what is no longer claimed: that restores least to the
    accounts.
    """
    for place, part in enumerate(returned.lines):
        left_g = to_grams(part.mass_kg)
        for out in sorted(_of_lot(lines, part), key=lambda out: len(out.line.claims)):
            grams = min(left_g, out.goods_g)
            if not grams:
                continue
            claims_g = {}
            for scheme, claimed_g in out.claimed_g.items():
                unclaimed_g = out.goods_g - claimed_g
                claims_g[scheme] = max(0, grams - unclaimed_g)
                out.claimed_g[scheme] -= claims_g[scheme]
            out.goods_g -= grams
            left_g -= grams
            yield Back(place, out.line, grams, claims_g)


def withdraw(lines: list[LineOut], withdrawn: ClaimWithdrawn) -> Iterator[Back]:
    """Take claims off the lines of their sale, first line first, and yield which."""
    for place, part in enumerate(withdrawn.lines):
        left_g = to_grams(part.mass_kg)
        for out in _of_lot(lines, part):
            grams = min(left_g, out.claimed_g.get(part.scheme, 0))
            if not grams:
                continue
            out.claimed_g[part.scheme] -= grams
            left_g -= grams
            yield Back(place, out.line, 0, {part.scheme: grams})


def claims_back(
    shelf: Shelf, sold: Recorded, back: Back, on: date
) -> Iterator[Posting]:
    """Yield what claims that came back give to the accounts.

    What was claimed when the goods left is what comes back, by the factors of that day.

    Args:
        shelf: What is recorded.
        sold: The sale.
        back: What came back of one of its lines.
        on: Day on which it did.
    """
    sale = expect(sold.record, SaleDispatched)
    site = site_named(shelf, sale.site, field="site")
    whole_g = to_grams(back.line.mass_kg)
    drawn = draws(shelf, back.line, sold.occurred_on, site, field=f"lines.{back.place}")
    for account, beans in sorted(drawn):
        grams = back.claims_g.get(account.scheme, 0)
        if grams:
            part = credited(beans * grams / whole_g)
            yield Posting(account.tally, on, part, Cause.RETURNED)


def outputs_back(
    shelf: Shelf, sold: Recorded, back: Back, on: date
) -> Iterator[Posting]:
    """Yield what goods that came back take off all that was sold.

    Args:
        shelf: What is recorded.
        sold: The sale.
        back: What came back of one of its lines.
        on: Day on which it did.
    """
    sale = expect(sold.record, SaleDispatched)
    site = site_named(shelf, sale.site, field="site")
    part = Fraction(back.goods_g, to_grams(back.line.mass_kg))
    sold_on = sold.occurred_on
    out = outputs_of(shelf, back.line, sold_on, site, field=f"lines.{back.place}")
    for account, beans in sorted(out):
        grams = -credited(beans * part)
        if grams:
            yield throughput(Book.OUTPUT, account, on, grams, Cause.RETURNED)


def _of_lot(lines: list[LineOut], part: ReturnLine | WithdrawnLine) -> list[LineOut]:
    return [out for out in lines if out.line.lot == part.lot]
