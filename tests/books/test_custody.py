"""ledger.books.custody: what traced goods must be, commodity by commodity."""

from typing import Any

import pytest

from tests.world import MAKER, World, blended, claim, conversions, lot, opened, refused

SOLD = "2025-02-01"
MODELS = ["identity preserved", "segregated", "controlled blending", "mass balance"]
FACTORS = [
    *conversions(),
    *(
        {**conversions()[0], "commodity": commodity, "form": "ingredient"}
        for commodity in ("sugar", "vanilla")
    ),
]


def factory(**terms: Any) -> World:  # noqa: ANN401
    """Return a world that certifies cocoa, sugar and vanilla, with lots of each.

    C, S and V are certified and segregated, organic where the name says so; U is
    uncertified cocoa, W uncertified vanilla, and D certified cocoa of another supplier.
    """
    world = opened()
    body = {
        "commodities": ["cocoa", "sugar", "vanilla"],
        "custody": MODELS,
        "conversions": FACTORS,
        **terms,
    }
    world.terms(**body)
    for holder in (MAKER, "alder", "birch"):
        world.certify(holder, commodities=["cocoa", "sugar", "vanilla"])
    for commodity, form in (
        ("cocoa", "bean"),
        ("sugar", "ingredient"),
        ("vanilla", "ingredient"),
    ):
        world.sign(
            commodity, "alder", claim("segregated"), commodity=commodity, form=form
        )
    world.sign("other", "birch", claim("identity preserved"))
    world.sign("plain", "birch")
    kilos = "1000"
    for name, contract in (("C", "cocoa"), ("S", "sugar"), ("V", "vanilla")):
        world.receive({name: kilos}, contract=contract)
        world.receive([lot(f"{name}O", kilos, organic=True)], contract=contract)
    world.receive({"D": kilos}, contract="other")
    world.receive({"U": kilos}, contract="plain")
    world.receive(
        [lot("W", kilos, commodity="vanilla", form="ingredient")], contract="plain"
    )
    return world


def bar(world: World, *lots: str, organic: bool = False) -> None:
    """Make a bar M of some lots, by a recipe of cocoa, sugar and vanilla."""
    shares = (("cocoa", "liquor", "0.7"), ("sugar", "ingredient", "0.29"))
    world.record(
        "recipe.published",
        recipe="bar",
        product="Bar",
        valid_from="2024-01-01",
        ingredients=[
            {"commodity": commodity, "form": form, "share": share, "organic": organic}
            for commodity, form, share in (*shares, ("vanilla", "ingredient", "0.01"))
        ],
    )
    inputs = dict(zip(lots, ["70", "29", "1", "1"], strict=False))
    world.make(
        inputs, {"M": f"{sum(map(int, inputs.values()))}"}, recipe="bar", form="bar"
    )


def test_every_commodity_draws_on_an_account_of_its_own() -> None:
    world = factory()
    bar(world, "C", "S", "V")
    world.sell("X", {"M": "100"}, SOLD, claim())

    drawn = {
        commodity: 1_000_000 - world.account(commodity=commodity)
        for commodity in ("sugar", "vanilla")
    }
    assert drawn == {"sugar": 29_000, "vanilla": 1_000}
    assert 2_000_000 - world.account() == 87_500


def test_commodities_without_mass_balance_must_be_segregated_in_the_bar() -> None:
    """Mass balance for cocoa and cane sugar; vanilla by physical traceability only.

    Source: a certification body's glossary, products with mass balance.
    """
    world = factory(mass_balance_for=["cocoa", "sugar"])
    bar(world, "U", "S", "V")
    world.sell("X", {"M": "1"}, SOLD, claim())

    spoilt = factory(mass_balance_for=["cocoa", "sugar"])
    bar(spoilt, "C", "S", "W")
    with pytest.raises(
        Exception, match=r"ask for segregated vanilla.* contains lot W,"
    ):
        spoilt.sell("X", {"M": "1"}, SOLD, claim())


def test_a_segregated_bar_is_segregated_in_every_commodity() -> None:
    """Source: ISO 22095:2020, 3.3, segregated model."""
    world = factory()
    bar(world, "C", "S", "W")

    with pytest.raises(
        Exception,
        match="as segregated under fairfield, but it contains lot W, which that claim "
        "excludes",
    ):
        world.sell("X", {"M": "1"}, SOLD, claim("segregated"))


def test_identity_is_preserved_for_each_commodity_by_itself() -> None:
    """Cocoa of one cooperative and sugar of another are each of a single source."""
    world = factory()
    world.sign(
        "ip", "alder", claim("identity preserved"), commodity="sugar", form="ingredient"
    )
    world.sign(
        "iv",
        "alder",
        claim("identity preserved"),
        commodity="vanilla",
        form="ingredient",
    )
    world.receive({"SI": "100"}, contract="ip")
    world.receive({"VI": "100"}, contract="iv")
    bar(world, "D", "SI", "VI")

    world.sell("X", {"M": "1"}, SOLD, claim("identity preserved"))


@pytest.mark.parametrize("custody", ["segregated", "mass balance"])
def test_organic_claims_need_organic_goods(custody: str) -> None:
    """Organic goods are not commingled with others.

    Source: 7 CFR 205.272(a), prevention of commingling. Whether mass balance may stand
    for it at all is for the terms: `organic_in_goods`.
    """
    world = factory(organic_in_goods=True)
    bar(world, "CO", "SO", "V", organic=True)
    with pytest.raises(
        Exception, match=r"organic vanilla in lot M .* lot V in it is not"
    ):
        world.sell("X", {"M": "1"}, SOLD, claim(custody))

    pure = factory(organic_in_goods=True)
    bar(pure, "CO", "SO", "VO", organic=True)
    pure.sell("X", {"M": "1"}, SOLD, claim(custody))


def test_without_that_term_mass_balance_asks_nothing_of_organic_goods() -> None:
    world = factory()
    bar(world, "CO", "SO", "V", organic=True)

    world.sell("X", {"M": "1"}, SOLD, claim())
    with refused("goods-not-organic"):
        world.sell("Y", {"M": "1"}, SOLD, claim("segregated"))


def test_a_blend_of_organic_and_other_lots_is_not_organic_whole() -> None:
    world = factory(organic_in_goods=True)
    world.make({"CO": "99", "C": "1"}, {"K": "100"})
    assert world.account(production="organic") == 1_000_000
    world.sell("X", {"K": "1"}, SOLD, claim("segregated"))

    assert world.account(production="conventional") == 2_000_000 - 1_250


@pytest.mark.parametrize(
    ("proportion", "rule"),
    [
        ("0.25", None),
        ("0.250001", "proportion-not-reached"),
        ("1", "proportion-not-reached"),
    ],
)
def test_a_blend_states_its_known_proportion_and_no_more(
    proportion: str, rule: str | None
) -> None:
    """A known part of the output: ISO 22095:2020, 3.3, controlled blending model."""
    world = factory()
    world.make({"C": "25", "U": "75"}, {"K": "100"})

    if rule is None:
        world.sell("X", {"K": "40"}, SOLD, blended(proportion))
        assert 2_000_000 - world.account() == 40 * 1250 // 4
    else:
        with refused(rule):
            world.sell("X", {"K": "40"}, SOLD, blended(proportion))


def test_only_a_blend_states_a_proportion() -> None:
    world = factory()

    with pytest.raises(Exception, match="controlled blending, and only it, states"):
        world.sell("X", {"C": "1"}, SOLD, {**claim(), "proportion": "0.5"})
    with pytest.raises(Exception, match="controlled blending, and only it, states"):
        world.sell(
            "X",
            {"C": "1"},
            SOLD,
            {"scheme": "fairfield", "custody": "controlled blending"},
        )


def test_a_blend_that_was_bought_counts_for_its_known_part() -> None:
    world = factory()
    world.sign("blend", "alder", blended("0.6"))
    before = world.account()
    world.receive({"B": "100"}, contract="blend")
    assert world.account() - before == 60_000
    world.make({"B": "50", "C": "50"}, {"K": "100"})

    with refused("proportion-not-reached"):
        world.sell("X", {"K": "1"}, SOLD, blended("0.800001"))
    world.sell("X", {"K": "1"}, SOLD, blended("0.8"))
    with refused("goods-do-not-support-claim"):
        world.sell("Y", {"K": "1"}, SOLD, claim("segregated"))


def test_a_recipe_that_states_an_origin_holds_segregated_goods_to_it() -> None:
    world = factory()
    world.record(
        "recipe.published",
        recipe="one-origin",
        product="Single origin",
        valid_from="2024-01-01",
        ingredients=[
            {"commodity": "cocoa", "form": "liquor", "share": "1", "origin": "PE"}
        ],
    )
    world.make({"C": "9"}, {"PE": "9"}, recipe="one-origin", form="chocolate")
    world.make(
        {"C": "9", "D": "1"}, {"MIX": "10"}, recipe="one-origin", form="chocolate"
    )
    world.sell("X", {"PE": "1"}, SOLD, claim("segregated"))

    with pytest.raises(Exception, match="contains lot D, which"):
        world.sell("Y", {"MIX": "1"}, SOLD, claim("segregated"))
    world.sell("Y", {"MIX": "1"}, SOLD, claim())


GRADES = {"grades": ["grade-1", "grade-2"]}


@pytest.mark.parametrize("grade", [None, "grade-3"])
def test_accounts_by_grade_take_only_lots_of_a_listed_grade(grade: str | None) -> None:
    world = opened()
    world.terms(account=GRADES)
    for holder in (MAKER, "alder"):
        world.certify(holder)
    world.sign("C", "alder", claim(), grade=grade)

    with refused("grade-not-listed"):
        world.receive({"L": "100"})
    world.receive([lot("L", "100", grade="grade-2")])
    assert world.account(grade="grade-2") == 100_000
    world.make({"L": "10"}, {"M": "10"})
    world.sell("X", {"M": "8"}, SOLD, claim())
    assert world.account(grade="grade-2") == 90_000


def test_a_mix_of_grades_is_of_none_until_the_recipe_says_which() -> None:
    world = opened()
    world.terms(account=GRADES)
    for holder in (MAKER, "alder"):
        world.certify(holder)
    world.sign("C", "alder", claim(), grade="grade-1")
    world.receive([lot("L", "100"), lot("M", "100", grade="grade-2")])
    world.make({"L": "5", "M": "5"}, {"K": "10"})
    with refused("grade-not-listed"):
        world.sell("X", {"K": "1"}, SOLD, claim())
    world.record(
        "recipe.published",
        recipe="second",
        product="Mixed",
        valid_from="2024-01-01",
        ingredients=[
            {"commodity": "cocoa", "form": "liquor", "share": "1", "grade": "grade-2"}
        ],
    )
    world.make({"K": "5"}, {"N": "5"}, recipe="second", form="couverture")
    world.sell("X", {"N": "4"}, SOLD, claim())

    assert world.account(grade="grade-2") == 95_000
    assert world.account(grade="grade-1") == 100_000


def test_a_blend_names_the_lots_that_do_not_carry_it_whole_and_no_others() -> None:
    world = World().open()
    world.terms(custody=["controlled blending", "segregated"])
    for holder in (MAKER, "alder", "birch"):
        world.certify(holder)
    world.sign("ALL", "alder", claim("segregated"))
    world.sign("PART", "alder", blended("0.6"))
    world.sign("NONE", "birch")
    for contract in ("ALL", "PART", "NONE"):
        world.receive({f"L-{contract}": "10"}, contract=contract)
    world.make(
        {"L-ALL": "10", "L-PART": "10", "L-NONE": "10"}, {"K": "30"}, form="bean"
    )

    with refused("proportion-not-reached") as caught:
        world.sell("X", {"K": "1"}, SOLD, blended("0.9"))
    assert "only 0.533333" in str(caught.value)
    assert "(lot L-NONE, L-PART does not, or not whole)" in str(caught.value)


def of_two_forms(organic_kg: str, other_kg: str) -> World:
    """A bar of 0.4 organic liquor and 0.3 other butter, of organic beans and others."""
    world = World().open()
    world.terms(organic_in_goods=True, commodities=["cocoa"])
    for holder in (MAKER, "alder", "birch"):
        world.certify(holder)
    world.sign("O", "alder", claim(), organic=True)
    world.sign("P", "birch", claim())
    world.receive({"LO": "100"}, contract="O")
    world.receive({"LP": "100"}, contract="P")
    parts = [
        {"commodity": "cocoa", "form": "liquor", "share": "0.4", "organic": True},
        {"commodity": "cocoa", "form": "butter", "share": "0.3"},
        {"commodity": "sugar", "form": "ingredient", "share": "0.3"},
    ]
    about = {"recipe": "R", "product": "R", "valid_from": "2024-01-01"}
    world.record("recipe.published", **about, ingredients=parts)
    inputs = {"LO": organic_kg, "LP": other_kg}
    world.make(inputs, {"BAR": "7"}, form="bar", recipe="R")
    return world


def test_as_much_of_the_cocoa_is_organic_as_is_claimed_as_organic() -> None:
    """0.4 of 0.7 is claimed organic: four of seven kilograms of cocoa must be."""
    of_two_forms("4", "3").sell("X", {"BAR": "1"}, SOLD, claim())

    with refused("goods-not-organic") as caught:
        of_two_forms("3.999", "3.001").sell("X", {"BAR": "1"}, SOLD, claim())
    assert "lot LP in it is not organic" in str(caught.value)
