"""ledger.books.retention: how long records are kept."""

from datetime import UTC, date, datetime

import pytest

from ledger.books.effect import Recorded
from ledger.books.retention import retention_of, years_later
from tests.world import OTHER_SCHEME, World, certified, opened


def last(world: World) -> Recorded:
    found = world.shelf.at(len(world.raws) - 1)
    assert found is not None
    return found


def test_records_are_kept_for_years_beyond_their_making() -> None:
    """Records of organic goods: five years beyond their creation.

    Source: 7 CFR 205.103(b)(3).
    """
    world = certified(retention_years="5")
    world.recorded_at = datetime(2025, 3, 10, 9, tzinfo=UTC)
    world.receive({"L": "100"}, "2025-01-10")

    kept = retention_of(world.shelf, last(world))
    assert kept is not None
    assert (kept.years, kept.until) == (5, date(2030, 3, 10))
    assert kept.scheme == "fairfield"


def test_the_scheme_that_asks_for_most_counts() -> None:
    world = certified(retention_years="4")
    world.terms(OTHER_SCHEME, retention_years="7")
    world.recorded_at = datetime(2025, 3, 10, 9, tzinfo=UTC)
    world.receive({"L": "100"}, "2025-01-10")

    kept = retention_of(world.shelf, last(world))
    assert kept is not None
    assert (kept.years, kept.scheme) == (7, OTHER_SCHEME)


def test_terms_count_on_the_day_a_record_was_made() -> None:
    world = certified(retention_years="4")
    world.terms(valid_from="2025-03-11", retention_years="9")
    for day, years in ((10, 4), (11, 9)):
        world.recorded_at = datetime(2025, 3, day, 9, tzinfo=UTC)
        world.receive({f"L{day}": "100"}, "2025-01-10")
        kept = retention_of(world.shelf, last(world))
        assert kept is not None

        assert kept.years == years


def test_without_terms_no_scheme_asks() -> None:
    world = opened()

    assert retention_of(world.shelf, last(world)) is None


@pytest.mark.parametrize(
    ("day", "years", "later"),
    [
        (date(2024, 2, 29), 4, date(2028, 2, 29)),
        (date(2024, 2, 29), 5, date(2029, 3, 1)),
        (date(2024, 2, 28), 5, date(2029, 2, 28)),
    ],
)
def test_a_leap_day_is_kept_to_the_day_after_where_there_is_none(
    day: date, years: int, later: date
) -> None:
    assert years_later(day, years) == later
