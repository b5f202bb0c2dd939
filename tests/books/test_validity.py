"""ledger.books.validity: certificates on a day, and which need something done."""

from datetime import date

import pytest

from ledger.books.validity import SOON_DAYS, State, Validity, validities
from tests.world import MAKER, World, opened


def on(world: World, day: str) -> list[Validity]:
    return list(validities(world.shelf, date.fromisoformat(day)))


@pytest.fixture
def world() -> World:
    """Alder is certified for the year 2025."""
    world = opened()
    world.certify("alder", valid_from="2025-01-01", valid_until="2025-12-31")
    return world


@pytest.mark.parametrize(
    ("day", "state", "days_left"),
    [
        ("2024-12-31", State.NOT_YET, 0),
        ("2025-01-01", State.COUNTS, 364),
        ("2025-10-01", State.COUNTS, SOON_DAYS + 1),
        ("2025-10-02", State.ENDS_SOON, SOON_DAYS),
        ("2025-12-31", State.ENDS_SOON, 0),
        ("2026-01-01", State.LAPSED, 0),
    ],
)
def test_it_counts_from_its_first_day_to_its_last(
    world: World, day: str, state: State, days_left: int
) -> None:
    [found] = on(world, day)

    assert (found.state, found.days_left) == (state, days_left)
    assert found.counts is (state in {State.COUNTS, State.ENDS_SOON})
    assert found.needs_attention is (state in {State.ENDS_SOON, State.LAPSED})


@pytest.mark.parametrize(
    ("how", "state"),
    [("suspended", State.SUSPENDED), ("withdrawn", State.WITHDRAWN)],
)
def test_it_is_told_from_which_day_it_was_stopped(
    world: World, how: str, state: State
) -> None:
    world.stop("alder/fairfield", "2025-08-01", how, from_on="2025-06-01")

    assert [one.state for one in on(world, "2025-05-31")] == [State.COUNTS]
    [found] = on(world, "2025-06-01")
    assert (found.state, found.stopped_from) == (state, date(2025, 6, 1))
    assert (found.counts, found.days_left, found.needs_attention) == (False, 0, True)


@pytest.mark.parametrize(("day", "known"), [("2023-12-31", 0), ("2024-01-01", 1)])
def test_it_is_known_from_the_day_on_which_it_was_recorded(
    world: World, day: str, known: int
) -> None:
    assert len(on(world, day)) == known


def test_a_reinstated_one_counts_again(world: World) -> None:
    world.stop("alder/fairfield", "2025-06-01")
    world.stop("alder/fairfield", "2025-07-01", "reinstated")

    [found] = on(world, "2025-07-01")
    assert (found.state, found.stopped_from) == (State.COUNTS, None)


def test_one_that_goes_on_under_another_number_needs_nothing(world: World) -> None:
    world.certify(
        "alder",
        certificate="alder-2",
        valid_from="2026-01-01",
        valid_until="2026-12-31",
    )

    ending, following = on(world, "2025-12-15")
    assert (ending.state, ending.is_renewed) == (State.ENDS_SOON, True)
    assert not ending.needs_attention
    assert (following.state, following.is_renewed) == (State.NOT_YET, False)
    assert not following.needs_attention


@pytest.mark.parametrize(
    "other", [{"scheme": "longmeadow"}, {"holder": "birch"}], ids=["scheme", "holder"]
)
def test_another_holders_or_schemes_certificate_renews_nothing(
    world: World, other: dict[str, str]
) -> None:
    about = {"holder": "alder", "certificate": "else", **other}
    world.certify(**about, valid_from="2026-01-01", valid_until="2026-12-31")

    assert not on(world, "2025-12-15")[0].is_renewed


def test_a_stopped_one_renews_nothing(world: World) -> None:
    world.certify("alder", certificate="alder-2", valid_until="2026-12-31")
    world.stop("alder-2", "2025-06-01", "withdrawn")

    assert on(world, "2025-12-15")[0].needs_attention


def test_the_makers_own_is_told_apart_and_the_first_to_end_comes_first(
    world: World,
) -> None:
    world.certify(MAKER, valid_until="2025-06-30")

    assert [
        (one.certificate.holder, one.is_own) for one in on(world, "2025-02-01")
    ] == [
        (MAKER, True),
        ("alder", False),
    ]


def test_one_that_is_recorded_later_is_left_out(world: World) -> None:
    world.certify("birch")

    assert [one.certificate.holder for one in on(world, "2023-12-31")] == []
