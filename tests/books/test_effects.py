"""ledger.books.effects: every kind has its effects, and a name is brought in once."""

import pytest

from ledger.books import effects
from ledger.books.effects import effects_of
from ledger.books.finding import EntryRefusedError
from ledger.trade.kinds import KINDS
from tests.world import World, certified, claim, lot, refused


@pytest.fixture
def world() -> World:
    world = certified()
    world.receive({"L": "100"})
    world.sell("X", {"L": "1"}, "2025-02-01", claim())
    return world


def test_every_kind_but_the_correction_has_its_effects() -> None:
    """A correction has none of its own; any other kind without would be a KeyError."""
    assert set(effects._EFFECTS) == set(KINDS) - {"correction"}
    assert set(effects._WARNINGS) < set(KINDS)


def test_a_name_is_taken_once(world: World) -> None:
    with pytest.raises(
        EntryRefusedError, match=r"lot L is already recorded by entry \d+ of 2025-01-10"
    ):
        world.receive({"L": "1"})
    with refused("name-taken"):
        world.sell("X", {"L": "1"})
    with refused("name-taken"):
        world.record("party.registered", party="alder", roles=["payee"], country="PE")


def test_a_name_stands_once_in_an_entry(world: World) -> None:
    with refused("name-given-twice"):
        world.receive([lot("K", "1"), lot("K", "2")])


def test_names_of_different_things_do_not_get_in_each_others_way(world: World) -> None:
    world.make({"L": "1"}, {"X": "1"}, batch="X")

    assert world.stock("X") == 1000


def test_what_moves_goods_is_told_by_what_counts(world: World) -> None:
    """Working an entry out again gives what it did, since nothing has changed."""
    world.make({"L": "10"}, {"M": "10"})
    world.write_off("M", "1", "2025-02-02")
    world.take_back("R", "X", {"L": "1"}, "2025-02-03")
    moving = [s for s in range(len(world.raws)) if world.shelf.effects(s).postings]

    for slot in moving:
        others = world.shelf.copy()
        recorded, before = others.take(slot)
        assert effects_of(others, recorded) == before

    assert len(moving) == 5
