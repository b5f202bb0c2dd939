"""ledger.books.claim_rule: labels, neighbours and the certified share of a product."""

from fractions import Fraction
from typing import Any

import pytest

from ledger.books.certified import Content
from ledger.books.claim_rule import certified_share
from ledger.books.finding import EntryRefusedError
from ledger.trade.balance_terms import CompositeRule
from ledger.trade.terms import TermsPublished
from ledger.trade.words import Commodity, Form
from tests.world import (
    MAKER,
    OTHER_SCHEME,
    World,
    certified,
    claim,
    conversions,
    lot,
    opened,
    refused,
)

SOLD = "2025-02-01"
CUSTODY = ["segregated", "mass balance"]
LABELS = [
    {"text": "made with fairfield cocoa", "custody": ["segregated"]},
    {"text": "supports fairfield growers"},
]


def labelled(text: str | None, custody: str = "mass balance") -> dict[str, Any]:
    return {**claim(custody), "label": text}


def stocked(**terms: Any) -> World:  # noqa: ANN401
    """Return a world with a hundred kilograms of segregated beans."""
    world = certified(claim("segregated"), custody=CUSTODY, **terms)
    world.receive({"L": "100"})
    return world


@pytest.mark.parametrize(
    ("text", "custody", "allowed"),
    [
        ("supports fairfield growers", "mass balance", True),
        ("supports fairfield growers", "segregated", True),
        ("made with fairfield cocoa", "segregated", True),
        ("made with fairfield cocoa", "mass balance", False),
        ("supports Fairfield growers", "mass balance", False),
        (None, "mass balance", False),
    ],
)
def test_a_claim_names_a_text_that_the_terms_list_for_its_model(
    text: str | None, custody: str, *, allowed: bool
) -> None:
    world = stocked(labels=LABELS)

    if allowed:
        world.sell("X", {"L": "1"}, SOLD, labelled(text, custody))
    else:
        with refused("label-not-allowed"):
            world.sell("X", {"L": "1"}, SOLD, labelled(text, custody))


def test_terms_without_labels_take_none() -> None:
    with refused("label-not-allowed"):
        stocked().sell("X", {"L": "1"}, SOLD, labelled("supports fairfield growers"))


def test_a_refused_label_is_told_with_those_allowed() -> None:
    with pytest.raises(Exception, match='list "supports fairfield growers"; use one'):
        stocked(labels=LABELS).sell("X", {"L": "1"}, SOLD, claim())


@pytest.mark.parametrize(
    ("text", "named"),
    [(None, "no label"), ("fairfield inside", 'the label "fairfield inside"')],
)
def test_a_refused_label_is_told_as_it_was_written(
    text: str | None, named: str
) -> None:
    told = f"lines.0.claims.0 names {named}, but for mass balance the terms"

    with pytest.raises(EntryRefusedError, match=told) as refusal:
        stocked(labels=LABELS).sell("X", {"L": "1"}, SOLD, labelled(text))
    assert refusal.value.findings[0].field == "lines.0.claims.0.label"


def beside(*excluded: str) -> World:
    """Return a world with beans bought under two schemes; the first excludes some."""
    world = opened()
    world.terms(not_beside=list(excluded))
    world.terms(OTHER_SCHEME)
    for holder in (MAKER, "alder"):
        for scheme in ("fairfield", OTHER_SCHEME):
            world.certify(holder, scheme)
    return world


BOTH = (claim(), claim(scheme=OTHER_SCHEME))


def test_one_kilogram_may_be_claimed_under_two_schemes_once_each() -> None:
    """Each scheme's kilogram is spent once: common practice, no source."""
    world = beside()
    world.sign("C", "alder", *BOTH)
    world.sign("PLAIN", "birch")
    world.receive({"L": "100"})
    world.receive({"P": "100"}, contract="PLAIN")
    world.sell("X", {"L": "60"}, SOLD, *BOTH)

    assert world.account() == world.account(scheme=OTHER_SCHEME) == 40_000
    world.receive({"L2": "100"}, contract="C")
    world.sell("Y", {"L": "40"}, SOLD, claim())
    world.sell("Z", {"L2": "100"}, SOLD, claim())
    with refused("account-below-zero"):
        world.sell("W", {"P": "0.001"}, SOLD, claim())


@pytest.mark.parametrize("order", [BOTH, BOTH[::-1]])
def test_schemes_that_exclude_each_other_are_not_claimed_together(
    order: tuple[dict[str, str], ...],
) -> None:
    world = beside(OTHER_SCHEME)
    world.sign("C", "alder", claim())
    world.sign("D", "alder", claim(scheme=OTHER_SCHEME))
    world.receive({"L": "100"})
    world.receive({"M": "100"}, contract="D")

    with refused("claimed-beside"):
        world.sell("X", {"L": "1"}, SOLD, *order)
    world.sell("X", {"L": "1"}, SOLD, claim())


def test_nor_bought_together_so_that_each_kilogram_counts_for_one() -> None:
    world = beside(OTHER_SCHEME)

    with refused("claimed-beside"):
        world.sign("C", "alder", *BOTH)


def test_a_kilogram_comes_back_once_under_each_scheme() -> None:
    """Over returns, claims taken back and corrections, nothing is given back twice."""
    world = beside()
    world.sign("C", "alder", *BOTH)
    world.receive({"L": "100"})
    world.sell("X", {"L": "60"}, SOLD, *BOTH)
    back = world.record(
        "claim.withdrawn",
        "2025-02-02",
        withdrawal="W",
        sale="X",
        document="note",
        reason="r",
        lines=[{"lot": "L", "mass_kg": "60", "scheme": "fairfield"}],
    )
    world.take_back("R", "X", {"L": "60"}, "2025-02-03")

    assert world.account() == world.account(scheme=OTHER_SCHEME) == 100_000
    world.void(back)
    assert world.account() == world.account(scheme=OTHER_SCHEME) == 100_000
    assert world.rebuilt_alike()


COMPOSITE = {
    "least_percent": "20",
    "leave_out": ["water", "milk"],
    "leave_out_above_percent": "50",
    "source": "a published rule for composite products",
}
"""At least 20 per cent by weight; water and dairy are left out above half of it.

Source: a published rule for products of several ingredients.
"""


def filling(cocoa: str, sugar: str, milk: str, water: str, other: str) -> World:
    """Return a world with a product by shares of its ingredients, M on hand."""
    world = certified(composite=COMPOSITE)
    world.receive({"L": "1000"})
    shares = {
        ("cocoa", "liquor"): cocoa,
        ("sugar", "ingredient"): sugar,
        ("milk", "ingredient"): milk,
        ("water", "ingredient"): water,
        ("other", "ingredient"): other,
    }
    world.record(
        "recipe.published",
        recipe="filling",
        product="Filling",
        valid_from="2024-01-01",
        ingredients=[
            {"commodity": commodity, "form": form, "share": share}
            for (commodity, form), share in shares.items()
            if share != "0"
        ],
    )
    world.make({"L": "100"}, {"M": "100"}, recipe="filling", form="chocolate")
    return world


@pytest.mark.parametrize(
    ("shares", "allowed"),
    [
        (("0.2", "0.8", "0", "0", "0"), True),
        (("0.199999", "0.800001", "0", "0", "0"), False),
        (("0.1", "0.4", "0.3", "0.2", "0"), False),
        (("0.1", "0.399999", "0.300001", "0.2", "0"), True),
        (("0.099999", "0.4", "0.3", "0.200001", "0"), False),
        (("0.09", "0.4", "0.31", "0.2", "0"), False),
        (("0.04", "0.15", "0.01", "0.8", "0"), True),
        (("0.04", "0.17", "0", "0.79", "0"), False),
    ],
)
def test_at_least_a_fifth_by_weight_is_certified(
    shares: tuple[str, str, str, str, str], *, allowed: bool
) -> None:
    world = filling(*shares)

    if allowed:
        world.sell("X", {"M": "1"}, SOLD, claim())
    else:
        with refused("share-too-small"):
            world.sell("X", {"M": "1"}, SOLD, claim())


def test_a_pure_lot_needs_no_share() -> None:
    world = stocked(composite={**COMPOSITE, "least_percent": "100"})

    world.sell("X", {"L": "1"}, SOLD, claim())


def content(commodity: Commodity, share: str) -> Content:
    return Content(commodity, Form.INGREDIENT, Fraction(share), None, organic=False)


@pytest.mark.parametrize(
    ("above", "share"), [("50", Fraction(1, 2)), ("49", Fraction(3, 5))]
)
def test_what_is_left_out_counts_for_neither_part(above: str, share: Fraction) -> None:
    terms = TermsPublished.model_validate(
        {
            "scheme": "s",
            "version": "1",
            "valid_from": "2024-01-01",
            "source": "s",
            "custody": ["mass balance"],
            "commodities": ["cocoa", "milk"],
            "conversions": conversions(),
        }
    )
    rule = CompositeRule.model_validate(
        {**COMPOSITE, "leave_out": ["milk", "water"], "leave_out_above_percent": above}
    )
    parts = [
        content(Commodity.COCOA, "0.3"),
        content(Commodity.SUGAR, "0.2"),
        content(Commodity.MILK, "0.2"),
        content(Commodity.WATER, "0.3"),
    ]

    assert certified_share(terms, rule, parts) == share
    assert certified_share(terms, rule, [content(Commodity.WATER, "1")]) == 0


def test_the_known_part_of_a_blend_is_what_is_certified_of_it() -> None:
    world = certified(
        claim("segregated"),
        custody=["segregated", "controlled blending"],
        composite=COMPOSITE,
    )
    world.receive([lot("L", "100")])
    world.receive({"P": "100"}, contract="PLAIN")
    world.record(
        "recipe.published",
        recipe="dark",
        product="Dark",
        valid_from="2024-01-01",
        ingredients=[
            {"commodity": "cocoa", "form": "liquor", "share": "0.4"},
            {"commodity": "sugar", "form": "ingredient", "share": "0.6"},
        ],
    )
    world.make({"L": "50", "P": "50"}, {"M": "100"}, recipe="dark", form="chocolate")

    with refused("share-too-small"):
        world.sell(
            "X",
            {"M": "1"},
            SOLD,
            {**claim("controlled blending"), "proportion": "0.499999"},
        )
    world.sell(
        "X", {"M": "10"}, SOLD, {**claim("controlled blending"), "proportion": "0.5"}
    )
    assert world.account() == 100_000 - 2_500
