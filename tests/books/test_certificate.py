"""ledger.books.certificate: on which dates a certificate counts."""

from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.books.certificate import certificate_on, is_certified
from ledger.books.effect import Subject, SubjectKind
from ledger.trade.words import Commodity, Custody
from tests.world import OTHER_SCHEME, SCHEME, World, opened

ALDER = Subject(SubjectKind.PARTY, "alder")


def certified_in_2025(**more: Any) -> World:  # noqa: ANN401
    world = opened()
    about = {"valid_from": "2025-01-01", "valid_until": "2025-12-31", **more}
    world.certify("alder", **about)
    return world


def counts(world: World, on: str) -> bool:
    return is_certified(world.shelf, ALDER, SCHEME, date.fromisoformat(on))


@pytest.mark.parametrize(
    ("on", "expected"),
    [
        ("2024-12-31", False),
        ("2025-01-01", True),
        ("2025-12-31", True),
        ("2026-01-01", False),
    ],
)
def test_a_certificate_counts_from_its_first_day_to_its_last(
    on: str, *, expected: bool
) -> None:
    """Both days are within the validity. Common practice, no source."""
    assert counts(certified_in_2025(), on) is expected


@pytest.mark.parametrize("how", ["suspended", "withdrawn"])
@pytest.mark.parametrize(
    ("on", "expected"),
    [("2025-05-31", True), ("2025-06-01", False), ("2025-12-31", False)],
)
def test_it_stops_counting_on_the_day_it_is_suspended_or_withdrawn_from(
    how: str, on: str, *, expected: bool
) -> None:
    world = certified_in_2025()
    world.stop("alder/fairfield", "2025-08-01", how, from_on="2025-06-01")

    assert counts(world, on) is expected


@pytest.mark.parametrize(
    ("on", "expected"),
    [("2025-05-31", True), ("2025-06-30", False), ("2025-07-01", True)],
)
def test_a_suspended_certificate_counts_again_from_its_reinstatement(
    on: str, *, expected: bool
) -> None:
    world = certified_in_2025()
    world.stop("alder/fairfield", "2025-06-01")
    world.stop("alder/fairfield", "2025-07-01", "reinstated")

    assert counts(world, on) is expected


def test_of_two_events_of_one_day_the_one_recorded_last_counts() -> None:
    world = certified_in_2025()
    world.stop("alder/fairfield", "2025-06-01", "reinstated")
    world.stop("alder/fairfield", "2025-06-01", "suspended")
    assert not counts(world, "2025-06-01")

    world.stop("alder/fairfield", "2025-06-02", "reinstated", from_on="2025-06-01")

    assert counts(world, "2025-06-01")


def test_a_withdrawn_certificate_is_not_reinstated() -> None:
    world = certified_in_2025()
    world.stop("alder/fairfield", "2025-06-01", "withdrawn")
    world.stop("alder/fairfield", "2025-07-01", "reinstated")

    assert not counts(world, "2025-08-01")
    assert counts(world, "2025-05-31")


def test_reinstating_does_not_outlast_the_last_day() -> None:
    world = certified_in_2025()
    world.stop("alder/fairfield", "2025-06-01")
    world.stop("alder/fairfield", "2025-07-01", "reinstated")

    assert not counts(world, "2026-01-01")


def test_another_certificate_counts_on_its_own() -> None:
    world = certified_in_2025()
    world.stop("alder/fairfield", "2025-06-01", "withdrawn")
    world.certify("alder", certificate="new", valid_from="2025-06-10")

    assert not counts(world, "2025-06-09")
    assert counts(world, "2025-06-10")


def test_the_certificate_that_counted_is_the_first_one_recorded_that_did() -> None:
    world = certified_in_2025()
    renewed = world.certify("alder", certificate="new", valid_from="2025-06-10")
    world.stop("alder/fairfield", "2025-09-01", "withdrawn")

    def entry(on: str) -> int | None:
        day = date.fromisoformat(on)
        found = certificate_on(world.shelf, ALDER, SCHEME, day)
        return None if found is None else found.seq

    assert entry("2025-07-01") == renewed - 1
    assert entry("2025-10-01") == renewed
    assert entry("2022-01-01") is None


def test_it_counts_for_its_scheme_its_holder_and_its_scope_only() -> None:
    world = certified_in_2025(
        organic=False, commodities=["cocoa"], custody=["mass balance"]
    )
    on = date(2025, 6, 1)
    birch = Subject(SubjectKind.PARTY, "birch")

    def covers(
        holder: Subject = ALDER,
        scheme: str = SCHEME,
        commodity: Commodity | None = Commodity.COCOA,
        custody: Custody | None = Custody.MASS_BALANCE,
        *,
        organic: bool = False,
    ) -> bool:
        return is_certified(
            world.shelf,
            holder,
            scheme,
            on,
            commodity=commodity,
            custody=custody,
            organic=organic,
        )

    assert covers()
    assert covers(commodity=None, custody=None)
    assert not covers(holder=birch)
    assert not covers(scheme=OTHER_SCHEME)
    assert not covers(commodity=Commodity.SUGAR)
    assert not covers(custody=Custody.SEGREGATED)
    assert not covers(organic=True)


EVENTS = st.lists(
    st.tuples(st.integers(1, 9), st.sampled_from(["suspended", "reinstated"])),
    max_size=6,
)


@given(EVENTS, st.integers(1, 9))
def test_the_last_event_that_took_effect_decides(
    events: list[tuple[int, str]], on: int
) -> None:
    world = certified_in_2025()
    for day, how in events:
        from_on = f"2025-06-0{day}"
        world.stop("alder/fairfield", "2025-07-01", how, from_on=from_on)

    past = [(day, place) for place, (day, _) in enumerate(events) if day <= on]
    stopped = bool(past) and events[max(past)[1]][1] == "suspended"

    assert counts(world, f"2025-06-0{on}") is not stopped
