"""ledger.desk.batch_sheet and batch_sums: an empty sheet, and one half filled in."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.chain.canonical import JsonValue
from ledger.desk.batch_sheet import USUAL_FORMS, sheet_for
from ledger.desk.batch_sums import Sums, sums_of
from ledger.trade.batch import BatchMade
from ledger.trade.grams import show_kg
from ledger.trade.record import parse
from ledger.trade.words import Step
from tests.world import World, certified

DAY = date(2025, 3, 1)
GRAMS = st.lists(st.integers(min_value=1, max_value=10**8), max_size=4)


def with_limits() -> World:
    world = certified()
    for version, first, highest in (
        ("a", "2025-01-01", "72"),
        ("b", "2025-02-01", "60"),
    ):
        world.record(
            "limits.published",
            first,
            version=version,
            valid_from=first,
            limits=[
                {
                    "step": "conche",
                    "measure": "hours",
                    "highest": highest,
                    "source": "s",
                },
                {
                    "step": "temper",
                    "measure": "exit temperature c",
                    "lowest": "30",
                    "source": "s",
                },
                {
                    "step": "temper",
                    "measure": "entry temperature c",
                    "lowest": "48",
                    "source": "s",
                },
            ],
        )
    return world


def test_every_step_has_its_usual_forms() -> None:
    assert USUAL_FORMS.keys() == set(Step)


def test_a_sheet_shows_the_limits_of_its_day_and_step() -> None:
    shelf = with_limits().shelf

    before = sheet_for(shelf, Step.CONCHE, date(2025, 1, 31)).limits
    after = sheet_for(shelf, Step.CONCHE, DAY).limits

    assert [one.highest for one in (*before, *after)] == [Decimal(72), Decimal(60)]
    assert sheet_for(shelf, Step.CONCHE, date(2024, 12, 31)).limits == ()
    assert sheet_for(shelf, Step.TEMPER, DAY).points == ("exit", "entry")


def test_the_name_of_a_sheet_is_taken_by_no_batch_and_no_lot() -> None:
    world = certified()
    names = []
    world.receive({"A": "10"}, "2025-02-10")
    taken = "A"
    for _ in range(3):
        name = sheet_for(world.shelf, Step.CLEAN, DAY).name
        names.append(name)
        world.record(
            "batch.made",
            str(DAY),
            batch=f"by-hand-{name}",
            step="clean",
            inputs=[{"lot": taken, "mass_kg": "10"}],
            outputs=[{"lot": name, "form": "bean", "mass_kg": "10"}],
        )
        taken = name

    assert names == ["clean-250301", "clean-250301-2", "clean-250301-3"]


@given(GRAMS, GRAMS, GRAMS)
def test_the_excess_is_what_the_model_asks_to_be_declared(
    taken: list[int], given_: list[int], lost: list[int]
) -> None:
    body: dict[str, JsonValue] = {
        "inputs": [{"mass_kg": show_kg(one)} for one in taken],
        "outputs": [{"mass": f"{show_kg(one)} kg"} for one in given_],
        "losses": [{"mass_kg": show_kg(one)} for one in lost],
    }

    sums = sums_of(body)

    assert sums == Sums(sum(taken), sum(given_), sum(lost))
    assert sums.excess_g == sum(taken) - sum(given_) - sum(lost)
    assert (sums.ratio is None) == (not taken)


def test_a_batch_is_let_in_exactly_where_nothing_is_left_over() -> None:
    for out in ("96.4", "96.5", "96.6"):
        body: dict[str, JsonValue] = {
            "batch": "b",
            "step": "roast",
            "inputs": [{"lot": "a", "mass_kg": "100"}],
            "outputs": [{"lot": "c", "form": "roasted bean", "mass_kg": out}],
            "losses": [{"reason": "moisture", "mass_kg": "3.5"}],
        }
        if sums_of(body).excess_g:
            with pytest.raises(ValueError, match="inputs must equal"):
                parse(BatchMade, body)
        else:
            parse(BatchMade, body)


def test_what_cannot_be_read_yet_is_left_out() -> None:
    body: dict[str, JsonValue] = {
        "inputs": [{"mass": "2 lb"}, {"mass": "two"}, {"lot": "a"}, "x"],
        "outputs": "nothing",
    }

    assert sums_of(body) == Sums(907, 0, 0)
