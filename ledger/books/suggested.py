"""What to take for a batch: quantities by the recipe, from lots that are on hand.

It is only a proposal; what was really taken is what is recorded. Lots that keep the
shortest come first, then those that have lain longest, so that stock turns over (first
expired, first out; common practice, no source). A lot on hold is never proposed.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Final

from ledger.books.effect import Subject, SubjectKind
from ledger.books.lookup import expect
from ledger.books.shelf import Shelf
from ledger.books.source import SourceLot, composition, lot_named
from ledger.books.stock import OnHand
from ledger.trade.batch import BatchMade
from ledger.trade.grams import to_grams
from ledger.trade.recipe import Ingredient, RecipePublished
from ledger.trade.words import Step

COMBINING: Final = frozenset({Step.GRIND, Step.MIX, Step.REFINE, Step.CONCHE})
"""Steps at which the ingredients of a recipe may be brought together."""
_BATCHES_ASKED: Final = 20


@dataclass(frozen=True, slots=True)
class Take:
    """Mass proposed to be taken from a lot."""

    lot: str
    grams: int


@dataclass(frozen=True, slots=True)
class Proposed:
    """What one ingredient of a recipe needs.

    Attributes:
        ingredient: The ingredient.
        needed_g: Grams that go in.
        takes: Lots to take it from, and how much of each.
    """

    ingredient: Ingredient
    needed_g: int
    takes: tuple[Take, ...]

    @property
    def missing_g(self) -> int:
        """Grams that no lot on hand can give."""
        return self.needed_g - sum(take.grams for take in self.takes)


@dataclass(frozen=True, slots=True)
class Suggestion:
    """What to take for a batch.

    Attributes:
        recipe: The recipe.
        wanted_g: Grams that are to come out.
        taken_g: Grams that go in for it.
        usual: Output over input of earlier batches, by which that was reckoned.
        batches: How many batches that is the yield of; 0 where there were none, so that
            no loss was allowed for.
        ingredients: What each ingredient needs, in the order of the recipe.
    """

    recipe: RecipePublished
    wanted_g: int
    taken_g: int
    usual: Fraction
    batches: int
    ingredients: tuple[Proposed, ...]


def suggest(
    shelf: Shelf,
    recipe: RecipePublished,
    step: Step,
    *,
    wanted_g: int,
    stock: Sequence[OnHand],
    on: date,
) -> Suggestion:
    """Return what to take so that a mass of a product comes out.

    Args:
        shelf: What is recorded.
        recipe: The recipe.
        step: Step at which it is made.
        wanted_g: Grams that are to come out, above zero.
        stock: What is on hand.
        on: Day of the batch; only batches up to it tell what yield is usual.
    """
    usual, batches = usual_yield(shelf, recipe, step, on)
    taken_g = -(-wanted_g * usual.denominator // usual.numerator)
    shares = [Fraction(one.share) for one in recipe.ingredients]
    left = {held.lot: held.grams for held in stock if held.hold is None}
    ingredients = []
    for one, needed_g in zip(recipe.ingredients, parted(taken_g, shares), strict=True):
        fitting = [
            held for held in stock if left.get(held.lot) and fits(shelf, held, one)
        ]
        takes = tuple(_takes(fitting, left, needed_g))
        ingredients.append(Proposed(one, needed_g, takes))
    return Suggestion(recipe, wanted_g, taken_g, usual, batches, tuple(ingredients))


def usual_yield(
    shelf: Shelf, recipe: RecipePublished, step: Step, on: date
) -> tuple[Fraction, int]:
    """Return output over input of the last batches of a recipe at a step, and their number.

    Where there were none it is one, so that no loss is allowed for.
    """
    subject = Subject(SubjectKind.RECIPE, recipe.recipe)
    made = [
        (found.occurred_on, found.slot, batch)
        for found in shelf.about(subject, "batch.made")
        if found.occurred_on <= on
        and (batch := expect(found.record, BatchMade)).step is step
    ]
    last = [batch for _, _, batch in sorted(made, key=lambda one: one[:2])]
    last = last[-_BATCHES_ASKED:]
    if not last:
        return Fraction(1), 0
    taken = sum(to_grams(part.mass_kg) for batch in last for part in batch.inputs)
    given = sum(to_grams(part.mass_kg) for batch in last for part in batch.outputs)
    return Fraction(given, taken), len(last)


def parted(grams: int, shares: Sequence[Fraction]) -> list[int]:
    """Return a mass parted by shares that sum to one, to the gram and without a rest.

    Each part is rounded down, and grams that are left over go one each to the parts that
    lost most by that (method of largest remainders).
    """
    exact = [grams * share for share in shares]
    parts = [part.numerator // part.denominator for part in exact]
    by_rest = sorted(
        range(len(parts)), key=lambda place: (parts[place] - exact[place], place)
    )
    for place in by_rest[: grams - sum(parts)]:
        parts[place] += 1
    return parts


def fits(shelf: Shelf, held: OnHand, ingredient: Ingredient) -> bool:
    """Tell whether a lot is what an ingredient calls for, by all that went into it."""
    if held.form is not ingredient.form:
        return False
    sources = [
        lot_named(shelf, source, field="lot") for source in composition(shelf, held.lot)
    ]
    return all(
        isinstance(source, SourceLot)
        and source.commodity is ingredient.commodity
        and (source.organic or not ingredient.organic)
        and ingredient.origin in {None, source.origin}
        and ingredient.grade in {None, source.grade}
        for source in sources
    )


def _takes(
    fitting: Iterable[OnHand], left: dict[str, int], needed_g: int
) -> Iterable[Take]:
    """Yield what to take of lots, and count it off from what is left of them."""
    for held in sorted(fitting, key=_turn):
        grams = min(needed_g, left[held.lot])
        if grams > 0:
            left[held.lot] -= grams
            needed_g -= grams
            yield Take(held.lot, grams)


def _turn(held: OnHand) -> tuple[date, date, str]:
    return held.best_before or date.max, held.since or date.max, held.lot
