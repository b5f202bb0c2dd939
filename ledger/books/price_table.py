"""Reading a published table, and a recorded price, as a line of arithmetic.

A gap in a published table is no zero: where a table has rows for a commodity but none
for the origin, form, delivery term or date asked for, nothing is computed, and the
finding says which row is missing. A row of 0.00 says that nothing is owed.
"""

from collections.abc import Iterable, Sequence
from datetime import date
from fractions import Fraction
from typing import TypeVar

from ledger.books.bargain import Bargain, TradeDates
from ledger.books.effect import Subject, SubjectKind
from ledger.books.market import PerTonne, per_tonne_in
from ledger.books.parcel import Parcel
from ledger.books.rounding import shown
from ledger.books.working import NotComputableError, Working
from ledger.trade.money import Differential, UnitPrice
from ledger.trade.terms import (
    MinimumPrice,
    OrganicDifferential,
    Premium,
    TermsPublished,
)
from ledger.trade.words import Governing

Row = TypeVar("Row", MinimumPrice, OrganicDifferential, Premium)


def row_in_force(rows: Iterable[Row], origin: str | None, on: date) -> Row | None:
    """Return the row of a table that governs for an origin on a date.

    The latest row that names the origin, else the latest that names none: rows without
    origins are for all others.
    """
    valid = [row for row in rows if row.valid_from <= on]
    named = [row for row in valid if origin is not None and origin in row.origins]
    others = [row for row in valid if not row.origins]
    return max(named or others, key=lambda row: row.valid_from, default=None)


def row_for(
    rows: Sequence[Row], parcel: Parcel, on: date, what: str, terms: TermsPublished
) -> Row:
    """Return the row of a table that governs for a parcel on a date.

    Raises:
        NotComputableError: There is none.
    """
    row = row_in_force(rows, parcel.origin, on)
    if row is None:
        raise NotComputableError(
            "no-row",
            f"the terms of {terms.scheme} have rows for {parcel.commodity}, but no {what} "
            f"for {parcel.form} from {parcel.origin or 'an unnamed origin'} on {on}; "
            "publish terms with the row, at 0.00 if nothing is owed",
        )
    return row


def terms_for(
    bargain: Bargain,
    terms: TermsPublished,
    governing: Governing,
    parcel: Parcel,
    dates: TradeDates,
) -> tuple[date, TermsPublished]:
    """Return the date that governs a table for a parcel, and the terms that hold it."""
    on = bargain.date_of(governing, dates, parcel.tranche)
    return on, bargain.terms_on(terms.scheme, on)


def recorded_price(
    bargain: Bargain,
    price: UnitPrice,
    line: Working,
    currency: str,
    on: date,
    scheme: str | None = None,
) -> PerTonne:
    """Return a recorded price in the contract's currency, with its source line first."""
    days = bargain.fall_back_days(scheme)
    found = per_tonne_in(bargain.shelf, price, currency, on, fall_back_days=days)
    return PerTonne(found.amount, currency, (line, *found.workings))


def written(price: UnitPrice | Differential) -> str:
    """Return a price as it was written."""
    return f"{shown(Fraction(price.amount))} {price.unit}"


def published(
    bargain: Bargain, terms: TermsPublished, text: str, price: UnitPrice, source: str
) -> Working:
    """Return the line that shows a row of a table and where it is published."""
    name = Subject(SubjectKind.TERMS, f"{terms.scheme}@{terms.version}")
    found = bargain.shelf.introducer(name)
    return Working(
        text,
        written(price),
        f"{terms.scheme} {terms.version}: {source}",
        None if found is None else found.seq,
    )
