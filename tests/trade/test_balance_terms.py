"""ledger.trade.balance_terms: what the file of a scheme's terms may say of accounts."""

from fractions import Fraction
from typing import Any

import pytest
from pydantic import ValidationError

from ledger.trade.balance_terms import Conversion
from ledger.trade.record import body_of
from ledger.trade.terms import TermsPublished

TERMS: dict[str, Any] = {
    "scheme": "fairfield",
    "version": "1",
    "valid_from": "2025-01-01",
    "source": "an invented standard",
    "custody": ["mass balance"],
    "conversions": [],
}
LIQUOR = {"form": "liquor", "valid_from": "2016-06-01", "source": "a table"}


def joint(*outputs: tuple[str, str]) -> dict[str, Any]:
    parts = [{"form": form, "share": share} for form, share in outputs]
    return {
        "of": "liquor",
        "outputs": parts,
        "valid_from": "2018-01-01",
        "source": "a table",
    }


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"method": "rolling average percentage"}, "states window_months"),
        ({"window_months": "12"}, "states window_months"),
        (
            {
                "method": "rolling average percentage",
                "window_months": "12",
                "account": {"transfers": ["between sites"]},
            },
            "which a rolling average percentage does not have",
        ),
        (
            {"account": {"scope": "group", "transfers": ["between sites"]}},
            'transfers allow "between sites"',
        ),
        (
            {
                "account": {
                    "match_organic": False,
                    "transfers": ["organic to conventional"],
                }
            },
            'transfers allow "organic to conventional"',
        ),
        (
            {"account": {"grades": ["one"], "transfers": ["to a lower grade"]}},
            'transfers allow "to a lower grade"',
        ),
        ({"account": {"grades": ["one", "one"]}}, "one stands more than once"),
        ({"account": {"below_zero_kg": "0"}}, "lies outside 0.001"),
        ({"mass_balance_for": ["sugar"]}, "mass_balance_for names sugar"),
        ({"joint_outputs": [joint(("butter", "1"))]}, "at least 2"),
        (
            {"joint_outputs": [joint(("butter", "0.5"), ("powder", "0.499999"))]},
            "shares are above 0 and sum to 1 exactly",
        ),
        (
            {"joint_outputs": [joint(("butter", "1"), ("powder", "0"))]},
            "shares are above 0 and sum to 1 exactly",
        ),
        (
            {"joint_outputs": [joint(("butter", "0.5"), ("liquor", "0.5"))]},
            "liquor stands more than once",
        ),
        ({"conversions": [LIQUOR]}, "states neither of factor and yield_percent"),
        (
            {"conversions": [{**LIQUOR, "factor": "1.25", "yield_percent": "80"}]},
            "states both of factor and yield_percent",
        ),
        ({"conversions": [{**LIQUOR, "yield_percent": "0"}]}, "above 0"),
    ],
)
def test_options_that_contradict_each_other_are_refused(
    given: dict[str, Any], said: str
) -> None:
    with pytest.raises(ValidationError) as caught:
        TermsPublished.model_validate(TERMS | given)

    assert said in str(caught.value)


def test_terms_are_written_and_read_again_the_same() -> None:
    given = {
        "account": {"grades": ["one", "two"], "transfers": ["to a lower grade"]},
        "joint_outputs": [joint(("butter", "0.5"), ("powder", "0.5"))],
        "conversions": [{**LIQUOR, "yield_percent": "82"}],
    }
    terms = TermsPublished.model_validate(TERMS | given)

    assert TermsPublished.model_validate(body_of(terms)) == terms


@pytest.mark.parametrize(
    ("given", "beans"),
    [
        ({"factor": "1.25"}, Fraction(5, 4)),
        ({"yield_percent": "82"}, Fraction(50, 41)),
        ({"yield_percent": "100"}, Fraction(1)),
    ],
)
def test_a_factor_and_a_yield_say_the_same_thing_either_way_round(
    given: dict[str, str], beans: Fraction
) -> None:
    assert Conversion.model_validate(LIQUOR | given).to_beans == beans
