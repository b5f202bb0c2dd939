"""Tables of yields: by kind of batch, batch by batch, and against the terms' factors."""

from collections.abc import Iterable, Sequence
from datetime import date
from fractions import Fraction
from typing import Final

from ledger.books.flattery import Flattery
from ledger.books.rounding import shown
from ledger.books.yield_ratio import METHOD, YieldSeries
from ledger.reports.entry_table import entry_name
from ledger.reports.figures import kg_text, mass_text, percent_text
from ledger.reports.tables import Column, Table

YIELD: Final = (
    "A yield is all outputs over all inputs, rework and returned lots included."
)

NOT_WRONG: Final = "A batch outside is not wrong for that: find out why, and note it."


def _percent(key: str, heading: str) -> Column:
    return Column(key, heading, is_figure=True, unit="%", width=10)


def yields_table(found: Sequence[YieldSeries], *, since: date, until: date) -> Table:
    """Return the yields of every kind of batch, one a row."""
    return Table(
        title=f"Measured yields from {since} to {until}",
        columns=(
            Column("step", "Step", width=10),
            Column("equipment", "Equipment", width=14),
            Column("recipes", "Recipes", width=14),
            Column("batches", "Batches", is_figure=True, width=8),
            _percent("by_mass_percent", "By mass"),
            _percent("mean_percent", "Mean"),
            _percent("lower_percent", "Lower limit"),
            _percent("upper_percent", "Upper limit"),
            _percent("lowest_percent", "Lowest"),
            _percent("highest_percent", "Highest"),
            Column("outside", "Outside", width=24),
        ),
        rows=[_series_row(series) for series in found],
        notes=[YIELD, METHOD],
    )


def _series_row(series: YieldSeries) -> tuple[str, ...]:
    limits = series.limits
    ratios = [one.ratio for one in series.measured]
    return (
        series.step,
        series.equipment or "",
        ", ".join(series.recipes),
        str(len(ratios)),
        percent_text(series.ratio),
        "" if limits is None else percent_text(limits.mean),
        "" if limits is None else percent_text(limits.lower),
        "" if limits is None else percent_text(limits.upper),
        percent_text(min(ratios)),
        percent_text(max(ratios)),
        ", ".join(one.batch.batch for one in series.outside),
    )


def _title(series: YieldSeries) -> str:
    step, on, made = series.step, series.equipment, " ".join(series.recipes)
    if on and made:
        return f"Yields of {step} {on} {made}"
    return f"Yields of {step} {on or made}" if on or made else f"Yields of {step}"


def batches_table(series: YieldSeries) -> Table:
    """Return the batches of one kind in the order of time, with the limits."""
    limits = series.limits
    note = "One batch alone has no limits."
    if limits is not None:
        note = (
            f"Mean {percent_text(limits.mean)} %, mean moving range "
            f"{percent_text(limits.mean_range)} %, limits {percent_text(limits.lower)} to "
            f"{percent_text(limits.upper)} %."
        )
    outside = {one.recorded.seq for one in series.outside}
    return Table(
        title=_title(series),
        columns=(
            Column("entry", "Entry", is_figure=True, width=8),
            Column("on", "On", width=12),
            Column("batch", "Batch", width=18),
            Column("taken_kg", "In", is_figure=True, unit="kg", width=12),
            Column("given_kg", "Out", is_figure=True, unit="kg", width=12),
            _percent("yield_percent", "Yield"),
            Column("outside", "Outside", width=9),
        ),
        rows=[
            (
                str(one.recorded.seq),
                one.recorded.occurred_on.isoformat(),
                one.batch.batch,
                kg_text(one.taken_g),
                kg_text(one.given_g),
                percent_text(one.ratio),
                "outside" if one.recorded.seq in outside else "",
            )
            for one in series.measured
        ],
        notes=[note, METHOD],
    )


def outside_table(found: Iterable[YieldSeries]) -> Table:
    """Return every batch outside the limits of its kind."""
    return Table(
        title="Batches outside their control limits",
        columns=(
            Column("entry", "Entry", is_figure=True, width=8),
            Column("on", "On", width=12),
            Column("what", "What", width=28),
            _percent("yield_percent", "Yield"),
            _percent("lower_percent", "Lower limit"),
            _percent("upper_percent", "Upper limit"),
        ),
        rows=[
            (
                str(one.recorded.seq),
                one.recorded.occurred_on.isoformat(),
                entry_name(one.recorded),
                percent_text(one.ratio),
                percent_text(series.limits.lower),
                percent_text(series.limits.upper),
            )
            for series in found
            if series.limits is not None
            for one in series.outside
        ],
        notes=[
            NOT_WRONG,
        ],
    )


def factors_table(found: Sequence[Flattery]) -> Table:
    """Return beans really used beside what the terms count, by scheme and form."""
    return Table(
        title="Beans used against the terms' factors",
        columns=(
            Column("scheme", "Scheme", width=14),
            Column("form", "Form", width=14),
            Column("made_kg", "Made", is_figure=True, unit="kg", width=12),
            Column("beans_kg", "Beans used", is_figure=True, unit="kg", width=12),
            Column("measured", "Beans per kg", is_figure=True, width=12),
            Column("factor", "Factor", is_figure=True, width=9),
            _percent("beyond_percent", "Used beyond"),
            Column("beyond_kg", "Beyond", is_figure=True, unit="kg", width=12),
            Column("source", "Source of the factor", width=26, is_detail=True),
        ),
        rows=[
            (
                one.scheme,
                one.form,
                kg_text(one.made_g),
                mass_text(one.beans_g),
                _four_places(one.measured),
                shown(one.factor),
                percent_text(one.percent / 100),
                mass_text(one.short_g),
                one.source,
            )
            for one in found
        ],
        notes=[_verdict(one) for one in found],
    )


def _verdict(one: Flattery) -> str:
    terms = f"the factor {shown(one.factor)} of {one.scheme} ({one.source})"
    left_out = (
        f" Left out, since other things than beans went in: {', '.join(one.left_out)}."
        if one.left_out
        else ""
    )
    percent = percent_text(abs(one.percent) / 100)
    if one.flatters:
        return (
            f"One kilogram of {one.form} took {_four_places(one.measured)} kg of beans, "
            f"{percent} per cent more than {terms} counts. So the factor flatters: claims "
            f"on {kg_text(one.made_g)} kg draw {mass_text(one.short_g)} kg too little."
            + left_out
        )
    return (
        f"One kilogram of {one.form} took {_four_places(one.measured)} kg of beans, "
        f"{percent} per cent less than {terms} counts, or as much: it does not flatter."
        + left_out
    )


def _four_places(figure: Fraction) -> str:
    """Return a figure to the nearest 0.0001, for reading."""
    scaled = round(figure * 10_000)
    return f"{scaled // 10_000}.{scaled % 10_000:04d}"
