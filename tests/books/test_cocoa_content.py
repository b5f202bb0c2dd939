"""ledger.books.cocoa_content: cocoa percentage, and the minima of CXS 87-1981."""

from fractions import Fraction
from typing import Any

import pytest

from ledger.books.cocoa_content import cocoa_content
from ledger.trade.recipe import RecipePublished
from tests.world import World, opened

LIQUOR, BUTTER, POWDER = ("cocoa", "liquor"), ("cocoa", "butter"), ("cocoa", "powder")
SUGAR, MILK, WATER = (
    ("sugar", "ingredient"),
    ("milk", "ingredient"),
    ("water", "ingredient"),
)
Parts = dict[tuple[str, str], str]


def recipe(parts: Parts, fat: str | None = None, **more: object) -> dict[str, Any]:
    """Return a recipe by shares; the fat, where given, is that of its liquor."""
    return {
        "recipe": "R",
        "product": "Bar",
        "valid_from": "2024-01-01",
        "ingredients": [
            {
                "commodity": commodity,
                "form": form,
                "share": share,
                "fat_percent": fat if form == "liquor" else None,
            }
            for (commodity, form), share in parts.items()
        ],
        **more,
    }


def told(parts: Parts, fat: str | None = None, **more: object) -> World:
    world = opened()
    world.record("recipe.published", **recipe(parts, fat, **more))
    return world


def test_cocoa_percent_counts_added_butter() -> None:
    """85 oz of nibs in a batch of 70 per cent cocoa with 5 per cent of butter added.

    121.43 oz in all, 85 of nibs, 6.07 of butter and 30.36 of sugar, make 75 per cent;
    with 6.07 oz of butter more, 76.2 per cent of 127.5 oz.

    Source: chocolatealchemy.com, Ask the Alchemist 168.
    """
    whole = Fraction("121.43")
    shares = {LIQUOR: "0.70", BUTTER: "0.05", SUGAR: "0.25"}
    assert round(Fraction(85) / whole, 2) == Fraction("0.70")
    assert cocoa_content(RecipePublished.model_validate(recipe(shares))).percent == 75

    more = whole + Fraction("6.07")
    assert round((85 + 2 * Fraction("6.07")) / more * 100, 1) == Fraction("76.2")


@pytest.mark.parametrize(
    ("label", "rules"),
    [
        ("70", []),
        ("70.0001", ["cocoa-percentage-differs"]),
        ("69.9999", ["cocoa-percentage-differs"]),
        (None, []),
    ],
)
def test_the_label_is_compared_exactly(label: str | None, rules: list[str]) -> None:
    parts = {LIQUOR: "0.64", BUTTER: "0.06", SUGAR: "0.3"}

    assert told(parts, label_cocoa_percent=label).rules == rules


@pytest.mark.parametrize(("label", "more"), [("71", "less"), ("69", "more")])
def test_a_label_that_differs_is_told_which_way(label: str, more: str) -> None:
    parts = {LIQUOR: "0.64", BUTTER: "0.06", SUGAR: "0.3"}

    [finding] = told(parts, label_cocoa_percent=label).warnings

    assert finding.field == "label_cocoa_percent"
    assert f"make 70.00 per cent, which is {more};" in finding.message


MISSED, OPEN = "below-codex-minimum", "codex-minimum-not-shown"


@pytest.mark.parametrize(
    ("name", "parts", "fat", "rules"),
    [
        # 2.1.1: 35 total cocoa solids, 18 cocoa butter, 14 fat-free cocoa solids.
        ("chocolate", {LIQUOR: "0.28", BUTTER: "0.07", SUGAR: "0.65"}, "50", []),
        (
            "chocolate",
            {LIQUOR: "0.28", BUTTER: "0.069999", SUGAR: "0.650001"},
            "50",
            [MISSED],
        ),
        ("chocolate", {LIQUOR: "0.36", SUGAR: "0.64"}, "50", []),
        ("chocolate", {LIQUOR: "0.36", SUGAR: "0.64"}, "49.9999", [MISSED]),
        ("chocolate", {LIQUOR: "0.27", BUTTER: "0.08", SUGAR: "0.65"}, "50", [MISSED]),
        # The standard for liquor allows 47 to 60 per cent of fat (CXS 141-1983, 3.1).
        ("chocolate", {LIQUOR: "0.36", SUGAR: "0.64"}, None, [OPEN]),
        ("chocolate", {LIQUOR: "0.383", SUGAR: "0.617"}, None, []),
        ("chocolate", {LIQUOR: "0.29", SUGAR: "0.71"}, None, [MISSED, MISSED, OPEN]),
        # 2.1.2: 30, 18 and 12.
        ("sweet chocolate", {LIQUOR: "0.24", BUTTER: "0.06", SUGAR: "0.7"}, "50", []),
        (
            "sweet chocolate",
            {LIQUOR: "0.239", BUTTER: "0.061", SUGAR: "0.7"},
            "50",
            [MISSED],
        ),
        # 2.1.3: 35, 31 and 2.5.
        (
            "couverture chocolate",
            {LIQUOR: "0.4", BUTTER: "0.11", SUGAR: "0.49"},
            "50",
            [],
        ),
        (
            "couverture chocolate",
            {LIQUOR: "0.4", BUTTER: "0.1", SUGAR: "0.5"},
            "50",
            [MISSED],
        ),
        # 2.1.4: 25 cocoa solids with 2.5 fat-free, and 12 to 14 milk solids.
        (
            "milk chocolate",
            {LIQUOR: "0.05", BUTTER: "0.2", MILK: "0.12", SUGAR: "0.63"},
            "50",
            [],
        ),
        (
            "milk chocolate",
            {LIQUOR: "0.05", BUTTER: "0.19", MILK: "0.12", SUGAR: "0.64"},
            "50",
            [MISSED],
        ),
        (
            "milk chocolate",
            {LIQUOR: "0.04", BUTTER: "0.21", MILK: "0.12", SUGAR: "0.63"},
            "50",
            [MISSED],
        ),
        (
            "milk chocolate",
            {LIQUOR: "0.05", BUTTER: "0.2", MILK: "0.11", SUGAR: "0.64"},
            "50",
            [MISSED],
        ),
        # 2.1.5: 20 cocoa solids and 20 milk solids.
        (
            "family milk chocolate",
            {LIQUOR: "0.05", BUTTER: "0.15", MILK: "0.2", SUGAR: "0.6"},
            "50",
            [],
        ),
        (
            "family milk chocolate",
            {LIQUOR: "0.05", BUTTER: "0.15", MILK: "0.19", SUGAR: "0.61"},
            "50",
            [MISSED],
        ),
        # 2.1.6: 25 cocoa solids and 14 milk solids.
        (
            "milk chocolate couverture",
            {LIQUOR: "0.05", BUTTER: "0.2", MILK: "0.14", SUGAR: "0.61"},
            "50",
            [],
        ),
        (
            "milk chocolate couverture",
            {LIQUOR: "0.05", BUTTER: "0.2", MILK: "0.13", SUGAR: "0.62"},
            "50",
            [MISSED],
        ),
        # 2.1.7.1: 20 cocoa butter and 14 milk solids (from memory).
        ("white chocolate", {BUTTER: "0.2", MILK: "0.14", SUGAR: "0.66"}, None, []),
        (
            "white chocolate",
            {BUTTER: "0.19", MILK: "0.14", SUGAR: "0.67"},
            None,
            [MISSED],
        ),
        # Minima are of dry matter: a tenth of water makes room for as much less cocoa.
        ("chocolate", {LIQUOR: "0.324", WATER: "0.1", SUGAR: "0.576"}, "50", []),
        ("chocolate", {LIQUOR: "0.323", WATER: "0.1", SUGAR: "0.577"}, "50", [MISSED]),
    ],
)
def test_minima_of_the_name_that_a_product_is_sold_as(
    name: str, parts: Parts, fat: str | None, rules: list[str]
) -> None:
    """Source: Codex Alimentarius, CXS 87-1981, Rev. 1-2003, 2.1.1 to 2.1.7.1."""
    world = told(parts, fat, sold_as=name)

    assert world.rules == rules
    assert all("CXS 87-1981, Rev. 1-2003, 2.1" in one.message for one in world.warnings)


@pytest.mark.parametrize(("fat", "field"), [("40", "sold_as"), (None, "ingredients")])
def test_a_minimum_missed_is_about_the_name_and_one_left_open_about_the_ingredients(
    fat: str | None, field: str
) -> None:
    [finding] = told({LIQUOR: "0.36", SUGAR: "0.64"}, fat, sold_as="chocolate").warnings

    assert finding.field == field


def test_nothing_is_said_of_a_product_that_is_not_sold_as_chocolate() -> None:
    assert told({POWDER: "0.01", SUGAR: "0.99"}).rules == []


def test_powder_without_its_fat_leaves_the_minimum_open() -> None:
    """Cocoa powders are named by their butter, from under 10 per cent up.

    Source: Codex Alimentarius, CXS 105-1981, 3.1.2.
    """
    parts = {POWDER: "0.3", BUTTER: "0.17", SUGAR: "0.53"}

    assert told(parts, sold_as="chocolate").rules == [OPEN, OPEN]
    assert "state fat_percent" in told(parts, sold_as="chocolate").warnings[0].message
