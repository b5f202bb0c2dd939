"""ledger.books.transferring: bean equivalent from account to account, aside or down."""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from ledger.books.account import Account
from ledger.books.lookup import governing_terms
from ledger.books.transferring import may_give
from tests.books.random_ledger import sugar_factor
from tests.world import (
    MAKER,
    World,
    certified,
    claim,
    conversions,
    lot,
    opened,
    refused,
)

WAYS = ["between sites", "organic to conventional", "to a lower grade"]
GRADES = ["first", "second"]


def moved(
    world: World, from_: dict[str, Any], to: dict[str, Any], **more: object
) -> int:
    """Move ten kilograms from one account to another."""
    body = {
        "transfer": f"T{len(world.raws)}",
        "scheme": "fairfield",
        "beans_kg": "10",
        "from_": {"grade": "first", **from_},
        "to": {"grade": "first", **to},
        "reason": "sold from there",
        **more,
    }
    return world.record("claim.transferred", "2025-02-01", **body)


def keeping(transfers: list[str]) -> World:
    """Return a world with accounts by site, production and grade, a hundred kilograms."""
    world = certified(organic=True, account={"grades": GRADES, "transfers": transfers})
    world.receive([lot("L", "100", grade="first")])
    return world


def held(world: World, site: str, production: str, grade: str) -> int:
    return world.account(site=site, production=production, grade=grade)


def test_it_takes_from_one_account_and_adds_to_the_other() -> None:
    world = keeping(WAYS)
    moved(world, {"organic": True}, {"site": "annex", "organic": True})

    assert held(world, "mill", "organic", "first") == 90_000
    assert held(world, "annex", "organic", "first") == 10_000


STEPS: dict[str, tuple[dict[str, Any], dict[str, Any]]] = {
    "between sites": ({"organic": True}, {"site": "annex", "organic": True}),
    "organic to conventional": ({"organic": True}, {"organic": False}),
    "to a lower grade": ({"organic": True}, {"organic": True, "grade": "second"}),
}


@pytest.mark.parametrize("way", WAYS)
def test_the_terms_say_which_way_it_may_go(way: str) -> None:
    given, taken = STEPS[way]
    moved(keeping([way]), given, taken)

    with refused("transfer-not-allowed"):
        moved(keeping([other for other in WAYS if other != way]), given, taken)


@pytest.mark.parametrize(
    ("given", "taken"),
    [
        ({"organic": False}, {"organic": True}),
        ({"organic": True, "grade": "second"}, {"organic": True}),
        ({"organic": True, "grade": "second"}, {"organic": False}),
    ],
)
def test_it_never_goes_up(given: dict[str, Any], taken: dict[str, Any]) -> None:
    """Characteristics are given up, never gained: common practice, no source."""
    with refused("transfer-up"):
        moved(keeping(WAYS), given, taken)


def test_an_account_cannot_give_more_than_it_has_on_any_date() -> None:
    world = keeping(WAYS)
    moved(world, {"organic": True}, {"organic": False}, beans_kg="100")

    with refused("account-below-zero"):
        moved(world, {"organic": True}, {"organic": False}, beans_kg="0.001")


def test_what_was_moved_on_cannot_be_made_void() -> None:
    world = keeping(WAYS)
    first = moved(world, {"organic": True}, {"site": "annex", "organic": True})
    moved(world, {"site": "annex", "organic": True}, {"site": "annex"})

    with refused("account-below-zero"):
        world.void(first)


@pytest.mark.parametrize(
    ("rule", "given", "taken", "more"),
    [
        ("transfer-to-itself", {"organic": True}, {"organic": True}, {}),
        ("unknown-site", {"site": "moon"}, {}, {}),
        ("grade-not-listed", {"grade": "third"}, {}, {}),
        ("grade-not-listed", {}, {"grade": None}, {}),
        ("commodity-not-certified", {}, {}, {"commodity": "sugar"}),
        ("no-terms", {}, {}, {"scheme": "nobody"}),
    ],
)
def test_what_it_names_must_be_there(
    rule: str, given: dict[str, Any], taken: dict[str, Any], more: dict[str, Any]
) -> None:
    with refused(rule):
        moved(keeping(WAYS), given, taken, **more)


def test_the_maker_needs_a_certificate_on_that_day() -> None:
    world = keeping(WAYS)
    world.stop("weirside/fairfield", "2025-02-01")

    with refused("maker-not-certified"):
        moved(world, {"organic": True}, {"organic": False})


def test_accounts_by_origin_need_the_origin_and_keep_it() -> None:
    rule = {"match_origin": True, "transfers": ["between sites"]}
    world = certified(account=rule)
    world.receive({"L": "100"})
    body = {"transfer": "T", "scheme": "fairfield", "beans_kg": "10", "reason": "r"}
    sides = {"from_": {}, "to": {"site": "annex"}}

    with refused("origin-unknown"):
        world.record("claim.transferred", "2025-02-01", **body, **sides)
    world.record("claim.transferred", "2025-02-01", **body, **sides, origin="PE")
    assert world.account(origin="PE") == 90_000
    assert world.account(site="annex", origin="PE") == 10_000


def test_a_group_has_one_account_for_all_its_sites() -> None:
    """Mass balance at group level, ISO 22095:2020, 5.4.4 (clause from memory)."""
    world = certified(account={"scope": "group"})
    world.receive({"L": "100"}, site="mill")
    world.make({"L": "50"}, {"M": "50"})
    world.sell("X", {"M": "50"}, "2025-02-01", claim(), site="annex")

    assert world.account(site="all") == 37_500
    assert world.account(site="mill") == world.account(site="annex") == 0


def test_a_site_with_an_account_of_its_own_needs_a_transfer_to_sell() -> None:
    world = certified(account={"transfers": ["between sites"]})
    world.receive({"L": "100"})
    with refused("account-below-zero"):
        world.sell("X", {"L": "10"}, "2025-02-02", claim(), site="annex")
    world.record(
        "claim.transferred",
        "2025-02-01",
        transfer="T",
        scheme="fairfield",
        beans_kg="10",
        from_={},
        to={"site": "annex"},
        reason="sold there",
    )

    world.sell("X", {"L": "10"}, "2025-02-02", claim(), site="annex")
    assert world.account(site="annex") == 0


def test_moving_there_and_back_makes_nothing_younger() -> None:
    """What was received in 2024 lapses with 2025, wherever it was moved meanwhile."""
    world = certified(account={"transfers": ["between sites"]})
    world.receive({"OLD": "60"}, "2024-06-01")
    world.receive({"NEW": "40"}, "2025-06-01")
    body = {"scheme": "fairfield", "reason": "r"}
    to_annex = {"from_": {}, "to": {"site": "annex"}}
    back = {"from_": {"site": "annex"}, "to": {}}
    world.record(
        "claim.transferred",
        "2025-07-01",
        transfer="T",
        beans_kg="70",
        **body,
        **to_annex,
    )
    world.record(
        "claim.transferred", "2025-08-01", transfer="U", beans_kg="65", **body, **back
    )
    world.close("2024-01-01", "2025-12-31", on="2026-01-10")

    assert (
        world.account("2026-01-01") + world.account("2026-01-01", site="annex")
        == 40_000
    )
    assert world.account("2026-01-01", site="annex") == 5_000


def test_a_transfer_has_a_name_of_its_own() -> None:
    world = keeping(WAYS)
    moved(world, {"organic": True}, {"organic": False}, transfer="T")

    with refused("name-taken"):
        moved(world, {"organic": True}, {"organic": False}, transfer="T")


def test_terms_that_stop_allowing_it_cannot_replace_those_it_rests_on() -> None:
    world = keeping(WAYS)
    moved(world, {"organic": True}, {"organic": False})
    [published] = [r["seq"] for r in world.raws if r["kind"] == "terms.published"]

    with refused("later-entry-breaks"):
        world.replace(published, account={"grades": GRADES})


def account(site: str, production: str, grade: str, form: str = "all") -> Account:
    return Account("fairfield", "cocoa", site, production, "all", grade, form)


LOWEST = account("annex", "conventional", "second")


@pytest.mark.parametrize(
    ("given", "taken", "may"),
    [
        (account("mill", "organic", "first"), LOWEST, True),
        (account("annex", "conventional", "first"), LOWEST, True),
        (LOWEST, LOWEST, False),
        (LOWEST, account("mill", "conventional", "second"), True),
        (LOWEST, account("annex", "organic", "second"), False),
        (LOWEST, account("annex", "conventional", "first"), False),
        (account("mill", "organic", "first", "butter"), LOWEST, False),
        (
            account("mill", "organic", "first", "butter"),
            account("annex", "organic", "first", "butter"),
            False,
        ),
        (replace(LOWEST, origin="PE", site="mill"), LOWEST, False),
        (replace(LOWEST, commodity="sugar", site="mill"), LOWEST, False),
        (replace(LOWEST, scheme="other", site="mill"), LOWEST, False),
    ],
)
def test_an_account_may_give_aside_and_down_and_to_its_own_kind(
    given: Account, taken: Account, *, may: bool
) -> None:
    terms = governing_terms(keeping(WAYS).shelf, "fairfield", date(2025, 3, 1))
    assert terms is not None

    assert may_give(terms, given, taken) is may


@pytest.mark.parametrize(
    "given",
    [
        account("annex", "conventional", "third"),
        account("annex", "conventional", "all"),
        account("annex", "all", "first"),
        account("all", "conventional", "first"),
        replace(account("mill", "conventional", "first"), origin="PE"),
    ],
)
def test_an_account_that_the_terms_no_longer_keep_neither_gives_nor_takes(
    given: Account,
) -> None:
    """A transfer could not name it: its grade, site or production is of earlier terms."""
    terms = governing_terms(keeping(WAYS).shelf, "fairfield", date(2025, 3, 1))
    assert terms is not None
    taken = replace(LOWEST, origin=given.origin)

    assert not may_give(terms, given, taken)
    assert not may_give(terms, taken, given)


def test_where_grades_are_not_told_apart_a_site_may_give_to_another() -> None:
    shelf = certified(account={"transfers": ["between sites"]}).shelf
    terms = governing_terms(shelf, "fairfield", date(2025, 3, 1))
    assert terms is not None
    mill = Account("fairfield", "cocoa", "mill", "conventional", "all")

    assert may_give(terms, mill, replace(mill, site="annex"))


def test_of_a_group_only_the_account_of_all_its_sites_may_give() -> None:
    rule = {"scope": "group", "transfers": ["organic to conventional"]}
    terms = governing_terms(
        certified(account=rule).shelf, "fairfield", date(2025, 3, 1)
    )
    assert terms is not None
    group = Account("fairfield", "cocoa", "all", "organic", "all")
    mill = replace(group, site="mill")

    assert may_give(terms, group, replace(group, production="conventional"))
    assert not may_give(terms, mill, replace(mill, production="conventional"))


@pytest.mark.parametrize("way", WAYS)
def test_it_may_give_only_in_the_ways_that_the_terms_name(way: str) -> None:
    highest = account("mill", "organic", "first")
    others = {
        "between sites": replace(highest, site="annex"),
        "organic to conventional": replace(highest, production="conventional"),
        "to a lower grade": replace(highest, grade="second"),
    }
    terms = governing_terms(keeping([way]).shelf, "fairfield", date(2025, 3, 1))
    assert terms is not None

    may = [name for name, taken in others.items() if may_give(terms, highest, taken)]
    assert may == [way]


def test_the_makers_certificate_covers_the_commodity_that_moves() -> None:
    world = opened()
    world.terms(
        account={"transfers": ["between sites"]},
        commodities=["cocoa", "sugar"],
        conversions=[*conversions(), sugar_factor()],
    )
    world.certify(MAKER, commodities=["sugar"])
    world.certify("alder")
    world.sign("C", "alder", claim())
    world.sign("S", "alder", claim(), commodity="sugar", form="ingredient")
    world.receive({"L": "10"})
    world.receive({"Z": "10"}, contract="S")
    about = {"scheme": "fairfield", "beans_kg": "1", "reason": "r"}
    sides = {"from_": {}, "to": {"site": "annex"}}

    with refused("maker-not-certified") as caught:
        world.record("claim.transferred", "2025-02-01", transfer="T", **about, **sides)
    assert caught.value.findings[0].field == "scheme"
    sugar = {"transfer": "U", "commodity": "sugar"}
    world.record("claim.transferred", "2025-02-01", **sugar, **about, **sides)
