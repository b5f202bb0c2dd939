"""ledger.books.lookup: what is named is found, or its absence is said with a way out."""

from datetime import date

import pytest

from ledger.books.effect import Subject, SubjectKind
from ledger.books.finding import EntryRefusedError
from ledger.books.lookup import (
    contract_named,
    expect,
    governing_terms,
    limits_in_force,
    opening,
    recipe_named,
    require,
    site_named,
    terms_in_force,
    terms_of,
)
from ledger.trade.contract import ContractSigned
from ledger.trade.opening import LedgerOpened
from tests.world import SCHEME, World, certified, opened, refused

SOME_DAY = date(2025, 3, 1)


@pytest.mark.parametrize(
    ("kind", "brought_in_by"),
    [
        (SubjectKind.PARTY, "party.registered"),
        (SubjectKind.CERTIFICATE, "certificate.recorded"),
        (SubjectKind.RECIPE, "recipe.published"),
        (SubjectKind.CONTRACT, "contract.signed"),
        (SubjectKind.SHIPMENT, "shipment.dispatched"),
        (SubjectKind.LOT, "shipment.received or batch.made"),
        (SubjectKind.SALE, "sale.dispatched"),
        (SubjectKind.HOLD, "hold.placed"),
        (SubjectKind.DOCUMENT, "the entry that names it"),
    ],
)
def test_what_is_missing_is_named_with_the_entry_that_brings_it_in(
    kind: SubjectKind, brought_in_by: str
) -> None:
    with pytest.raises(EntryRefusedError) as caught:
        require(opened().shelf, Subject(kind, "x"), field="lines.0")

    [finding] = caught.value.findings
    assert finding.rule == f"unknown-{kind}"
    assert finding.field == "lines.0"
    assert f"record it with {brought_in_by} first" in finding.message


def test_nothing_can_be_asked_of_a_ledger_that_is_not_open() -> None:
    with refused("not-opened"):
        opening(World().shelf)


def test_an_entry_without_a_site_is_of_the_first_site() -> None:
    assert site_named(opened().shelf, None, field="site") == "mill"
    assert site_named(opened().shelf, "annex", field="site") == "annex"


def test_a_site_that_the_ledger_was_not_opened_for_is_refused() -> None:
    with refused("unknown-site"):
        site_named(opened().shelf, "barn", field="site")


@pytest.fixture
def two_versions() -> World:
    world = opened()
    world.terms(valid_from="2025-01-01", version="one")
    world.terms(valid_from="2025-03-01", version="two")
    return world


@pytest.mark.parametrize(
    ("on", "version"),
    [
        (date(2025, 1, 1), "one"),
        (date(2025, 2, 28), "one"),
        (date(2025, 3, 1), "two"),
        (date(2030, 1, 1), "two"),
    ],
)
def test_terms_govern_from_their_date_until_others_do(
    two_versions: World, on: date, version: str
) -> None:
    terms = terms_in_force(two_versions.shelf, SCHEME, on, field="claims")

    assert terms.version == version


def test_terms_recorded_in_another_order_govern_by_their_dates(
    two_versions: World,
) -> None:
    two_versions.terms(valid_from="2025-02-01", version="between")

    found = governing_terms(two_versions.shelf, SCHEME, date(2025, 2, 28))

    assert found is not None
    assert found.version == "between"
    assert len(terms_of(two_versions.shelf, SCHEME)) == 3


def test_before_the_first_terms_none_govern(two_versions: World) -> None:
    with pytest.raises(EntryRefusedError, match="the first governs from 2025-01-01"):
        terms_in_force(two_versions.shelf, SCHEME, date(2024, 12, 31), field="claims")


def test_of_an_unknown_scheme_no_terms_are_recorded(two_versions: World) -> None:
    with pytest.raises(EntryRefusedError, match="none is recorded"):
        terms_in_force(two_versions.shelf, "elsewhere", SOME_DAY, field="claims")


def test_a_contract_is_found_by_its_number() -> None:
    assert contract_named(certified().shelf, "C", field="contract").seller == "alder"
    with refused("unknown-contract"):
        contract_named(certified().shelf, "D", field="contract")


def test_a_recipe_that_is_not_recorded_is_refused() -> None:
    with refused("unknown-recipe"):
        recipe_named(certified().shelf, "dark", field="recipe")


def test_a_record_of_another_model_is_a_mistake_in_the_program() -> None:
    opened_by = opening(opened().shelf)

    assert expect(opened_by, LedgerOpened) is opened_by
    with pytest.raises(TypeError, match="expected ContractSigned, found LedgerOpened"):
        expect(opened_by, ContractSigned)


def test_limits_govern_from_their_own_day_on() -> None:
    world = opened()
    world.record("limits.published", version="1", valid_from="2025-03-01", limits=[])

    assert limits_in_force(world.shelf, date(2025, 2, 28)) is None
    found = limits_in_force(world.shelf, date(2025, 3, 1))
    assert found is not None
    assert found.version == "1"
