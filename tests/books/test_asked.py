"""ledger.books.asked: a word a person types finds the thing it names."""

import pytest

from ledger.books.asked import find_asked, goods_of
from ledger.books.effect import Subject, SubjectKind
from ledger.chain.canonical import JsonValue
from ledger.errors import NotFoundError
from tests.books.making_world import MakingWorld, lot


@pytest.fixture
def world() -> MakingWorld:
    world = MakingWorld()
    world.receive({"A": 1_000, "B": 500})
    world.make({"A": 900}, {"T": 600, "U": 200})
    world.sell("S", {"T": 100})
    return world


@pytest.mark.parametrize(
    ("word", "kind", "name"),
    [
        ("A", SubjectKind.LOT, "A"),
        ("T", SubjectKind.LOT, "T"),
        ("B-1", SubjectKind.BATCH, "B-1"),
        ("S", SubjectKind.SALE, "S"),
        ("SH-9", SubjectKind.SHIPMENT, "SH-9"),
        ("BL SH-9", SubjectKind.SHIPMENT, "SH-9"),
        ("sale:S", SubjectKind.SALE, "S"),
        ("shipment:SH-9", SubjectKind.SHIPMENT, "SH-9"),
    ],
)
def test_a_word_finds_what_it_names(
    world: MakingWorld, word: str, kind: SubjectKind, name: str
) -> None:
    assert find_asked(world.shelf, word) == Subject(kind, name)


def test_the_sort_of_thing_before_a_colon_tells_names_apart(world: MakingWorld) -> None:
    world.make({"T": 100}, {"B-1": 100}, on=3)

    assert find_asked(world.shelf, "B-1") == lot("B-1")
    assert find_asked(world.shelf, "batch:B-1") == Subject(SubjectKind.BATCH, "B-1")


@pytest.mark.parametrize("word", ["", "X", "sale:A", "party:north", "BL", "bl SH-9"])
def test_a_word_that_names_nothing_is_refused_with_the_way_out(
    world: MakingWorld, word: str
) -> None:
    with pytest.raises(
        NotFoundError, match=f"^{word} is no lot, batch.*check the spel"
    ):
        find_asked(world.shelf, word)


def test_the_goods_of_each_sort_of_thing(world: MakingWorld) -> None:
    def goods(kind: SubjectKind, name: str) -> dict[str, int]:
        return goods_of(world.shelf, Subject(kind, name))

    assert goods(SubjectKind.LOT, "U") == {"U": 200}
    assert goods(SubjectKind.LOT, "A") == {"A": 1_000}
    assert goods(SubjectKind.BATCH, "B-1") == {"T": 600, "U": 200}
    assert goods(SubjectKind.SHIPMENT, "SH-9") == {"A": 1_000, "B": 500}
    assert goods(SubjectKind.SALE, "S") == {"T": 100}


def test_lines_of_one_lot_in_a_sale_are_added_up(world: MakingWorld) -> None:
    line: JsonValue = {"lot": "B", "mass_kg": "0.100"}
    sale: dict[str, JsonValue] = {
        "sale": "S2",
        "document": "9",
        "customer": "ann",
        "lines": [line, line],
    }
    world.record("sale.dispatched", sale, 3)

    assert goods_of(world.shelf, Subject(SubjectKind.SALE, "S2")) == {"B": 200}


def test_a_shipment_under_way_is_found_but_has_nothing_to_trace(
    world: MakingWorld,
) -> None:
    world.dispatch("SH-far", 800)

    for word in ("SH-far", "BL SH-far"):
        asked = find_asked(world.shelf, word)

        assert asked == Subject(SubjectKind.SHIPMENT, "SH-far")
        with pytest.raises(NotFoundError, match="has not arrived"):
            goods_of(world.shelf, asked)
