"""ledger.books.selling: claims that goods, terms and certificates support, no others."""

from typing import Any

import pytest

from ledger.books.finding import EntryRefusedError
from ledger.trade.words import Custody
from tests.world import (
    MAKER,
    OTHER_SCHEME,
    World,
    blended,
    certified,
    claim,
    lot,
    opened,
    refused,
    weighed,
)

SOLD = "2025-02-01"
MODELS = ["identity preserved", "segregated", "controlled blending", "mass balance"]
"""Strictest first, as ISO 22095:2020, 3.3 lists the models."""


@pytest.fixture
def world() -> World:
    """A hundred kilograms of certified beans, lot L, and as many others, lot P."""
    world = certified()
    world.receive({"L": "100"}, "2025-01-10")
    world.receive({"P": "100"}, "2025-01-10", contract="PLAIN")
    return world


@pytest.mark.parametrize(("mass", "left_g"), [("79.999", 1), ("80", 0)])
def test_claims_may_use_an_account_up(world: World, mass: str, left_g: int) -> None:
    """80 kg of liquor stand for 100 kg of beans. 79.999 kg draw 99,998.75 g, rounded up."""
    world.make({"P": "80"}, {"M": "80"})
    world.sell("X", {"M": mass}, SOLD, claim())

    assert world.account() == left_g


def test_a_gram_more_is_refused_with_account_date_and_shortfall(world: World) -> None:
    world.make({"P": "100"}, {"M": "100"})

    with pytest.raises(
        EntryRefusedError,
        match=r"account fairfield, cocoa, mill, conventional would be 0\.002 kg of bean "
        r"equivalent below zero on 2025-02-01",
    ):
        world.sell("X", {"M": "80.001"}, SOLD, claim())


def test_goods_sold_without_a_claim_draw_on_no_account(world: World) -> None:
    world.sell("X", {"L": "100"}, SOLD)

    assert (world.stock("L"), world.account()) == (0, 100_000)


def test_a_claim_before_the_receipt_that_covers_it_is_refused(world: World) -> None:
    """Purchase precedes sale. Common practice, no source."""
    world.receive({"P2": "100"}, "2025-01-01", contract="PLAIN")

    with pytest.raises(
        EntryRefusedError, match=r"5\.000 kg .* below zero on 2025-01-09"
    ):
        world.sell("X", {"P2": "5"}, "2025-01-09", claim())


def test_a_sale_dated_back_may_not_take_what_was_claimed_since(world: World) -> None:
    world.sell("X", {"P": "70"}, "2025-03-01", claim())

    with pytest.raises(
        EntryRefusedError, match=r"0\.001 kg .* below zero on 2025-03-01"
    ):
        world.sell("Y", {"L": "30.001"}, SOLD, claim())
    world.sell("Y", {"L": "30"}, SOLD, claim())


def test_each_line_is_rounded_up_by_itself(world: World) -> None:
    """Three lines of 0.001 kg of liquor, 1.25 g of beans each, draw 2 g each."""
    world.make({"L": "10"}, {"M": "10"})
    line = {"lot": "M", "mass_kg": "0.001"}
    world.sell("X", [line, line, line], SOLD, claim())

    assert world.account() == 100_000 - 6


def test_parts_of_one_account_in_a_line_are_added_before_rounding(world: World) -> None:
    """1 g of bar: 0.5 x 1.25 + 0.2 x 1.33 = 0.891 g draw one gram, not one each."""
    parts = [("cocoa", "liquor", "0.5"), ("cocoa", "butter", "0.2")]
    bar(world, [*parts, ("sugar", "ingredient", "0.3")])
    world.sell("X", {"M": "0.001"}, SOLD, claim())

    assert world.account() == 99_999


def bar(world: World, parts: list[tuple[str, str, str]], **more: Any) -> None:  # noqa: ANN401
    """Make lot M of 10 kg of bars of lot L to a recipe."""
    world.record(
        "recipe.published",
        recipe="bar",
        product="Bar",
        valid_from="2024-01-01",
        ingredients=[
            {"commodity": commodity, "form": form, "share": share, **more}
            for commodity, form, share in parts
        ],
    )
    world.make({"L": "10"}, {"M": "10"}, form="bar", recipe="bar")


# Custody


@pytest.mark.parametrize("bought", MODELS)
@pytest.mark.parametrize("sold", MODELS)
def test_custody_may_be_stepped_down_and_never_up(bought: str, sold: str) -> None:
    """Goods bought under one model may be sold under it and those less strict.

    A mass balance claim rests on the account, so it needs nothing of the goods.

    Source: ISO 22095:2020, 3.3, for the models; that they are stepped down only: common
    practice, no source.
    """
    world = certified(claim(bought), custody=MODELS)
    world.receive({"L": "100"})
    allowed = MODELS.index(bought) <= MODELS.index(sold)
    assert Custody(bought).may_step_down_to(Custody(sold)) is allowed

    if allowed:
        world.sell("X", {"L": "1"}, SOLD, claim(sold))
        assert world.account() == 99_000
    else:
        with refused("goods-do-not-support-claim"):
            world.sell("X", {"L": "1"}, SOLD, claim(sold))


@pytest.fixture
def strict() -> World:
    """Segregated lots of two cooperatives, A and B, and an uncertified one, P."""
    world = certified(claim("segregated"), custody=MODELS)
    world.sign("D", "birch", claim("identity preserved"))
    world.receive({"A": "100"})
    world.receive({"B": "100"}, contract="D")
    world.receive({"P": "100"}, contract="PLAIN")
    return world


def test_segregated_goods_may_be_mixed_among_themselves(strict: World) -> None:
    """Characteristics are kept from input to output, with nothing else added.

    Source: ISO 22095:2020, 3.3, segregated model.
    """
    strict.make({"A": "50", "B": "50"}, {"M": "100"})
    strict.sell("X", {"M": "100"}, SOLD, claim("segregated"))

    assert strict.stock("M") == 0


@pytest.mark.parametrize("custody", ["segregated", "identity preserved"])
def test_a_gram_of_other_goods_ends_segregation_and_is_named(
    strict: World, custody: str
) -> None:
    """Source: ISO 22095:2020, 3.3, segregated model: no other material is added."""
    strict.make({"B": "50", "P": "0.001"}, {"M": "50.001"})
    strict.make({"M": "50.001", "A": "1"}, {"N": "51.001"})

    with pytest.raises(EntryRefusedError, match=r"contains lot (A, B, )?P, which that"):
        strict.sell("X", {"N": "1"}, SOLD, claim(custody))
    strict.sell("X", {"N": "1"}, SOLD, claim())


def test_identity_is_preserved_of_one_source_only(strict: World) -> None:
    """Source: ISO 22095:2020, 3.3, identity preserved model: a single source."""
    strict.sign("E", "alder", claim("identity preserved"))
    strict.receive({"A1": "10", "A2": "10"}, contract="E")
    strict.make({"A1": "5", "A2": "5"}, {"M": "10"})
    strict.make({"A1": "5", "B": "5"}, {"N": "10"})

    strict.sell("X", {"M": "1"}, SOLD, claim("identity preserved"))
    with pytest.raises(EntryRefusedError, match="contains lot A1, B, which that claim"):
        strict.sell("Y", {"N": "1"}, SOLD, claim("identity preserved"))
    strict.sell("Y", {"N": "1"}, SOLD, claim("segregated"))


def test_controlled_blending_needs_certified_goods_in_the_blend(strict: World) -> None:
    """Certified goods are in the output in a known proportion: one part in fifty-one.

    Source: ISO 22095:2020, 3.3, controlled blending model.
    """
    strict.make({"A": "1", "P": "50"}, {"M": "51"})

    strict.sell("X", {"M": "1"}, SOLD, blended("0.019607"))
    with refused("proportion-not-reached"):
        strict.sell("Y", {"M": "1"}, SOLD, blended("0.019608"))
    with refused("goods-do-not-support-claim"):
        strict.sell("Y", {"P": "1"}, SOLD, claim("controlled blending"))


def test_goods_whose_certificate_did_not_count_do_not_support_a_claim(
    strict: World,
) -> None:
    strict.stop("birch/fairfield", "2025-02-01")
    strict.receive({"B2": "10"}, "2025-02-02", contract="D")

    with refused("goods-do-not-support-claim"):
        strict.sell("X", {"B2": "1"}, "2025-02-03", claim("segregated"))


def test_a_claim_on_goods_of_another_kind_is_traced_in_its_own_commodity(
    strict: World,
) -> None:
    """Sugar in a bar of segregated cocoa does not spoil the claim on the cocoa."""
    strict.record(
        "shipment.received",
        "2025-01-10",
        shipment="S",
        supplier="cane",
        lots=[lot("Z", "30", commodity="sugar", form="ingredient")],
    )
    strict.record(
        "recipe.published",
        recipe="dark",
        product="Dark",
        valid_from="2024-01-01",
        ingredients=[
            {"commodity": "cocoa", "form": "liquor", "share": "0.7"},
            {"commodity": "sugar", "form": "ingredient", "share": "0.3"},
        ],
    )
    strict.make({"A": "71", "Z": "29"}, {"M": "100"}, form="bar", recipe="dark")
    strict.make({"Z": "0.001", "P": "1"}, {"N": "1.001"}, form="bar", recipe="dark")

    strict.sell("X", {"M": "10"}, SOLD, claim("segregated"))
    assert strict.account() == 200_000 - 8750
    with refused("goods-do-not-support-claim"):
        strict.sell("Y", {"N": "1"}, SOLD, claim("segregated"))


def test_a_recipe_does_not_make_cocoa_of_sugar(strict: World) -> None:
    """A bar that by its recipe is cocoa, but into which no cocoa was traced."""
    strict.record(
        "shipment.received",
        "2025-01-10",
        shipment="S",
        supplier="cane",
        lots=[lot("Z", "30", commodity="sugar", form="ingredient")],
    )
    bar_of(strict, "Z")

    with pytest.raises(EntryRefusedError, match="contains lot nothing traced"):
        strict.sell("X", {"M": "1"}, SOLD, claim("segregated"))


def bar_of(world: World, name: str) -> None:
    """Make lot M of a lot to a recipe of liquor alone."""
    parts = [{"commodity": "cocoa", "form": "liquor", "share": "1"}]
    world.record(
        "recipe.published",
        recipe="pure",
        product="Pure",
        valid_from="2024-01-01",
        ingredients=parts,
    )
    world.make({name: "10"}, {"M": "10"}, form="bar", recipe="pure")


# Terms, certificates, schemes


def test_terms_say_which_custody_may_be_claimed(world: World) -> None:
    with refused("custody-not-allowed"):
        world.sell("X", {"L": "1"}, SOLD, claim("controlled blending"))


@pytest.mark.parametrize(
    "scope",
    [
        {"valid_until": "2025-01-31"},
        {"valid_from": "2025-02-02"},
        {"commodities": ["sugar"]},
        {"custody": ["segregated"]},
        {"scheme": OTHER_SCHEME},
        {"holder": "alder"},
    ],
)
def test_a_claim_needs_a_certificate_of_the_maker_that_covers_it(
    scope: dict[str, Any],
) -> None:
    world = opened()
    world.terms()
    world.certify("alder")
    world.certify(**{"holder": MAKER, "certificate": "own", **scope})
    world.sign("C", "alder", claim())
    world.receive({"L": "100"})

    with refused("maker-not-certified"):
        world.sell("X", {"L": "1"}, SOLD, claim())
    world.sell("X", {"L": "1"}, SOLD)


@pytest.mark.parametrize(("covers", "account_g"), [(True, 99_000), (False, None)])
def test_an_organic_claim_needs_a_scope_that_covers_organic(
    account_g: int | None, *, covers: bool
) -> None:
    world = opened()
    world.terms()
    world.certify("alder")
    world.certify(MAKER, organic=covers)
    world.sign("C", "alder", claim(), organic=True)
    world.receive({"L": "100"})

    if account_g is None:
        with refused("maker-not-certified"):
            world.sell("X", {"L": "1"}, SOLD, claim())
    else:
        world.sell("X", {"L": "1"}, SOLD, claim())
        assert world.account(production="organic") == account_g


def test_a_scope_without_organic_covers_what_is_not_told_apart_as_organic() -> None:
    """Conventional goods need no organic scope; nor do any, where terms do not ask."""
    for organic, match in ((False, True), (True, False)):
        world = opened()
        world.terms(account={"match_organic": match})
        world.certify("alder")
        world.certify(MAKER, organic=False)
        world.sign("C", "alder", claim(), organic=organic)
        world.receive({"L": "100"})
        world.sell("X", {"L": "1"}, SOLD, claim())

        assert world.account(production="conventional" if match else "all") == 99_000


def test_organic_goods_draw_on_the_organic_account_and_no_other() -> None:
    world = certified(organic=True)
    world.receive([lot("O", "10"), lot("C", "10", organic=False)])
    world.sell("X", {"O": "10"}, SOLD, claim())

    assert (world.account(production="organic"), world.account()) == (0, 10_000)


def test_conventional_goods_cannot_use_organic_credit() -> None:
    world = certified(organic=True)
    world.receive([lot("O", "10")])
    world.receive({"P": "10"}, contract="PLAIN")

    with refused("account-below-zero"):
        world.sell("X", {"P": "1"}, SOLD, claim())


def test_a_scheme_is_claimed_once_for_a_line(world: World) -> None:
    """A kilogram is spent once under each scheme. Common practice, no source."""
    with pytest.raises(EntryRefusedError, match="more than once for lot L"):
        world.sell("X", {"L": "1"}, SOLD, claim(), claim("segregated"))


def test_two_schemes_are_drawn_on_once_each() -> None:
    world = certified()
    world.terms(OTHER_SCHEME, conversions=[dict(row) for row in other_factors()])
    for holder in (MAKER, "birch"):
        world.certify(holder, OTHER_SCHEME)
    world.sign("D", "birch", claim(), claim(scheme=OTHER_SCHEME))
    world.receive({"L": "100"}, contract="D")
    world.make({"L": "10"}, {"M": "10"})
    world.sell("X", {"M": "10"}, SOLD, claim(), claim(scheme=OTHER_SCHEME))

    assert world.account() == 87_500
    assert world.account(scheme=OTHER_SCHEME) == 88_000


def other_factors() -> list[dict[str, str]]:
    return [
        {"form": form, "factor": factor, "valid_from": "2023-01-01", "source": "table"}
        for form, factor in (("bean", "1"), ("liquor", "1.2"))
    ]


def test_a_claim_on_what_the_scheme_does_not_certify_is_refused(world: World) -> None:
    world.record(
        "shipment.received",
        "2025-01-10",
        shipment="S",
        supplier="cane",
        lots=[lot("Z", "30", commodity="sugar", form="ingredient")],
    )

    with refused("claim-without-content"):
        world.sell("X", {"Z": "1"}, SOLD, claim())


def test_an_ingredient_of_no_share_supports_no_claim(world: World) -> None:
    bar(world, [("cocoa", "liquor", "0"), ("sugar", "ingredient", "1")])

    with refused("claim-without-content"):
        world.sell("X", {"M": "1"}, SOLD, claim())


def test_accounts_by_origin_need_the_origin_of_what_is_sold() -> None:
    world = certified(account={"match_origin": True})
    world.receive({"L": "100"})
    world.receive({"P": "100"}, contract="PLAIN")
    world.make({"L": "10", "P": "10"}, {"N": "20"})
    bar(world, [("cocoa", "liquor", "1")], origin="PE")

    world.sell("X", {"M": "1"}, SOLD, claim())
    assert world.account(origin="PE") == 98_750
    with refused("origin-unknown"):
        world.sell("Y", {"N": "1"}, SOLD, claim())
    with refused("account-below-zero"):
        world.sell("Y", {"P": "1"}, SOLD, claim())


def test_a_sale_draws_on_the_account_of_the_site_it_leaves(world: World) -> None:
    world.receive({"K": "10"}, site="annex")
    world.sell("X", {"L": "10"}, SOLD, claim(), site="annex")

    assert (world.account(site="annex"), world.account()) == (0, 100_000)


def test_terms_must_govern_on_the_day_of_the_claim(world: World) -> None:
    world.terms(OTHER_SCHEME, valid_from="2025-02-02")

    with refused("no-terms"):
        world.sell("X", {"L": "1"}, SOLD, claim(scheme=OTHER_SCHEME))


def test_what_a_sale_names_must_be_recorded(world: World) -> None:
    with refused("unknown-party"):
        world.sell("X", {"L": "1"}, SOLD, customer="nobody")
    with refused("unknown-lot"):
        world.sell("X", {"none": "1"}, SOLD)
    with refused("unknown-site"):
        world.sell("X", {"L": "1"}, SOLD, site="barn")


def test_a_sale_may_not_take_more_of_a_lot_than_there_is(world: World) -> None:
    with refused("stock-below-zero"):
        world.sell("X", weighed({"L": "60"}) + weighed({"L": "40.001"}), SOLD)
    world.sell("X", weighed({"L": "60"}) + weighed({"L": "40"}), SOLD)

    assert world.stock("L") == 0


def test_a_claim_draws_on_the_account_of_its_origin() -> None:
    world = certified(account={"match_origin": True})
    world.receive({"L": "100"})
    world.sell("X", {"L": "40"}, "2025-02-01", claim())

    assert world.account(origin="PE") == 60_000


@pytest.mark.parametrize("organic", [True, False])
def test_what_the_makers_certificate_leaves_out_is_told(*, organic: bool) -> None:
    world = opened()
    world.terms()
    for holder in ("alder", "birch"):
        world.certify(holder)
    world.sign("C", "alder", claim(), organic=organic)
    world.receive({"L": "10"})

    with refused("maker-not-certified") as caught:
        world.sell("X", {"L": "1"}, "2025-02-01", claim())
    goods = "organic cocoa" if organic else "cocoa"
    assert f"no certificate covering that for {goods} on 2025-02-01" in str(
        caught.value
    )
