"""ledger.books.certified: what a lot is made of, and how much of it is certified."""

from datetime import date
from fractions import Fraction

import pytest

from ledger.books.account import Account
from ledger.books.certified import (
    certifiable,
    certified_content_g,
    content_of,
    sources_of,
)
from ledger.books.lookup import governing_terms
from ledger.trade.words import Commodity, Form
from tests.world import (
    MAKER,
    OTHER_SCHEME,
    SCHEME,
    World,
    blended,
    certified,
    claim,
    lot,
    opened,
    refused,
)

ON = date(2025, 2, 1)
COCOA = Account("fairfield", "cocoa", "mill", "conventional", "all")


@pytest.fixture
def world() -> World:
    world = certified()
    world.receive({"L": "100", "K": "100"})
    world.receive({"P": "100"}, contract="PLAIN")
    world.record(
        "shipment.received",
        "2025-01-10",
        shipment="S",
        supplier="cane",
        lots=[lot("Z", "100", commodity="sugar", form="ingredient")],
    )
    world.record(
        "recipe.published",
        recipe="dark",
        product="Dark",
        valid_from="2024-01-01",
        ingredients=[
            {"commodity": "cocoa", "form": "liquor", "share": "0.6"},
            {"commodity": "cocoa", "form": "butter", "share": "0.1", "organic": True},
            {
                "commodity": "sugar",
                "form": "ingredient",
                "share": "0.3",
                "origin": "BR",
            },
        ],
    )
    return world


def test_a_received_lot_is_what_its_contract_says(world: World) -> None:
    [part] = content_of(world.shelf, "L", field="lot")

    assert (part.commodity, part.form) == (Commodity.COCOA, Form.BEAN)
    assert part.share == 1
    assert (part.origin, part.organic) == ("PE", False)


def test_a_blend_of_two_origins_is_of_no_single_one(world: World) -> None:
    world.make({"L": "10", "K": "10"}, {"M": "20"})
    world.make({"L": "10", "P": "10"}, {"N": "20"})

    [same] = content_of(world.shelf, "M", field="lot")
    [mixed] = content_of(world.shelf, "N", field="lot")
    assert (same.origin, same.form, mixed.origin) == ("PE", "liquor", None)


def test_a_blend_is_organic_only_where_all_of_it_is(world: World) -> None:
    world.receive([lot("O", "10", organic=True), lot("Q", "10", organic=True)])
    world.make({"O": "5", "Q": "5"}, {"M": "10"})
    world.make({"O": "5", "L": "0.001"}, {"N": "5.001"})

    assert content_of(world.shelf, "M", field="lot")[0].organic
    assert not content_of(world.shelf, "N", field="lot")[0].organic


def test_a_lot_made_to_a_recipe_is_counted_by_it(world: World) -> None:
    world.make({"L": "70", "Z": "30"}, {"M": "100"}, form="bar", recipe="dark")

    found = [
        (part.commodity, part.form, part.share, part.origin, part.organic)
        for part in content_of(world.shelf, "M", field="lot")
    ]
    assert found == [
        ("cocoa", "liquor", Fraction(6, 10), None, False),
        ("cocoa", "butter", Fraction(1, 10), None, True),
        ("sugar", "ingredient", Fraction(3, 10), "BR", False),
    ]


def test_commodities_are_not_mixed_without_a_recipe(world: World) -> None:
    world.make({"L": "70", "Z": "30"}, {"M": "100"})

    with refused("mixed-without-recipe"):
        content_of(world.shelf, "M", field="lot")
    with refused("unknown-lot"):
        content_of(world.shelf, "none", field="lot")


def content(world: World, name: str, mass_kg: int = 1) -> dict[Account, Fraction]:
    return certified_content_g(world.shelf, name, mass_kg * 1000, ON, field="lot")


def test_certified_content_is_the_part_that_came_from_lots_that_count(
    world: World,
) -> None:
    world.make({"L": "30", "P": "60"}, {"M": "90"})

    assert content(world, "M", 9) == {COCOA: Fraction(9000, 3) * Fraction(5, 4)}
    assert content(world, "P") == {}
    assert [(s.lot, part) for s, part in sources_of(world.shelf, "M", field="lot")] == [
        ("L", Fraction(1, 3)),
        ("P", Fraction(2, 3)),
    ]


def test_of_a_recipe_a_commodity_is_shared_among_its_own_sources(world: World) -> None:
    """Half the cocoa is certified: 0.6 liquor and 0.1 butter, halved; sugar is apart."""
    world.make(
        {"L": "35", "P": "35", "Z": "30"}, {"M": "100"}, form="bar", recipe="dark"
    )

    beans = Fraction("0.6") * Fraction("1.25") + Fraction("0.1") * Fraction("1.33")
    assert content(world, "M") == {COCOA: 1000 * beans / 2}


def test_content_that_the_recipe_does_not_name_counts_for_nothing(world: World) -> None:
    world.record(
        "recipe.published",
        recipe="syrup",
        product="Syrup",
        valid_from="2024-01-01",
        ingredients=[{"commodity": "sugar", "form": "ingredient", "share": "1"}],
    )
    world.make({"L": "1", "Z": "99"}, {"M": "100"}, form="ingredient", recipe="syrup")

    assert content(world, "M") == {}


def test_under_two_schemes_content_counts_once_under_each() -> None:
    world = certified()
    world.terms(OTHER_SCHEME)
    world.certify("birch", OTHER_SCHEME)
    world.sign("D", "birch", claim(), claim(scheme=OTHER_SCHEME))
    world.receive({"L": "10"}, contract="D", site="annex")

    assert content(world, "L") == {
        Account("fairfield", "cocoa", "annex", "conventional", "all"): 1000,
        Account(OTHER_SCHEME, "cocoa", "annex", "conventional", "all"): 1000,
    }


def test_a_part_of_a_blend_carries_the_claim_of_its_lot() -> None:
    """Of a controlled blend bought as 0.4 certified, 0.4 of every kilogram is."""
    world = certified(blended("0.4"), custody=["controlled blending", "mass balance"])
    world.receive({"L": "100"})

    content = certified_content_g(world.shelf, "L", 10_000, ON, field="lot")
    assert content == {COCOA: Fraction(4_000)}


GRADED = {"match_origin": True, "grades": ["first", "second"]}


@pytest.fixture
def graded() -> World:
    """Two lots of the first grade and one of the second, from PE and EC."""
    world = certified(account=GRADED)
    world.sign("B", "birch", claim(), grade="second")
    world.receive([lot("L", "100", grade="first"), lot("K", "100", grade="first")])
    world.receive({"M": "100"}, contract="B")
    return world


def grade_of(world: World, name: str) -> str | None:
    [part] = content_of(world.shelf, name, field="lot")
    return part.grade


def test_a_grade_is_that_of_all_that_a_lot_was_made_of(graded: World) -> None:
    graded.make({"L": "10", "K": "10"}, {"SAME": "20"})
    graded.make({"L": "10", "M": "10"}, {"MIXED": "20"})

    assert [grade_of(graded, name) for name in ("L", "M", "SAME", "MIXED")] == [
        "first",
        "second",
        "first",
        None,
    ]


def test_a_recipe_says_the_grade_of_what_is_made_to_it(graded: World) -> None:
    parts = [{"commodity": "cocoa", "form": "liquor", "share": "1", "grade": "second"}]
    about = {"recipe": "R", "product": "R", "valid_from": "2024-01-01"}
    graded.record("recipe.published", **about, ingredients=parts)
    graded.make({"L": "10"}, {"BAR": "10"}, form="bar", recipe="R")

    assert grade_of(graded, "BAR") == "second"


def test_content_is_of_the_account_of_its_origin_and_grade(graded: World) -> None:
    graded.make({"L": "10", "M": "10"}, {"MIXED": "20"}, form="bean")

    content = certified_content_g(graded.shelf, "MIXED", 20_000, ON, field="lot")
    assert {(a.origin, a.grade): beans for a, beans in content.items()} == {
        ("PE", "first"): 10_000,
        ("EC", "second"): 10_000,
    }


def test_a_claim_that_does_not_count_hides_none_beside_it() -> None:
    """The first scheme's certificate had ended; the second still counts."""
    world = opened()
    for scheme, until in ((SCHEME, "2025-01-01"), (OTHER_SCHEME, "2030-12-31")):
        world.terms(scheme)
        world.certify(MAKER, scheme)
        world.certify("alder", scheme, valid_until=until)
    world.sign("C", "alder", claim(), claim(scheme=OTHER_SCHEME))
    world.receive({"L": "100"})

    content = certified_content_g(world.shelf, "L", 10_000, ON, field="lot")
    assert [account.scheme for account in content] == [OTHER_SCHEME]


def test_a_lot_without_anything_that_the_scheme_certifies_is_told(world: World) -> None:
    terms = governing_terms(world.shelf, "fairfield", ON)
    assert terms is not None

    with refused("claim-without-content") as caught:
        certifiable(world.shelf, terms, "Z", field="lines.0")
    assert caught.value.findings[0].field == "lines.0"
    assert "lot Z contains nothing that the scheme certifies" in str(caught.value)
