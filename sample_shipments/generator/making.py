"""The files of making: one a month."""

from collections.abc import Iterator

from sample_shipments.generator.factory import Batch
from sample_shipments.generator.paper import File, Row, csv_file, kg
from sample_shipments.generator.workday import month_of

_COLUMNS = (
    *("on", "batch", "step", "equipment", "part", "lot", "form", "recipe", "mass_kg"),
    *("reason", "pieces", "place", "best_before", "hours", "entry_temperature"),
    *("exit_temperature", "tastings", "cooling_minutes", "racking_minutes", "carried"),
    *("pieces_per_minute", "operator"),
)


def files(batches: list[Batch]) -> list[File]:
    """Return the batches of each month, in the order in which they were made."""
    by_month: dict[str, list[Batch]] = {}
    for batch in sorted(batches, key=lambda batch: batch.on):
        by_month.setdefault(month_of(batch.on), []).append(batch)
    return [
        csv_file(
            f"{month}/3-making/batches-{month}.csv",
            [_in_order(row) for batch in made for row in _rows(batch)],
            names=[batch.name for batch in made],
        )
        for month, made in by_month.items()
    ]


def _rows(batch: Batch) -> Iterator[Row]:
    head = {"on": str(batch.on), "batch": batch.name, "step": batch.step}
    once = {"equipment": batch.equipment, **batch.record}
    for lot, grams in batch.inputs:
        yield {**head, **once, "part": "input", "lot": lot, "mass_kg": kg(grams)}
        once = {}
    for out in batch.outputs:
        made = {"lot": out.lot, "form": out.form, "mass_kg": kg(out.grams)}
        yield {**head, "part": "output", **made, **out.more}
    for reason, grams in batch.losses.items():
        if grams:
            yield {**head, "part": "loss", "reason": reason, "mass_kg": kg(grams)}


def _in_order(row: Row) -> Row:
    return {column: row.get(column, "") for column in _COLUMNS}
