"""What a scheme's fees are charged on: claims of a quarter, by weight and by value."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from ledger.books.account import Account
from ledger.books.effect import Book, Cause, Recorded
from ledger.books.lookup import expect
from ledger.books.paid_weight import kg, show_weight
from ledger.books.quarter import Quarter
from ledger.books.quarter_claims import claimed_by_lot, entries_in, moved_in, sale_of
from ledger.books.rounding import shown
from ledger.books.shelf import Movement, Shelf
from ledger.books.working import Working
from ledger.trade.grams import to_grams
from ledger.trade.sale import SaleDispatched

_CLAIMS = frozenset({Cause.SOLD, Cause.RETURNED})


@dataclass(frozen=True, slots=True)
class Charged:
    """What one entry adds to what is charged.

    Attributes:
        sale: Name of the sale; empty for one that was made void after its period closed.
        sold_on: Day of the sale, which picks the fee.
        amount: Grams of bean equivalent, or invoiced value in major units; below zero
            for what came back.
        workings: How it was reached.
        commodity: What was claimed; empty for a value.
        currency: ISO 4217; None for a weight, or a value that is not known.
    """

    sale: str
    sold_on: date
    amount: Fraction
    workings: tuple[Working, ...]
    commodity: str = ""
    currency: str | None = None


def charged_beans(shelf: Shelf, scheme: str, quarter: Quarter) -> Iterator[Charged]:
    """Yield what was claimed under a scheme in a quarter, as its accounts were drawn on.

    A correction of a sale whose period was closed counts in the quarter it landed in.
    """
    for account, movement, found in moved_in(shelf, scheme, quarter):
        if _is_of_claims(shelf, movement):
            yield _beans(shelf, account, movement, found)


def _is_of_claims(shelf: Shelf, movement: Movement) -> bool:
    if movement.cause is Cause.CORRECTED:
        postings = shelf.effects(movement.slot).postings
        return any(
            posting.cause in _CLAIMS and posting.tally.book is Book.ACCOUNT
            for posting in postings
        )
    return movement.cause in _CLAIMS


def _beans(
    shelf: Shelf, account: Account, movement: Movement, found: Recorded
) -> Charged:
    sold = sale_of(shelf, found)
    name = "" if sold is None else expect(sold.record, SaleDispatched).sale
    grams = Fraction(-movement.grams)
    what = f"sale {name}" if name else f"entry {found.seq}"
    working = Working(
        f"{movement.cause} under {what}, {movement.day}",
        show_weight(grams),
        "",
        found.seq,
    )
    return Charged(
        sale=name,
        sold_on=movement.day if sold is None else sold.occurred_on,
        amount=grams,
        workings=(working,),
        commodity=account.commodity,
    )


def charged_values(shelf: Shelf, scheme: str, quarter: Quarter) -> Iterator[Charged]:
    """Yield the invoiced value of what was claimed under a scheme in a quarter.

    A sale states one value, so where only a part of its goods carries the claim, that
    part is taken by weight (common practice, no source).
    """
    for found in entries_in(shelf, scheme, quarter):
        sold = sale_of(shelf, found)
        grams = sum(part for _, part in claimed_by_lot(shelf, found, scheme))
        if sold is not None and grams:
            yield _value(sold, found, grams if found is sold else -grams)


def _value(sold: Recorded, found: Recorded, grams: int) -> Charged:
    sale = expect(sold.record, SaleDispatched)
    if sale.value is None:
        return Charged(sale.sale, sold.occurred_on, Fraction(0), ())
    whole_g = sum(to_grams(line.mass_kg) for line in sale.lines)
    value, currency = Fraction(sale.value.amount), sale.value.currency
    part = value * grams / whole_g
    what = "claimed" if grams > 0 else "claims that came back"
    return Charged(
        sale=sale.sale,
        sold_on=sold.occurred_on,
        amount=part,
        workings=(
            Working(
                f"value of sale {sale.sale}", f"{shown(value)} {currency}", "", sold.seq
            ),
            Working(
                f"part of sale {sale.sale} by weight: {what}, {found.occurred_on}",
                f"{shown(part)} {currency}",
                "",
                found.seq,
                reckoning=f"{shown(value)} * {kg(grams)} / {kg(whole_g)}",
            ),
        ),
        currency=currency,
    )
