"""ledger.trade.sentence: what pydantic finds becomes sentences a person can act on."""

from collections.abc import Mapping

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import JsonValue, ValidationError

from ledger.trade.kinds import KINDS
from ledger.trade.record import Record
from ledger.trade.sentence import (
    BodyError,
    Problem,
    body_error,
    listed,
    missing_problem,
)

Body = dict[str, JsonValue]

CONTRACT: Body = {
    "contract": "K-12",
    "seller": "alto-verde",
    "origin": "PE",
    "crop": "2024/25",
    "quantity_kg": "12500.000",
    "price": {"basis": "fixed", "price": {"amount": "3600.00", "unit": "USD/t"}},
    "delivery_place": "Callao",
    "weight_basis": "landed",
}
PREMIUM: Body = {
    "valid_from": "2025-01-01",
    "price": {"amount": "240.00", "unit": "USD/t"},
    "source": "annex 3",
}
TERMS: Body = {
    "scheme": "steady",
    "version": "1",
    "valid_from": "2025-01-01",
    "source": "annex",
    "custody": ["mass balance"],
    "conversions": [],
    "premiums": [PREMIUM],
}
BATCH: Body = {
    "batch": "R-1",
    "step": "roast",
    "inputs": [{"lot": "a", "mass_kg": "2.000"}],
    "outputs": [{"lot": "b", "form": "nib", "mass_kg": "2.000"}],
}
CHECKPOINT: Body = {"size": 1, "root": "0" * 64, "note": "signed"}
CORRECTION: Body = {
    "target": 1,
    "reason": "wrong",
    "replacement": {"entry_kind": "x", "occurred_on": "2025-01-01", "body": {}},
}


def refused(kind: str, body: object) -> BodyError:
    with pytest.raises(ValidationError) as refusal:
        KINDS[kind].model_validate(body)
    return body_error(kind, KINDS[kind], refusal.value)


def without(body: Body, field: str) -> Body:
    return {name: value for name, value in body.items() if name != field}


@pytest.mark.parametrize(
    ("kind", "body", "path", "sentence"),
    [
        pytest.param(
            "contract.signed",
            without(CONTRACT, "origin"),
            "origin",
            "field origin of contract.signed is missing (Country of origin, ISO 3166-1 "
            "alpha-2); add it",
        ),
        pytest.param(
            "contract.signed",
            without(CONTRACT, "quantity_kg"),
            "quantity_kg",
            "field quantity_kg of contract.signed is missing (Quantity contracted, net); "
            "add it, or quantity with its unit",
        ),
        pytest.param(
            "contract.signed",
            CONTRACT | {"orgin": "PE"},
            "orgin",
            'field orgin of contract.signed ("PE") is not known; did you mean "origin"?',
        ),
        pytest.param(
            "sale.returned",
            {
                "return": "a",
                "sale": "b",
                "document": "c",
                "reason": "d",
                "lines": [{"lot": "e", "mass_kg": "1.000"}],
                "return_": ["a"],
            },
            "return_",
            'field return_ of sale.returned (a list) is not known; did you mean "return"?',
        ),
        pytest.param(
            "contract.signed",
            CONTRACT | {"form": "beans"},
            "form",
            'field form of contract.signed is "beans", which is not one of its words; '
            'did you mean "bean"?',
        ),
        pytest.param(
            "contract.signed",
            CONTRACT | {"commodity": ["cocoa"]},
            "commodity",
            "field commodity of contract.signed is a list, which is not one of its "
            "words; use one of cocoa, sugar, vanilla, milk, water, other",
        ),
        pytest.param(
            "contract.signed",
            CONTRACT | {"price": {"basis": "fix"}},
            "price",
            'field price of contract.signed has basis "fix", which is not known; did you '
            'mean "fixed"?',
        ),
        pytest.param(
            "contract.signed",
            CONTRACT | {"price": {"price": "3600.00"}},
            "price",
            "field price of contract.signed does not say its basis, which decides what "
            "else it holds; add it",
        ),
        pytest.param(
            "contract.signed",
            CONTRACT | {"price": "3600.00 USD/t"},
            "price",
            'field price of contract.signed is "3600.00 USD/t", where a group of fields '
            "belongs; give it basis, price, market, month, differential, call, fix_by",
        ),
        pytest.param(
            "contract.signed",
            CONTRACT
            | {"price": {"basis": "fixed", "price": {"amount": "x", "unit": "USD/t"}}},
            "price.price.amount",
            'field price.price.amount of contract.signed: "x" is not a plain decimal '
            "number; write digits with at most one point, such as 1250.5, without unit, "
            "exponent or thousands separator",
        ),
        pytest.param(
            "contract.signed",
            CONTRACT | {"seller": {"party": "alto-verde"}},
            "seller",
            "field seller of contract.signed is a group of fields, where one text "
            "belongs; write a single value",
        ),
        pytest.param(
            "contract.signed",
            CONTRACT | {"claims": "steady"},
            "claims",
            'field claims of contract.signed is "steady", where a list belongs; write '
            'each item on a line of its own after "- ", even if there is only one',
        ),
        pytest.param(
            "contract.signed",
            CONTRACT | {"claims": ["steady"]},
            "claims.0",
            'field claims.0 of contract.signed is "steady", where a group of fields '
            "belongs; give it scheme, custody, proportion",
        ),
        pytest.param(
            "contract.signed",
            CONTRACT | {"typed": {"quantity_kg": 3}},
            "typed.quantity_kg",
            "field typed.quantity_kg of contract.signed is 3, where one text belongs; "
            "write a single value",
        ),
        pytest.param(
            "correction",
            CORRECTION
            | {
                "replacement": {
                    "entry_kind": "x",
                    "occurred_on": "2025-01-01",
                    "body": "x",
                }
            },
            "replacement.body",
            'field replacement.body of correction is "x", where a group of fields '
            "belongs; give it names and values",
        ),
        pytest.param(
            "batch.made",
            BATCH | {"outputs": []},
            "outputs",
            "field outputs of batch.made is empty; give at least 1",
        ),
        pytest.param(
            "batch.made",
            BATCH | {"inputs": [{"lot": "a", "mass": "3 ton"}]},
            "inputs.0.mass",
            'field inputs.0.mass of batch.made: "ton" is 907 kg, 1000 kg or 1016 kg; '
            'write "short ton", "t" or "long ton"',
        ),
        pytest.param(
            "batch.made",
            BATCH | {"inputs": [{"lot": "a", "mass_kg": "3.000"}]},
            "batch",
            "batch.made: batch R-1 takes 3.000 kg but gives 2.000 kg and loses 0.000 kg; "
            "inputs must equal outputs plus losses to the gram, so weigh again or "
            "declare the loss of 1.000 kg",
        ),
        pytest.param(
            "batch.made",
            ["R-1"],
            "",
            "batch.made is a list, where a group of fields belongs; give it names and "
            "values",
        ),
        pytest.param(
            "terms.published",
            TERMS | {"reconciliation_months": "0"},
            "reconciliation_months",
            'field reconciliation_months of terms.published is "0"; write a number from '
            "1 on",
        ),
        pytest.param(
            "terms.published",
            TERMS | {"reconciliation_months": "13"},
            "reconciliation_months",
            'field reconciliation_months of terms.published is "13"; write a number up '
            "to 12",
        ),
        pytest.param(
            "terms.published",
            TERMS
            | {"premiums": [PREMIUM | {"payees": [{"payee": "a b", "share": "1"}]}]},
            "premiums.0.payees.0.payee",
            "field premiums.0.payees.0.payee of terms.published: "
            '"a b" is not an identifier; use 1 to 64 of the characters A-Z a-z 0-9 . _ / '
            "- and start with a letter or digit",
        ),
        pytest.param(
            "checkpoint.signed",
            CHECKPOINT | {"note": ""},
            "note",
            "field note of checkpoint.signed is empty; give at least 1",
        ),
        pytest.param(
            "checkpoint.signed",
            CHECKPOINT | {"note": "x" * 4001},
            "note",
            f'field note of checkpoint.signed: "{"x" * 60}…" is longer than 4000; '
            "shorten it",
        ),
        pytest.param(
            "correction",
            CORRECTION
            | {
                "replacement": {
                    "entry_kind": "x",
                    "occurred_on": "2025-01-01",
                    "body": {"mass_kg": float("inf")},
                }
            },
            "replacement.body.mass_kg",
            "field replacement.body.mass_kg of correction: inf does not fit (Input should "
            "be a finite number); correct it",
        ),
    ],
)
def test_each_problem_becomes_a_sentence_with_its_path(
    kind: str, body: object, path: str, sentence: str
) -> None:
    error = refused(kind, body)

    assert error.problems == (Problem(path, sentence),)
    assert str(error) == sentence
    assert error.kind == kind


def test_a_misspelt_field_is_told_before_the_one_that_is_missing() -> None:
    body = without(CONTRACT, "crop") | {"corp": "2024/25"}

    assert [problem.path for problem in refused("contract.signed", body).problems] == [
        "corp",
        "crop",
    ]


def test_a_list_whose_items_are_wrong_is_not_called_empty() -> None:
    body = BATCH | {"inputs": [{"lot": "a b", "mass_kg": "2.000"}]}

    assert [problem.path for problem in refused("batch.made", body).problems] == [
        "inputs.0.lot"
    ]


def test_a_name_that_cannot_be_printed_is_shown_escaped() -> None:
    [problem] = refused("batch.made", BATCH | {"\x1b[31m": "x"}).problems

    assert problem.sentence.startswith(
        'field "\\x1b[31m" of batch.made ("x") is not known; use one of batch, step'
    )


def test_at_most_five_problems_are_told_and_the_others_counted() -> None:
    assert listed(str(n) for n in range(5)) == "0; 1; 2; 3; 4"
    assert listed(str(n) for n in range(8)) == "0; 1; 2; 3; 4; and 3 more"
    assert str(refused("contract.signed", {})).endswith("; and 2 more")


def test_a_sealed_field_that_is_needed_is_told_like_any_other() -> None:
    problem = missing_problem("contract.signed", KINDS["contract.signed"], "price")

    assert problem == Problem(
        "price",
        "field price of contract.signed is missing (Price or price basis; sealed); add it",
    )


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.text(max_size=8), inner, max_size=3)
    ),
    max_leaves=6,
)


def problems_of(model: type[Record], body: Mapping[str, object]) -> tuple[Problem, ...]:
    try:
        model.model_validate(body)
    except ValidationError as error:
        return body_error(model.kind, model, error).problems
    return ()


@given(st.sampled_from(list(KINDS.values())), st.data())
def test_whatever_is_wrong_has_a_sentence_on_one_line(
    model: type[Record], data: st.DataObject
) -> None:
    names = [field.alias or name for name, field in model.model_fields.items()]
    body = data.draw(st.dictionaries(st.sampled_from(names), JSON, max_size=4))

    for problem in problems_of(model, body):
        assert model.kind in problem.sentence
        assert len(problem.sentence.splitlines()) == 1
