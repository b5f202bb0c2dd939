"""Measured yields: what the maker's own batches gave, over a window of whole months.

Only batches that turn one form of cocoa into one other are measured; a batch that mixes
forms says nothing about either. The window ends with the month before the trade date, so
a factor stays the same for a month and is settled before the month begins.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from itertools import pairwise

from ledger.books.effect import Effects, Recorded, Subject, SubjectKind
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


@dataclass(frozen=True, slots=True)
class MeasuredBatch:
    """A batch that turned one form into another.

    Attributes:
        recorded: The batch.
        before: Form that went in.
        factor: Kilograms of beans behind a kilogram of it.
        taken_g: Grams that went in.
        given_g: Grams that came out.
    """

    recorded: Recorded
    before: Form
    factor: Fraction
    taken_g: int
    given_g: int


@dataclass(frozen=True, slots=True)
class MeasuredStep:
    """How many beans stand behind a form, as measured.

    Attributes:
        after: The form.
        batches: Batches that gave it.
    """

    after: Form
    batches: tuple[MeasuredBatch, ...]

    @property
    def factor(self) -> Fraction:
        """Kilograms of beans that gave one kilogram of the form, exact."""
        beans = sum((b.taken_g * b.factor for b in self.batches), Fraction(0))
        return beans / sum(b.given_g for b in self.batches)


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
    steps = {step.after: step for step in measured_steps(shelf, terms, form, on)}
    return steps[form].factor if form in steps else Fraction(0)


def measured_steps(
    shelf: Shelf, terms: TermsPublished, form: Form, on: date
) -> tuple[MeasuredStep, ...]:
    """Return every form up to one that was reached from beans, in order.

    Args:
        shelf: What is recorded.
        terms: Terms in force, which state the window.
        form: The last form.
        on: Trade date.
    """
    if terms.measured_yields is None:
        return ()
    months = list(_window(on, terms.measured_yields.window_months))
    factors = {Form.BEAN: Fraction(1)}
    steps = []
    for after in _FORMS[1 : _FORMS.index(form) + 1]:
        made = tuple(
            MeasuredBatch(found, before, factor, taken_g, given_g)
            for before, factor in factors.items()
            for month in months
            for found, taken_g, given_g in _batches(shelf, before, after, month)
        )
        if any(batch.given_g for batch in made):
            steps.append(MeasuredStep(after, made))
            factors[after] = steps[-1].factor
    return tuple(steps)


def _batches(
    shelf: Shelf, before: Form, after: Form, month: date
) -> Iterator[tuple[Recorded, int, int]]:
    """Yield each batch that turned one form into another, grams taken and given."""
    for found in shelf.about(_yield_in(before, after, month), "batch.made"):
        if isinstance(found.record, BatchMade):
            batch = found.record
            yield (
                found,
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
