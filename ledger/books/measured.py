"""Measured yields: what the maker's own batches gave, over a window of whole months.

Only batches that turn one form of cocoa into one other are measured; a batch that mixes
forms says nothing about either. The window ends with the month before the trade date, so
a factor stays the same for a month and is settled before the month begins.
"""

from collections.abc import Iterable, Iterator
from datetime import date
from fractions import Fraction
from itertools import pairwise

from ledger.books.effect import Effects, Subject, SubjectKind
from ledger.books.shelf import Shelf
from ledger.trade.batch import BatchMade
from ledger.trade.grams import to_grams
from ledger.trade.terms import TermsPublished
from ledger.trade.words import Form

_FORMS = tuple(form for form in Form if not form.is_composite)
_MONTHS = 12


def measured_in(batch: BatchMade, on: date, forms: Iterable[Form]) -> Iterator[Subject]:
    """Yield what a batch is a measurement of: a yield, in its month.

    Args:
        batch: The batch.
        on: When it was made.
        forms: Forms of its inputs.
    """
    came, went = set(forms), {output.form for output in batch.outputs}
    if len(came) == 1 and len(went) == 1:
        before, after = came.pop(), went.pop()
        measures = {Form.INGREDIENT, before}
        if after not in measures and before is not Form.INGREDIENT:
            yield _yield_in(before, after, on)


def measured_factor(
    shelf: Shelf, terms: TermsPublished, form: Form, on: date
) -> Fraction:
    """Return kilograms of beans that gave one kilogram of a form, as measured.

    Yields of the steps on the way multiply. Where a form was reached from several others,
    all of them count, by mass.

    Args:
        shelf: What is recorded.
        terms: Terms in force, which state the window.
        form: The form.
        on: Trade date.

    Returns:
        The exact factor, or 0 where the window has no batches that lead to the form.
    """
    if terms.measured_yields is None:
        return Fraction(0)
    months = list(_window(on, terms.measured_yields.window_months))
    factors = {Form.BEAN: Fraction(1)}
    for after in _FORMS[1 : _FORMS.index(form) + 1]:
        made = [
            (taken_g * factor, given_g)
            for before, factor in factors.items()
            for month in months
            for taken_g, given_g in _batches(shelf, before, after, month)
        ]
        whole_g = sum(given_g for _, given_g in made)
        if whole_g:
            beans = sum((grams for grams, _ in made), Fraction(0))
            factors[after] = beans / whole_g
    return factors.get(form, Fraction(0))


def _batches(
    shelf: Shelf, before: Form, after: Form, month: date
) -> Iterator[tuple[int, int]]:
    """Yield grams taken and given by each batch that turned one form into another."""
    for found in shelf.about(_yield_in(before, after, month), "batch.made"):
        if isinstance(found.record, BatchMade):
            batch = found.record
            yield (
                sum(to_grams(part.mass_kg) for part in batch.inputs),
                sum(to_grams(part.mass_kg) for part in batch.outputs),
            )


def _yield_in(before: Form, after: Form, on: date) -> Subject:
    return Subject(SubjectKind.YIELD, f"{before} to {after}, {on:%Y-%m}")


def _window(on: date, months: int) -> Iterator[date]:
    """Yield the first days of the whole months before a date, latest first."""
    month = on.year * _MONTHS + on.month - 1
    for past in range(month - 1, month - 1 - months, -1):
        yield date(past // _MONTHS, past % _MONTHS + 1, 1)


def months_measured(effects: Iterable[Effects]) -> set[date]:
    """Return the first days of the months in which some effects measure a yield."""
    return {
        date.fromisoformat(f"{subject.name[-7:]}-01")
        for one in effects
        for subject in one.mentions
        if subject.kind is SubjectKind.YIELD
    }


def days_converted_by(month: date, months: int) -> tuple[date, date]:
    """Return the first and last day on which a month's yields are in the window."""
    first = month.year * _MONTHS + month.month
    starts = [
        date(past // _MONTHS, past % _MONTHS + 1, 1) for past in (first, first + months)
    ]
    [(since, after)] = pairwise(starts)
    return since, date.fromordinal(after.toordinal() - 1)
