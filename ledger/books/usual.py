"""Comparing a batch with what is usual: outside the maker's limits it is flagged."""

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

from ledger.books.effect import Recorded
from ledger.books.finding import Finding, warning
from ledger.books.lookup import expect, limits_in_force
from ledger.books.loss_norm import warnings_of_loss
from ledger.books.rounding import shown
from ledger.books.shelf import Shelf
from ledger.trade.batch import BatchMade, ProcessRecord
from ledger.trade.grams import to_grams
from ledger.trade.terms import ProcessLimit

Reading = tuple[str, Fraction]
"""Field it stands in, and the exact value."""


def warnings_of_batch(shelf: Shelf, recorded: Recorded) -> Iterator[Finding]:
    """Yield what is unusual about a batch: measures outside limits, losses above norms."""
    yield from _outside_limits(shelf, recorded)
    yield from warnings_of_loss(shelf, recorded)


def _outside_limits(shelf: Shelf, recorded: Recorded) -> Iterator[Finding]:
    batch = expect(recorded.record, BatchMade)
    in_force = limits_in_force(shelf, recorded.occurred_on)
    if in_force is None:
        return
    for limit in in_force.limits:
        if limit.step is not batch.step:
            continue
        for field, value in readings(batch, limit.measure):
            if _is_outside(limit, value):
                yield warning(
                    "outside-usual",
                    field,
                    f"{field} of batch {batch.batch} is {_text(value)}, outside "
                    f"the usual {_range(limit)} for {limit.measure} at {limit.step} "
                    f"({in_force.version}: {limit.source}); check the reading, or note "
                    "why it is right",
                )


def readings(batch: BatchMade, measure: str) -> Iterator[Reading]:
    """Yield the values of one measure that a batch record holds."""
    if measure == "yield percent":
        taken = sum(to_grams(part.mass_kg) for part in batch.inputs)
        given = sum(to_grams(part.mass_kg) for part in batch.outputs)
        yield "outputs", Fraction(given, taken) * 100
    elif batch.record is not None:
        yield from _written_down(batch.record, measure)


def _written_down(record: ProcessRecord, measure: str) -> Iterator[Reading]:
    if measure.endswith(" temperature c"):
        point = measure.removesuffix(" temperature c")
        for place, reading in enumerate(record.temperatures):
            if reading.point == point:
                yield f"record.temperatures.{place}", Fraction(reading.value_c)
        return
    if measure == "tasting interval hours":
        times = [Decimal(0), *(tasting.after_hours for tasting in record.tastings)]
        for place, (earlier, later) in enumerate(pairwise(times)):
            yield f"record.tastings.{place}", Fraction(later - earlier)
        return
    field = measure.replace(" kg", "_kg").replace(" ", "_")
    value = getattr(record, field)
    if value is not None:
        yield f"record.{field}", Fraction(value)


def _text(value: Fraction) -> str:
    return str(value) if value.denominator == 1 else shown(value)


def _is_outside(limit: ProcessLimit, value: Fraction) -> bool:
    return (limit.lowest is not None and value < limit.lowest) or (
        limit.highest is not None and value > limit.highest
    )


def _range(limit: ProcessLimit) -> str:
    lowest, highest = (
        None if bound is None else _text(Fraction(bound))
        for bound in (limit.lowest, limit.highest)
    )
    if lowest is None:
        return f"at most {highest}"
    if highest is None:
        return f"at least {lowest}"
    return f"{lowest} to {highest}"
