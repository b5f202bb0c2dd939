"""How much a factor flatters: beans that a form really took, and what its terms count.

A claim draws bean equivalent by the factor in the terms. Where the factory needs more
beans for a kilogram than the factor says, every claim draws too little, and the account
looks better than the stock room. The figure here follows each lot back to its beans: what
a batch lost is borne by what it gave, kilogram by kilogram.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from graphlib import TopologicalSorter
from typing import Final

from ledger.books.effect import Recorded
from ledger.books.lookup import expect, governing_terms
from ledger.books.shelf import Shelf
from ledger.books.source import MadeLot, edges_upstream, exact_sum, lot_named
from ledger.trade.batch import BatchMade
from ledger.trade.grams import to_grams
from ledger.trade.terms import TermsPublished
from ledger.trade.words import Commodity, Form

FORMS: Final = (Form.ROASTED_BEAN, Form.NIB, Form.LIQUOR)
"""Forms compared: those that beans turn into one by one.

Butter, cake and powder come out together, so no kilogram of beans belongs to one of them.
"""


@dataclass(frozen=True, slots=True)
class Flattery:
    """One form under one scheme's terms, over a window.

    Attributes:
        scheme: The scheme.
        terms: Version of its terms.
        form: The form.
        lots: Batches that made it, in the order of time.
        made_g: Grams made.
        beans_g: Grams of beans that they took, exact.
        factor: Kilograms of bean equivalent that the terms count for a kilogram.
        source: Document and clause of the factor.
        left_out: Lots of the form whose beans cannot be told, such as bought nibs.
    """

    scheme: str
    terms: str
    form: Form
    lots: tuple[Recorded, ...]
    made_g: int
    beans_g: Fraction
    factor: Fraction
    source: str
    left_out: tuple[str, ...]

    @property
    def measured(self) -> Fraction:
        """Kilograms of beans that one kilogram of the form took, exact."""
        return self.beans_g / self.made_g

    @property
    def short_g(self) -> Fraction:
        """Grams of beans that the factor does not count; below 0 if it counts too many."""
        return self.beans_g - self.factor * self.made_g

    @property
    def flatters(self) -> bool:
        """Whether the factor counts less than was really used."""
        return self.short_g > 0

    @property
    def percent(self) -> Fraction:
        """How much more beans were used than the factor counts, in per cent of that."""
        return (self.measured / self.factor - 1) * 100


def flatteries(shelf: Shelf, *, since: date, until: date) -> tuple[Flattery, ...]:
    """Return, by scheme and form, what was really used and what the terms count.

    Args:
        shelf: What is recorded.
        since: First trade date of the window.
        until: Last trade date of the window; the terms of that day are compared with.
    """
    made = _made(shelf, since, until)
    taken = beans_taken(shelf, [lot.lot for lot in made])
    schemes = sorted(
        {
            expect(found.record, TermsPublished).scheme
            for found in shelf.of_kind("terms.published")
        }
    )
    return tuple(
        flattery
        for scheme in schemes
        for form in FORMS
        for flattery in _compared(shelf, scheme, form, made, taken, until)
    )


def beans_taken(shelf: Shelf, lots: list[str]) -> dict[str, Fraction | None]:
    """Return grams of cocoa beans that one gram of each lot took, losses included.

    Args:
        shelf: What is recorded.
        lots: Lots asked about.

    Returns:
        The exact figure by lot, for the lots asked about and all upstream; None where
        something other than cocoa beans went in, so that it cannot be told.
    """
    into = edges_upstream(shelf, lots)
    order = TopologicalSorter(
        {lot: [edge.source for edge in edges] for lot, edges in into.items()}
    )
    taken: dict[str, Fraction | None] = {}
    for lot in order.static_order():
        what = lot_named(shelf, lot, field="lot")
        if not isinstance(what, MadeLot):
            is_bean = what.commodity is Commodity.COCOA and what.form is Form.BEAN
            taken[lot] = Fraction(1) if is_bean else None
            continue
        parts = [(taken[edge.source], edge.grams) for edge in into[lot]]
        known = [beans * grams for beans, grams in parts if beans is not None]
        given_g = sum(to_grams(output.mass_kg) for output in what.made.outputs)
        taken[lot] = exact_sum(known) / given_g if len(known) == len(parts) else None
    return taken


def _made(shelf: Shelf, since: date, until: date) -> list[MadeLot]:
    batches = (
        one for one in shelf.of_kind("batch.made") if since <= one.occurred_on <= until
    )
    return [
        MadeLot(output.lot, batch, expect(batch.record, BatchMade), output)
        for batch in sorted(batches, key=lambda one: (one.occurred_on, one.slot))
        for output in expect(batch.record, BatchMade).outputs
        if output.form in FORMS and _is_new_form(shelf, batch, output.form)
    ]


def _is_new_form(shelf: Shelf, batch: Recorded, form: Form) -> bool:
    """Tell whether a batch turns something into a form, not one lot of it into another."""
    return all(
        lot_named(shelf, part.lot, field="inputs").form is not form
        for part in expect(batch.record, BatchMade).inputs
    )


def _compared(
    shelf: Shelf,
    scheme: str,
    form: Form,
    made: list[MadeLot],
    taken: dict[str, Fraction | None],
    until: date,
) -> Iterator[Flattery]:
    terms = governing_terms(shelf, scheme, until)
    of_form = [lot for lot in made if lot.form is form]
    counted = [(lot, beans) for lot in of_form if (beans := taken[lot.lot]) is not None]
    if terms is None or not counted:
        return
    rows = [
        row
        for row in terms.conversions
        if row.commodity is Commodity.COCOA
        and row.form is form
        and row.valid_from <= until
    ]
    if not rows:
        return
    row = max(rows, key=lambda row: row.valid_from)
    yield Flattery(
        scheme=scheme,
        terms=terms.version,
        form=form,
        lots=tuple({lot.batch.seq: lot.batch for lot, _ in counted}.values()),
        made_g=sum(to_grams(lot.output.mass_kg) for lot, _ in counted),
        beans_g=exact_sum(
            [beans * to_grams(lot.output.mass_kg) for lot, beans in counted]
        ),
        factor=row.to_beans,
        source=row.source,
        left_out=tuple(lot.lot for lot in of_form if taken[lot.lot] is None),
    )
