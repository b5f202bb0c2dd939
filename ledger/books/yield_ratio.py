"""Measured yields: what each step gave of what went in, and which batches stand out.

A yield is all outputs over all inputs of one batch, exact. Batches are compared with their
own kind: the same step on the same equipment, and to the same recipes where the output has
one. What stands out is told by the individuals control chart: limits at three standard
deviations from the mean, the deviation estimated from the mean moving range of successive
batches. The limits are what this factory does, not what it should do.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from itertools import pairwise
from typing import Final

from ledger.books.effect import Recorded
from ledger.books.lookup import expect
from ledger.books.shelf import Shelf
from ledger.books.source import exact_sum
from ledger.trade.batch import BatchMade
from ledger.trade.grams import to_grams
from ledger.trade.words import Step

_D2: Final = "1.128"
"""Mean range of two values in standard deviations, as the handbook rounds it."""
METHOD: Final = (
    f"Limits are mean +/- 3 x mean moving range / {_D2} over the batches shown, each range "
    "taken between one batch and the next (NIST/SEMATECH e-Handbook of Statistical "
    "Methods, 6.3.2.2, Individuals Control Charts). Fewer than about 20 batches give "
    "rough limits (common practice, no source)."
)
"""How limits are computed, with its source."""

_D2_OF_TWO: Final = Fraction(_D2)


@dataclass(frozen=True, slots=True)
class ControlLimits:
    """Limits of an individuals control chart, exact.

    Attributes:
        mean: Mean of the values.
        mean_range: Mean of the ranges between each value and the next.
        lower: Mean less three estimated standard deviations.
        upper: Mean plus three estimated standard deviations.
    """

    mean: Fraction
    mean_range: Fraction
    lower: Fraction
    upper: Fraction

    def holds(self, value: Fraction) -> bool:
        """Tell whether a value is within the limits, the limits included."""
        return self.lower <= value <= self.upper


def control_limits(values: Sequence[Fraction]) -> ControlLimits | None:
    """Return the limits for some values in the order of time; None for fewer than two.

    Source:
        NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, "Individuals Control
        Charts": mean +/- 3 MR / 1.128, MR the mean of |x_i - x_(i-1)|.
    """
    if len(values) < 2:  # noqa: PLR2004 - a range takes two
        return None
    mean = exact_sum(values) / len(values)
    ranges = [abs(after - before) for before, after in pairwise(values)]
    mean_range = exact_sum(ranges) / len(ranges)
    reach = 3 * mean_range / _D2_OF_TWO
    return ControlLimits(mean, mean_range, mean - reach, mean + reach)


@dataclass(frozen=True, slots=True)
class MeasuredYield:
    """The yield of one batch.

    Attributes:
        recorded: The batch.
        taken_g: Grams that went in.
        given_g: Grams that came out, in all outputs.
    """

    recorded: Recorded
    taken_g: int
    given_g: int

    @property
    def batch(self) -> BatchMade:
        """The batch as recorded."""
        return expect(self.recorded.record, BatchMade)

    @property
    def ratio(self) -> Fraction:
        """Output over input, 0 to 1."""
        return Fraction(self.given_g, self.taken_g)


@dataclass(frozen=True, slots=True)
class YieldSeries:
    """Yields of batches of one kind, in the order of time.

    Attributes:
        step: Step of making.
        equipment: Machine or tank; None where the batches name none.
        recipes: Recipes of the outputs, sorted; none where the outputs have none.
        measured: The batches.
        limits: Control limits over them; None for a single batch.
    """

    step: Step
    equipment: str | None
    recipes: tuple[str, ...]
    measured: tuple[MeasuredYield, ...]
    limits: ControlLimits | None

    @property
    def ratio(self) -> Fraction:
        """All output over all input: the mean by mass, which is not that of the chart."""
        taken_g = sum(one.taken_g for one in self.measured)
        return Fraction(sum(one.given_g for one in self.measured), taken_g)

    @property
    def outside(self) -> tuple[MeasuredYield, ...]:
        """Batches outside the limits."""
        limits = self.limits
        if limits is None:
            return ()
        return tuple(one for one in self.measured if not limits.holds(one.ratio))


def yield_series(shelf: Shelf, *, since: date, until: date) -> tuple[YieldSeries, ...]:
    """Return the yields of every kind of batch, by step, equipment and recipes.

    Args:
        shelf: What is recorded.
        since: First trade date of the window.
        until: Last trade date of the window.
    """
    kinds: dict[tuple[Step, str | None, tuple[str, ...]], list[MeasuredYield]] = {}
    for measured in _measured(shelf, since, until):
        batch = measured.batch
        recipes = {output.recipe for output in batch.outputs if output.recipe}
        key = (batch.step, batch.equipment, tuple(sorted(recipes)))
        kinds.setdefault(key, []).append(measured)
    steps = list(Step)
    return tuple(
        YieldSeries(
            step,
            equipment,
            recipes,
            tuple(found),
            control_limits([one.ratio for one in found]),
        )
        for (step, equipment, recipes), found in sorted(
            kinds.items(),
            key=lambda item: (steps.index(item[0][0]), item[0][1] or "", item[0][2]),
        )
    )


def _measured(shelf: Shelf, since: date, until: date) -> Iterator[MeasuredYield]:
    found = (
        one for one in shelf.of_kind("batch.made") if since <= one.occurred_on <= until
    )
    for recorded in sorted(found, key=lambda one: (one.occurred_on, one.slot)):
        batch = expect(recorded.record, BatchMade)
        yield MeasuredYield(
            recorded,
            sum(to_grams(part.mass_kg) for part in batch.inputs),
            sum(to_grams(part.mass_kg) for part in batch.outputs),
        )
