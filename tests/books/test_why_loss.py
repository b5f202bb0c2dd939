"""ledger.books.why_loss: the factor of several lots that were written off as one."""

from ledger.books.effect import Cause
from tests.books.told import told
from tests.world import certified


def test_a_factor_that_several_lots_share_is_told_once() -> None:
    """A kilogram of liquor of two lots is 1.25 kg of beans, half of each."""
    world = certified()
    world.receive({"L": "10", "M": "10"})
    world.make({"L": "2", "M": "2"}, {"Q": "4"})
    world.write_off("Q", "1", "2025-02-01")

    lines = told(world, Cause.WRITTEN_OFF)

    assert lines["factor of cocoa as liquor, valid from 2023-01-01"].figure == "1.25"
    bought = "cocoa as liquor of it, bought as fairfield, mass balance"
    assert [lines[f"[{lot} as liquor] {bought}"].figure for lot in "LM"] == [
        "0.625 kg",
        "0.625 kg",
    ]
