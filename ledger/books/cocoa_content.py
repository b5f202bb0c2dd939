"""Cocoa in a recipe: against what the label says, and against the minima for chocolate.

The cocoa percentage counts every cocoa-derived ingredient, added butter included, by its
part of the finished mass. The minima are per cent of dry matter; recipes are taken as
dry, but for water that they name, so that a product is judged by what can be known.

How much cocoa butter liquor holds differs by bean and roast. Where a recipe does not say,
the range that the standard for liquor allows is taken, and a minimum that holds at one end
of it only is not called met or missed: the recipe is asked for the figure.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from ledger.books.effect import Recorded
from ledger.books.finding import Finding, warning
from ledger.books.lookup import expect
from ledger.books.rounding import shown
from ledger.books.shelf import Shelf
from ledger.trade.recipe import Ingredient, RecipePublished
from ledger.trade.words import ChocolateName, Commodity, Form


@dataclass(frozen=True, slots=True)
class Minima:
    """Least parts of dry matter that a name asks for, in per cent.

    Attributes:
        clause: Clause of CXS 87-1981, Rev. 1-2003.
        solids: Total cocoa solids; 0 where the name asks for none.
        butter: Cocoa butter.
        fat_free: Fat-free cocoa solids.
        milk: Milk solids, which a recipe's milk is counted as.
    """

    clause: str
    solids: Fraction
    butter: Fraction
    fat_free: Fraction
    milk: Fraction


def _minima(clause: str, solids: str, butter: str, fat_free: str, milk: str) -> Minima:
    figures = (Fraction(figure) for figure in (solids, butter, fat_free, milk))
    return Minima(clause, *figures)


MINIMA: Final[Mapping[ChocolateName, Minima]] = {
    ChocolateName.CHOCOLATE: _minima("2.1.1", "35", "18", "14", "0"),
    ChocolateName.SWEET: _minima("2.1.2", "30", "18", "12", "0"),
    ChocolateName.COUVERTURE: _minima("2.1.3", "35", "31", "2.5", "0"),
    ChocolateName.MILK: _minima("2.1.4", "25", "0", "2.5", "12"),
    ChocolateName.FAMILY_MILK: _minima("2.1.5", "20", "0", "2.5", "20"),
    ChocolateName.MILK_COUVERTURE: _minima("2.1.6", "25", "0", "2.5", "14"),
    ChocolateName.WHITE: _minima("2.1.7.1", "0", "20", "0", "14"),
}
"""What each name asks for: Codex Alimentarius, CXS 87-1981, Rev. 1-2003, section 2.1.

Milk chocolate asks for 12 to 14 per cent of milk solids, as the authority requires; the
lower figure stands here (from memory, as are those of white chocolate; the others were
read). What it says of milk fat and total fat, a recipe of these words cannot tell.
"""

STANDARD: Final = "CXS 87-1981, Rev. 1-2003"

_FAT: Final[Mapping[Form, tuple[Fraction, Fraction]]] = {
    Form.NIB: (Fraction(47), Fraction(60)),
    Form.LIQUOR: (Fraction(47), Fraction(60)),
    Form.BUTTER: (Fraction(100), Fraction(100)),
    Form.CAKE: (Fraction(0), Fraction(60)),
    Form.POWDER: (Fraction(0), Fraction(60)),
}
"""Least and most cocoa butter by form, in per cent, where a recipe does not say.

Liquor: 47 to 60 per cent by mass, CXS 141-1983, Rev. 1-2001, 3.1; nib is what liquor is
ground from. Butter is all fat. Cake and powder have no bounds of use (CXS 105-1981, 3.1.2,
names powders by their butter from under 10 per cent upwards).
"""

Range = tuple[Fraction, Fraction]
"""Least and most that a figure can be."""


@dataclass(frozen=True, slots=True)
class CocoaContent:
    """What a recipe holds of cocoa, in per cent of its dry matter, least and most.

    Attributes:
        percent: Cocoa percentage of the finished mass, water included.
        solids: Total cocoa solids.
        butter: Cocoa butter.
        fat_free: Fat-free cocoa solids.
        milk: Milk solids.
    """

    percent: Fraction
    solids: Range
    butter: Range
    fat_free: Range
    milk: Range


def cocoa_content(recipe: RecipePublished) -> CocoaContent:
    """Return what a recipe holds of cocoa, as far as its ingredients tell."""
    parts = recipe.ingredients
    water = sum(
        (Fraction(p.share) for p in parts if p.commodity is Commodity.WATER),
        Fraction(0),
    )
    dry = 1 - water if water < 1 else Fraction(1)
    cocoa = [part for part in parts if part.commodity is Commodity.COCOA]
    solids = sum((Fraction(part.share) for part in cocoa), Fraction(0)) * 100
    least = sum((Fraction(p.share) * _fat_of(p)[0] for p in cocoa), Fraction(0))
    most = sum((Fraction(p.share) * _fat_of(p)[1] for p in cocoa), Fraction(0))
    milk = sum(
        (Fraction(p.share) for p in parts if p.commodity is Commodity.MILK), Fraction(0)
    )
    return CocoaContent(
        percent=solids,
        solids=(solids / dry, solids / dry),
        butter=(least / dry, most / dry),
        fat_free=((solids - most) / dry, (solids - least) / dry),
        milk=(milk * 100 / dry, milk * 100 / dry),
    )


def _fat_of(part: Ingredient) -> Range:
    if part.fat_percent is not None:
        return Fraction(part.fat_percent), Fraction(part.fat_percent)
    return _FAT.get(part.form, (Fraction(0), Fraction(100)))


def warnings_of_recipe(_shelf: Shelf, recorded: Recorded) -> Iterator[Finding]:
    """Yield where a recipe does not hold what its label or its name promises."""
    recipe = expect(recorded.record, RecipePublished)
    content = cocoa_content(recipe)
    label = recipe.label_cocoa_percent
    if label is not None and content.percent != Fraction(label):
        more = "less" if content.percent < Fraction(label) else "more"
        yield warning(
            "cocoa-percentage-differs",
            "label_cocoa_percent",
            f"label_cocoa_percent of {recipe.recipe} is {shown(Fraction(label))}, but "
            "its cocoa "
            f"ingredients make {shown(content.percent)} per cent, which is {more}; "
            "correct the label or the recipe",
        )
    if recipe.sold_as is not None:
        yield from _below_minima(recipe, content, recipe.sold_as)


def _below_minima(
    recipe: RecipePublished, content: CocoaContent, name: ChocolateName
) -> Iterator[Finding]:
    minima = MINIMA[name]
    for what, least, found in (
        ("total cocoa solids", minima.solids, content.solids),
        ("cocoa butter", minima.butter, content.butter),
        ("fat-free cocoa solids", minima.fat_free, content.fat_free),
        ("milk solids", minima.milk, content.milk),
    ):
        low, high = found
        asked = (
            f"{name} needs at least {shown(least)} per cent {what} of dry matter "
            f"({STANDARD}, {minima.clause})"
        )
        if high < least:
            yield warning(
                "below-codex-minimum",
                "sold_as",
                f"sold_as of {recipe.recipe} is {name}, but it holds at most "
                f"{shown(high)} per cent {what}; {asked}, so change the recipe or its "
                "name, as the law of the place of sale has it",
            )
        elif low < least:
            yield warning(
                "codex-minimum-not-shown",
                "ingredients",
                f"ingredients of {recipe.recipe} hold {shown(low)} to {shown(high)} per "
                f"cent {what}, by how much fat they have; {asked}, so state fat_percent "
                "of each cocoa ingredient",
            )
