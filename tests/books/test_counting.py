"""Counts against the book, with the tolerance that the maker's limits state."""

from datetime import date

import pytest

from ledger.books.counting import counts_between
from ledger.trade.words import Form
from tests.world import World, certified

ALL_YEAR = {"since": date(2025, 1, 1), "until": date(2025, 12, 31)}


def counted(found_kg: str, *tolerances: dict[str, object]) -> World:
    """100 kg of beans by the book, counted in March."""
    world = certified()
    if tolerances:
        world.record(
            "limits.published",
            "2025-01-01",
            version="2025",
            valid_from="2025-01-01",
            limits=[],
            count_tolerances=list(tolerances),
        )
    world.receive({"L": "100"})
    world.record(
        "lot.counted", "2025-03-01", lot="L", found_kg=found_kg, counted_by="op"
    )
    return world


def tolerance(percent: str, *forms: str) -> dict[str, object]:
    return {"percent": percent, "forms": list(forms), "source": "own rule"}


def test_without_a_tolerance_a_gram_is_a_difference() -> None:
    world = counted("99.999")

    assert world.rules == ["count-differs"]
    [one] = counts_between(world.shelf, **ALL_YEAR)
    assert (one.lot, one.form, one.difference_g, one.is_within) == (
        "L",
        Form.BEAN,
        -1,
        False,
    )


@pytest.mark.parametrize(
    ("found_kg", "is_within"),
    [
        ("99.499", False),
        ("99.500", True),
        ("100.000", True),
        ("100.500", True),
        ("100.501", False),
    ],
)
def test_a_tolerance_holds_either_way_and_at_its_bounds(
    found_kg: str, *, is_within: bool
) -> None:
    world = counted(found_kg, tolerance("0.5"))

    [one] = counts_between(world.shelf, **ALL_YEAR)
    assert one.is_within is is_within
    assert world.rules == ([] if is_within else ["count-differs"])


def test_a_row_for_the_form_goes_before_the_row_for_all_others() -> None:
    world = counted("98", tolerance("5"), tolerance("1", "bean", "nib"))

    assert world.rules == ["count-differs"]
    assert "1 per cent either way is allowed (own rule)" in world.warnings[0].message


def test_a_row_for_other_forms_only_allows_nothing() -> None:
    assert counted("99.9", tolerance("5", "bar")).rules == ["count-differs"]


def test_the_limits_of_the_day_decide() -> None:
    world = counted("99.9", tolerance("5"))
    world.record(
        "limits.published",
        "2025-02-01",
        version="strict",
        valid_from="2025-02-01",
        limits=[],
    )

    [one] = counts_between(world.shelf, **ALL_YEAR)

    assert one.tolerance is None


def test_counts_of_other_days_are_left_out() -> None:
    world = counted("100")
    march = date(2025, 3, 1)

    assert len(counts_between(world.shelf, since=march, until=march)) == 1
    assert counts_between(world.shelf, since=date(2025, 3, 2), until=march) == ()
