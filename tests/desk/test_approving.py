"""Corrections that need two: proposed by one, approved by another, never the same."""

import shutil
from collections.abc import Iterator
from contextlib import AbstractContextManager
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from ledger import wiring
from ledger.chain.canonical import JsonValue
from ledger.desk.approving import (
    ANYBODY,
    approve,
    as_if_approved,
    ask_for_two,
    decline,
    digest_of_proposal,
    propose,
)
from ledger.desk.foresee import foresee
from ledger.desk.people import admit, change
from ledger.desk.record import record
from ledger.desk.two_persons import needs_two
from ledger.desk.writing import Writing
from ledger.errors import ConflictError, InputError, NotFoundError, RefusedError
from ledger.store.entries import head
from ledger.store.people import Window, set_password
from ledger.store.proposals import list_proposals
from ledger.trade.role import Role

ON = date(2026, 1, 5)
OPENED: dict[str, JsonValue] = {
    "format_version": "1",
    "organisation": "acme",
    "organisation_name": "Acme",
    "sites": [{"site": "mill", "place": "Porto", "country": "PT"}],
}
PARTY: dict[str, JsonValue] = {
    "party": "coop",
    "roles": ["grower cooperative"],
    "country": "PE",
    "legal_name": "Cooperativa de los Cerros",
}
VOID: dict[str, JsonValue] = {"target": 1, "reason": "registered twice"}
OFFICERS = ("ada", "ben")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger with a party that is registered, and two compliance officers."""
    path = tmp_path_factory.mktemp("approving") / "ledger.db"
    with (
        wiring.writing(wiring.Place(f"sqlite:///{path}"), by="root", create=True) as at,
        at.transaction() as writing,
    ):
        record(writing, "ledger.opened", ON, OPENED)
        record(writing, "party.registered", ON, PARTY)
        for name in OFFICERS:
            admit(
                writing,
                name,
                shown=name,
                roles={Role.COMPLIANCE},
                new_secret=wiring.new_secret,
            )
            set_password(writing.rows, name, "a digest")
    return path


@pytest.fixture
def ledger(made: Path, tmp_path: Path) -> Iterator[wiring.Ledger]:
    for kept in made.parent.iterdir():
        shutil.copy(kept, tmp_path / kept.name)
    place = wiring.Place(f"sqlite:///{tmp_path / made.name}")
    with wiring.writing(place, by="root") as opened:
        yield opened


def by(ledger: wiring.Ledger, name: str) -> AbstractContextManager[Writing]:
    return ledger.transaction(by=name)


@pytest.fixture
def two(ledger: wiring.Ledger) -> wiring.Ledger:
    with ledger.transaction() as writing:
        ask_for_two(writing, two=True)
    return ledger


def proposed(ledger: wiring.Ledger, name: str = "ada") -> str:
    with by(ledger, name) as writing:
        return digest_of_proposal(propose(writing, "correction", ON, VOID))


def test_without_the_setting_one_person_corrects_alone(ledger: wiring.Ledger) -> None:
    with by(ledger, "ada") as writing:
        assert not needs_two(writing.rows)
        made = record(writing, "correction", ON, VOID)
    assert made.recorded.recorded_by == "ada"


def test_with_it_nobody_corrects_alone(two: wiring.Ledger) -> None:
    for body in (VOID, VOID | {"approved_by": "ben"}, VOID | {"approved_by": "ada"}):
        with (
            pytest.raises(RefusedError, match="two persons only"),
            by(two, "ada") as writing,
        ):
            record(writing, "correction", ON, dict(body))


def test_another_officer_approves_and_the_entry_names_both(two: wiring.Ledger) -> None:
    seen = proposed(two)

    with by(two, "ben") as writing:
        made = approve(writing, 1, seen=seen)
        assert list(list_proposals(writing.rows)) == []

    assert made.recorded.recorded_by == "ada"
    assert getattr(made.recorded.record, "approved_by") == "ben"  # noqa: B009


def test_the_same_person_never_approves(two: wiring.Ledger) -> None:
    seen = proposed(two)

    with (
        pytest.raises(RefusedError, match="cannot approve it as well"),
        by(two, "ada") as writing,
    ):
        approve(writing, 1, seen=seen)


@pytest.mark.parametrize("which", OFFICERS)
def test_nobody_decides_who_is_no_officer_any_more(
    two: wiring.Ledger, which: str
) -> None:
    seen = proposed(two)
    with two.transaction() as writing:
        change(writing, which, roles={Role.BUYER}, window=Window(), ended=False)

    with (
        pytest.raises(RefusedError, match="no compliance officer"),
        by(two, "ben") as writing,
    ):
        approve(writing, 1, seen=seen)


def test_what_is_declined_is_gone_and_recorded_nowhere(two: wiring.Ledger) -> None:
    seen = proposed(two)

    with by(two, "ben") as writing:
        before = head(writing.rows)
        assert decline(writing, 1, seen=seen).person == "ada"
    with (
        pytest.raises(NotFoundError, match="does not wait any more"),
        by(two, "ben") as writing,
    ):
        approve(writing, 1, seen=seen)
    with by(two, "ben") as writing:
        assert head(writing.rows) == before


def test_a_number_that_is_used_again_is_not_taken_for_the_one_seen(
    two: wiring.Ledger,
) -> None:
    seen = proposed(two)
    with by(two, "ada") as writing:
        decline(writing, 1, seen=seen)
        later = replace(writing, now=lambda: datetime(2026, 5, 5, tzinfo=UTC))
        propose(later, "correction", ON, VOID | {"reason": "something else"})

    with (
        pytest.raises(ConflictError, match="not the one that you looked at"),
        by(two, "ben") as writing,
    ):
        approve(writing, 1, seen=seen)


def test_who_approves_cannot_be_typed(two: wiring.Ledger) -> None:
    with pytest.raises(InputError, match="leave it out"), by(two, "ada") as writing:
        propose(writing, "correction", ON, VOID | {"approved_by": "ben"})


def test_two_cannot_be_asked_for_where_only_one_could_decide(
    ledger: wiring.Ledger,
) -> None:
    with ledger.transaction() as writing:
        change(writing, "ben", roles={Role.BUYER}, window=Window(), ended=False)

    with (
        pytest.raises(RefusedError, match="let another one in first"),
        ledger.transaction() as writing,
    ):
        ask_for_two(writing, two=True)


def test_the_rule_is_not_dropped_while_something_waits(two: wiring.Ledger) -> None:
    proposed(two)

    with pytest.raises(RefusedError, match="still wait"), two.transaction() as writing:
        ask_for_two(writing, two=False)


def test_what_a_proposal_would_do_can_be_foreseen(two: wiring.Ledger) -> None:
    body = VOID | {"approved_by": ANYBODY}

    alone = foresee(two.transaction, "correction", ON, dict(VOID))
    approved = foresee(as_if_approved(two.transaction), "correction", ON, dict(body))

    assert "two persons only" in str(alone.refusal)
    assert approved.refusal is None
