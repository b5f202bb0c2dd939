"""A table of holds."""

from collections.abc import Iterable

from ledger.books.holds import Held, reason_of_release
from ledger.reports.figures import kg_text
from ledger.reports.tables import Column, Table


def holds_table(found: Iterable[Held], *, title: str) -> Table:
    """Return holds, one lot a row, with why and how long."""
    return Table(
        title=title,
        columns=(
            Column("hold", "Hold", width=10),
            Column("lot", "Lot", width=16),
            Column("left_kg", "Left of it", is_figure=True, unit="kg", width=12),
            Column("placed_on", "Placed on", width=12),
            Column("reason", "Why", width=30),
            Column("released_on", "Released on", width=12),
            Column("released_because", "Why released", width=30),
            Column("entry", "Entry", is_figure=True, width=8),
        ),
        rows=[
            (
                held.hold,
                lot,
                kg_text(grams),
                held.placed.occurred_on.isoformat(),
                held.reason,
                held.released.occurred_on.isoformat() if held.released else "",
                reason_of_release(held),
                str(held.placed.seq),
            )
            for held in found
            for lot, grams in held.lots
        ],
    )
