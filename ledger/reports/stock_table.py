"""Tables of stock: what is on hand, lot by lot and by form."""

from collections.abc import Iterable, Mapping
from datetime import date

from ledger.books.stock import OnHand
from ledger.reports.figures import kg_text
from ledger.reports.tables import Column, Table
from ledger.trade.words import Form


def stock_table(found: Iterable[OnHand]) -> Table:
    """Return what is on hand, one lot a row."""
    return Table(
        title="Stock on hand",
        columns=(
            Column("lot", "Lot", width=16),
            Column("form", "Form", width=12),
            Column("mass_kg", "Mass", is_figure=True, unit="kg", width=12),
            Column("pieces", "Pieces", is_figure=True, width=8),
            Column("place", "Place", width=12),
            Column("site", "Site", width=10),
            Column("since", "Since", width=11),
            Column("best_before", "Best before", width=11),
            Column("hold", "Hold", width=10),
        ),
        rows=[_row(held) for held in found],
    )


def _row(held: OnHand) -> tuple[str, ...]:
    return (
        held.lot,
        held.form or "",
        kg_text(held.grams),
        "" if held.pieces is None else str(held.pieces),
        held.place or "",
        held.site or "",
        _day(held.since),
        _day(held.best_before),
        held.hold or "",
    )


def _day(on: date | None) -> str:
    return "" if on is None else on.isoformat()


def stock_by_form_table(grams_by_form: Mapping[Form, int]) -> Table:
    """Return what is on hand by form, as `ledger.books.stock.grams_by_form` adds up."""
    return Table(
        title="Stock on hand by form",
        columns=(
            Column("form", "Form", width=20),
            Column("mass_kg", "Mass", is_figure=True, unit="kg", width=20),
        ),
        rows=[(form, kg_text(grams)) for form, grams in grams_by_form.items()],
    )


def stock_by_place_table(
    found: Mapping[tuple[Form, str], tuple[int, int]],
) -> Table:
    """Return what is on hand by form and place, as `grams_by_form_and_place` adds up."""
    return Table(
        title="On hand by form and place",
        columns=(
            Column("form", "Form", width=16),
            Column("place", "Place", width=16),
            Column("mass_kg", "Mass", is_figure=True, unit="kg", width=14),
            Column("lots", "Lots", is_figure=True, width=6),
        ),
        rows=[
            (form, place, kg_text(grams), str(count))
            for (form, place), (grams, count) in found.items()
        ],
    )
