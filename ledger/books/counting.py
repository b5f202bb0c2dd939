"""Counts against the book: how far they differ, and how far they may.

A difference is shown and never absorbed: what is missing is written off by an entry of its
own, and what is too much is an entry that is wrong. The tolerance only decides whether a
difference is called one.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from ledger.books.effect import Recorded, Tally
from ledger.books.finding import Finding, warning
from ledger.books.lookup import expect, limits_in_force
from ledger.books.shelf import Shelf
from ledger.books.source import lot_named
from ledger.trade.grams import show_kg, to_grams
from ledger.trade.lot import LotCounted
from ledger.trade.tolerance import CountTolerance
from ledger.trade.words import Form


@dataclass(frozen=True, slots=True)
class Counted:
    """One count beside the book.

    Attributes:
        recorded: The count.
        form: Form of the lot.
        book_g: Grams by the book on the day of the count, when the day is over.
        found_g: Grams found.
        tolerance: What the maker's limits allow; None where they allow nothing.
    """

    recorded: Recorded
    form: Form
    book_g: int
    found_g: int
    tolerance: CountTolerance | None

    @property
    def lot(self) -> str:
        """Lot number."""
        return expect(self.recorded.record, LotCounted).lot

    @property
    def difference_g(self) -> int:
        """Grams found beyond the book; below 0 where some is missing."""
        return self.found_g - self.book_g

    @property
    def allowed_g(self) -> Fraction:
        """Grams by which the count may differ either way, exact."""
        if self.tolerance is None:
            return Fraction(0)
        return abs(self.book_g) * Fraction(self.tolerance.percent) / 100

    @property
    def is_within(self) -> bool:
        """Whether the difference is within the tolerance."""
        return abs(self.difference_g) <= self.allowed_g


def counts_between(shelf: Shelf, *, since: date, until: date) -> tuple[Counted, ...]:
    """Return the counts of a stretch of time, by date.

    Args:
        shelf: What is recorded.
        since: First trade date.
        until: Last trade date.
    """
    found = (
        one for one in shelf.of_kind("lot.counted") if since <= one.occurred_on <= until
    )
    return tuple(
        counted(shelf, recorded)
        for recorded in sorted(found, key=lambda one: (one.occurred_on, one.slot))
    )


def counted(shelf: Shelf, recorded: Recorded) -> Counted:
    """Return a count beside the book of its day."""
    count = expect(recorded.record, LotCounted)
    form = lot_named(shelf, count.lot, field="lot").form
    run = shelf.run(Tally.stock(count.lot), until=recorded.occurred_on)
    return Counted(
        recorded=recorded,
        form=form,
        book_g=run.closing_g,
        found_g=to_grams(count.found_kg),
        tolerance=_tolerance(shelf, form, recorded.occurred_on),
    )


def _tolerance(shelf: Shelf, form: Form, on: date) -> CountTolerance | None:
    """Return what the maker's limits of a day say of a form, or of all others."""
    in_force = limits_in_force(shelf, on)
    rows = () if in_force is None else in_force.count_tolerances
    for row in sorted(rows, key=lambda row: not row.forms):
        if not row.forms or form in row.forms:
            return row
    return None


def warnings_of_count(shelf: Shelf, recorded: Recorded) -> Iterator[Finding]:
    """Yield a difference between count and book that is more than is allowed."""
    one = counted(shelf, recorded)
    if one.is_within:
        return
    beyond = (
        ""
        if one.tolerance is None
        else f", and {one.tolerance.percent.normalize():f} per cent either way is "
        f"allowed ({one.tolerance.source})"
    )
    yield warning(
        "count-differs",
        "found_kg",
        f"found_kg of lot {one.lot} is {show_kg(one.found_g)}, but the book says "
        f"{show_kg(one.book_g)} on {recorded.occurred_on}{beyond}; write a loss off with "
        "lot.written_off, or correct the entry that is wrong",
    )
