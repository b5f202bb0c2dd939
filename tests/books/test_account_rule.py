"""ledger.books.account_rule: which account goods count in, as their terms say."""

from datetime import date
from typing import Any

import pytest

from ledger.books.account import Account
from ledger.books.account_rule import (
    account_under,
    production,
    refuse_unlisted_grade,
)
from ledger.trade.terms import TermsPublished
from ledger.trade.words import Commodity, Form
from tests.world import conversions, refused

ON = date(2025, 3, 1)
SPLIT = {
    "of": "liquor",
    "outputs": [{"form": "butter", "share": "0.5"}, {"form": "powder", "share": "0.5"}],
    "valid_from": "2025-03-01",
    "source": "an invented standard",
}


def terms(*, joint: bool = False, **account: object) -> TermsPublished:
    body: dict[str, Any] = {
        "scheme": "fairfield",
        "version": "1",
        "valid_from": "2023-01-01",
        "source": "an invented standard",
        "custody": ["mass balance"],
        "conversions": conversions(),
        "account": account,
        "joint_outputs": [SPLIT] if joint else [],
    }
    return TermsPublished.model_validate(body)


def account(
    under: TermsPublished,
    on: date = ON,
    form: Form = Form.BUTTER,
    **more: Any,  # noqa: ANN401
) -> Account:
    about: dict[str, Any] = {
        "site": "mill",
        "organic": False,
        "origin": "PE",
        "grade": "first",
    }
    about |= more
    return account_under(under, on, commodity=Commodity.COCOA, form=form, **about)


def test_scheme_commodity_site_and_production_tell_accounts_apart() -> None:
    expected = Account("fairfield", "cocoa", "mill", "conventional", "all")

    assert account(terms()) == expected


@pytest.mark.parametrize(
    ("rule", "told"),
    [
        ({"scope": "group"}, {"site": "all"}),
        ({"match_origin": True}, {"origin": "PE"}),
        ({"match_organic": False}, {"production": "all"}),
        ({"grades": ["first", "second"]}, {"grade": "first"}),
    ],
)
def test_the_terms_say_what_else_does(
    rule: dict[str, Any], told: dict[str, str]
) -> None:
    usual = {"site": "mill", "production": "conventional", "origin": "all"}
    expected = Account("fairfield", "cocoa", **{"grade": "all", **usual, **told})

    assert account(terms(**rule)) == expected


def test_what_is_not_known_counts_in_an_account_of_all() -> None:
    under = terms(match_origin=True, grades=["first"])

    found = account(under, origin=None, grade=None)
    assert (found.origin, found.grade) == ("all", "all")


def test_a_form_that_comes_out_beside_another_has_its_own_from_that_day_on() -> None:
    under = terms(joint=True)

    assert account(under).form == "butter"
    assert account(under, date(2025, 2, 28)).form == "all"
    assert account(under, form=Form.LIQUOR).form == "all"


@pytest.mark.parametrize(
    ("organic", "matched", "expected"),
    [
        (True, True, "organic"),
        (False, True, "conventional"),
        (True, False, "all"),
        (False, False, "all"),
    ],
)
def test_production_is_told_where_it_must_match(
    *, organic: bool, matched: bool, expected: str
) -> None:
    assert production(terms(match_organic=matched), organic=organic) == expected


@pytest.mark.parametrize("grade", ["first", "second"])
def test_a_listed_grade_passes(grade: str) -> None:
    under = terms(grades=["first", "second"])

    refuse_unlisted_grade(under, grade, field="lots", what="lot L")


@pytest.mark.parametrize("grade", [None, "third"])
def test_terms_without_grades_take_any(grade: str | None) -> None:
    refuse_unlisted_grade(terms(), grade, field="lots", what="lot L")


@pytest.mark.parametrize(
    ("grade", "said"), [(None, "states no grade"), ("third", "is of grade third")]
)
def test_a_grade_that_is_not_listed_is_refused_by_name(
    grade: str | None, said: str
) -> None:
    under = terms(grades=["first", "second"])

    with refused("grade-not-listed") as caught:
        refuse_unlisted_grade(under, grade, field="lots", what="lot L")
    assert str(caught.value) == (
        f"lots: lot L {said}, but the terms 1 of fairfield keep accounts for first, "
        "second; state one of these grades"
    )
