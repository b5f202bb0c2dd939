"""ledger.intake.draft: what is wrong with a draft is told with its place."""

from datetime import date

import pytest

from ledger.books.finding import EntryRefusedError, Finding, Severity
from ledger.errors import InputError, SealError
from ledger.intake.draft import Draft, draft_of, in_its_place, parse_draft
from ledger.trade.kinds import KINDS
from ledger.trade.lot import LotMoved

PLACES = {"kind": "a.yaml, line 1", "on": "a.yaml, line 2", "lot": "a.yaml, line 3"}
MEMBERS = {"kind": "lot.moved", "on": "2025-03-02", "lot": "B-1", "to_place": "store"}
DRAFT = draft_of(MEMBERS, PLACES, "a.yaml, line 1")


def finding(field: str) -> Finding:
    return Finding("rule", Severity.REFUSAL, field, "no")


def test_a_draft_is_kind_day_and_body() -> None:
    assert (
        Draft(
            "lot.moved",
            date(2025, 3, 2),
            {"lot": "B-1", "to_place": "store"},
            DRAFT.where,
        )
        == DRAFT
    )
    assert LotMoved(lot="B-1", to_place="store") == parse_draft(DRAFT)


def test_no_body_has_a_field_that_a_file_writes_beside_it() -> None:
    fields = {
        field.alias or name
        for model in KINDS.values()
        for name, field in model.model_fields.items()
    }

    assert fields.isdisjoint({"kind", "on"})


@pytest.mark.parametrize(
    ("members", "because"),
    [
        ({"on": "2025-03-02"}, "line 1: field kind of the entry is missing"),
        (
            {"kind": ["a"], "on": "2025-03-02"},
            "line 1: field kind of the entry is a list",
        ),
        (
            {"kind": "a", "on": "March"},
            'line 2: field on of the entry: "March" is not a',
        ),
    ],
)
def test_kind_and_day_are_needed(members: dict[str, str], because: str) -> None:
    with pytest.raises(InputError, match=because):
        draft_of(members, PLACES, "a.yaml, line 1")


def test_findings_of_the_books_keep_their_rule_and_get_their_place() -> None:
    with pytest.raises(EntryRefusedError) as refusal, in_its_place(DRAFT):
        raise EntryRefusedError((finding("lot"), finding("occurred_on"), finding("")))

    assert str(refusal.value) == (
        "a.yaml, line 3: no; a.yaml, line 2: no; a.yaml, line 1: no"
    )
    assert {found.rule for found in refusal.value.findings} == {"rule"}


def test_the_place_is_said_once_for_problems_that_share_it() -> None:
    bare = Draft("lot.moved", date(2025, 3, 2), {}, "a.yaml, line 1")

    with pytest.raises(InputError) as refusal:
        parse_draft(bare)

    assert str(refusal.value) == (
        "a.yaml, line 1: field lot of lot.moved is missing (The lot); add it; field "
        "to_place of lot.moved is missing (Where it is now); add it"
    )


def test_other_errors_pass_unchanged() -> None:
    with pytest.raises(SealError, match=r"^broken$"), in_its_place(DRAFT):
        raise SealError("broken")


def test_nothing_happens_to_what_goes_well() -> None:
    with in_its_place(DRAFT):
        pass


def test_a_correction_without_a_replacement_is_read() -> None:
    draft = Draft(
        "correction", date(2025, 3, 2), {"target": "3", "reason": "twice"}, "a.yaml"
    )

    assert parse_draft(draft).kind == "correction"
