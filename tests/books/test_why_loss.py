"""ledger.books.why_loss: the factor of several lots that were written off as one."""

from ledger.books.effect import Cause
from tests.books.told import told
from tests.world import blended, certified, claim


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


def test_of_a_blend_only_the_known_part_is_lost_with_it() -> None:
    """Of a blend bought as 0.4 certified, a kilogram written off takes 0.4 with it."""
    for claimed, known in ((claim(), ""), (blended("0.4"), " * 0.40")):
        world = certified(claimed, custody=["controlled blending", "mass balance"])
        world.receive({"L": "10"})
        world.write_off("L", "1", "2025-02-01")

        lines = told(world, Cause.WRITTEN_OFF)
        [part] = [
            line for text, line in lines.items() if text.startswith("[L as bean]")
        ]
        assert part.reckoning == f"1.00 * [L] / [cocoa] * 1.00{known}"
