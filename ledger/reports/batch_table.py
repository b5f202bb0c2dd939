"""Tables of batches, and of what one batch took, gave and lost."""

from collections.abc import Iterable

from ledger.books.effect import Recorded
from ledger.books.lookup import expect
from ledger.books.yield_ratio import MeasuredYield
from ledger.reports.figures import kg_text, percent_text
from ledger.reports.tables import Column, Table
from ledger.trade.batch import BatchMade, Input, Loss, Output
from ledger.trade.grams import to_grams


def batches_table(made: Iterable[Recorded]) -> Table:
    """Return batches, one a row, with what went in, what came out and the yield."""
    return Table(
        title="Batches",
        columns=(
            Column("batch", "Batch", width=16),
            Column("on", "On", width=12),
            Column("step", "Step", width=10),
            Column("equipment", "Machine or tank", width=14),
            Column("recipe", "Recipe", width=10),
            Column("in_kg", "In", is_figure=True, unit="kg", width=12),
            Column("out_kg", "Out", is_figure=True, unit="kg", width=12),
            Column("yield_percent", "Yield", is_figure=True, unit="%", width=10),
            Column("recorded_by", "By", width=12, is_detail=True),
        ),
        rows=[_row(recorded) for recorded in made],
    )


def _row(recorded: Recorded) -> tuple[str, ...]:
    batch = expect(recorded.record, BatchMade)
    taken, given = sum_g(batch.inputs), sum_g(batch.outputs)
    recipes = dict.fromkeys(part.recipe for part in batch.outputs if part.recipe)
    return (
        batch.batch,
        recorded.occurred_on.isoformat(),
        batch.step,
        batch.equipment or "",
        ", ".join(recipes),
        kg_text(taken),
        kg_text(given),
        percent_text(MeasuredYield(recorded, taken, given).ratio),
        recorded.recorded_by,
    )


def sum_g(parts: Iterable[Input | Output | Loss]) -> int:
    """Return the grams of parts of a batch together."""
    return sum(to_grams(part.mass_kg) for part in parts)
