"""Recipes: what a product is made of, by mass."""

from typing import ClassVar, Self

from pydantic import model_validator

from ledger.trade.codes import Country, Gtin
from ledger.trade.quantity import Percent, Share
from ledger.trade.record import Day, Name, Record, Text, YesNo
from ledger.trade.words import ChocolateName, Commodity, Form


class Ingredient(Record):
    """One ingredient and its part of the finished mass."""

    commodity: Commodity
    """What it is."""
    form: Form
    """Form in which it is counted, for example liquor for ground nibs."""
    share: Share
    """Part of the finished mass, 0 to 1."""
    origin: Country | None = None
    """Country of origin, where the recipe fixes it."""
    organic: YesNo = False
    """Whether the recipe calls for organic material."""
    grade: Name | None = None
    """Grade that the recipe calls for, where accounts are kept by grade."""
    fat_percent: Percent | None = None
    """Cocoa butter in it by mass, in per cent, where a certificate states it."""


class RecipePublished(Record):
    """One dated version of a recipe; products made to it are accounted by it."""

    kind: ClassVar[str] = "recipe.published"

    recipe: Name
    """Short name of this version; a changed recipe gets a new name."""
    product: Text
    """What the product is called."""
    valid_from: Day
    """First date on which it may be made."""
    ingredients: tuple[Ingredient, ...]
    """Ingredients by mass; shares sum to one."""
    label_cocoa_percent: Percent | None = None
    """Cocoa content that the label states."""
    sold_as: ChocolateName | None = None
    """Name of a chocolate that it is sold under (CXS 87-1981, section 2.1), if any."""
    allergens: tuple[Text, ...] = ()
    """Allergens that the label declares, as local food law names them."""
    gtin: Gtin | None = None
    """Global Trade Item Number of the retail unit."""

    @model_validator(mode="after")
    def _shares_sum_to_one(self) -> Self:
        total = sum(ingredient.share for ingredient in self.ingredients)
        if total != 1:
            msg = (
                f"ingredients of {self.recipe} sum to {total}; shares must sum to 1 "
                "exactly, so adjust one of them"
            )
            raise ValueError(msg)
        return self
