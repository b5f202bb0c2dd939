"""ledger.books.loss_norm: what a step may lose under the terms of the day."""

import pytest

from tests.world import World, certified

NORMS = [
    {"step": "roast", "most_percent": "6", "source": "clause 4"},
    {"step": "winnow", "most_percent": "25", "source": "clause 5"},
]


def world_with() -> World:
    world = certified(loss_norms=NORMS)
    world.receive({"L": "1000"})
    return world


@pytest.mark.parametrize(
    ("step", "given", "lost", "rules"),
    [
        ("roast", "94", "6", []),
        ("roast", "93.999", "6.001", ["loss-above-norm"]),
        ("winnow", "75", "25", []),
        ("winnow", "74.999", "25.001", ["loss-above-norm"]),
        ("grind", "50", "50", []),
    ],
)
def test_a_batch_that_loses_more_is_flagged(
    step: str, given: str, lost: str, rules: list[str]
) -> None:
    """1 to 6 per cent in roasting, 17 to 25 in winnowing.

    Source: yields of a published guide for small makers (chocolatealchemy.com).
    """
    world = world_with()
    world.make({"L": "100"}, {"R": given}, step=step, losses={"moisture": lost})

    assert world.rules == rules


def test_all_losses_of_a_batch_count_together() -> None:
    world = world_with()
    losses = {"moisture": "4", "dust": "1.5", "waste": "0.501"}
    world.make({"L": "100"}, {"R": "93.999"}, step="roast", losses=losses)

    [found] = world.warnings
    assert "6.001 per cent" in found.message
    assert "at most 6.00 per cent at roast (clause 4)" in found.message


def test_the_terms_of_the_day_say_how_much() -> None:
    world = certified()
    world.receive({"L": "1000"})
    world.terms(valid_from="2025-01-15", loss_norms=NORMS)
    for on, rules in (("2025-01-14", []), ("2025-01-15", ["loss-above-norm"])):
        world.make({"L": "10"}, {on: "9"}, on, step="roast", losses={"moisture": "1"})

        assert world.rules == rules
