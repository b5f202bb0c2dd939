"""A table of what to take for a batch by its recipe."""

from collections.abc import Iterator

from ledger.books.suggested import Suggestion
from ledger.reports.figures import kg_text, percent_text
from ledger.reports.tables import Column, Table


def suggestion_table(found: Suggestion) -> Table:
    """Return what each ingredient needs, from which lots, and what is missing."""
    return Table(
        title=f"What {kg_text(found.wanted_g)} kg of {found.recipe.recipe} take",
        columns=(
            Column("ingredient", "Ingredient", width=20),
            Column("needed_kg", "Needed", is_figure=True, unit="kg", width=12),
            Column("lots", "From lots", width=30),
            Column("missing_kg", "Missing", is_figure=True, unit="kg", width=12),
        ),
        rows=[
            (
                f"{one.ingredient.commodity}, {one.ingredient.form}",
                kg_text(one.needed_g),
                ", ".join(f"{t.lot} ({kg_text(t.grams)} kg)" for t in one.takes),
                kg_text(one.missing_g) if one.missing_g else "",
            )
            for one in found.ingredients
        ],
        notes=tuple(_notes(found)),
    )


def _notes(found: Suggestion) -> Iterator[str]:
    if found.batches:
        yield (
            f"Of what goes in, {percent_text(found.usual)} % usually comes out: the "
            f"yield of the last {found.batches} batches of this recipe at this step."
        )
    else:
        yield (
            "No batch of this recipe was made at this step yet, so no loss is allowed "
            "for."
        )
    yield (
        "Lots that keep the shortest come first, then those that have lain longest (common "
        "practice, no source). Record what was really taken."
    )
