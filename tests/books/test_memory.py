"""ledger.books.memory: a shelf of dictionaries that gives back what was put on it."""

from datetime import date

import pytest

from ledger.books.effect import Book, Effects, Subject, SubjectKind, Tally
from ledger.books.memory import MemoryShelf
from ledger.books.running import as_recorded
from tests.agreement import everything
from tests.world import World, certified, claim

LOT = Subject(SubjectKind.LOT, "L")


@pytest.fixture
def world() -> World:
    world = certified()
    world.receive({"L": "100", "K": "50"}, "2025-01-10")
    world.make({"L": "40", "K": "10"}, {"M": "45"}, "2025-01-20", losses={"shell": "5"})
    world.sell("X", {"M": "20"}, "2025-02-01", claim())
    return world


def test_a_total_is_asked_for_between_two_dates_both_included(world: World) -> None:
    stock = Tally.stock("L")
    received, used = date(2025, 1, 10), date(2025, 1, 20)

    assert world.shelf.run(stock).closing_g == 60_000
    assert world.shelf.run(stock, until=received).closing_g == 100_000
    assert world.shelf.run(stock, since=used).opening_g == 100_000
    assert [
        m.grams for m in world.shelf.run(stock, since=used, until=used).movements
    ] == [-40_000]
    assert world.shelf.run(stock, since=date(2025, 1, 21)).opening_g == 60_000


def test_a_total_that_never_moved_is_empty(world: World) -> None:
    run = world.shelf.run(Tally.stock("none"))

    assert (run.opening_g, run.movements) == (0, ())


def test_what_is_taken_off_leaves_nothing_behind(world: World) -> None:
    slot = world.sell("Y", {"L": "1"}, "2025-02-02", claim())
    shelf = world.shelf
    before = shelf.copy()

    recorded, effects = before.take(slot)

    assert before.at(slot) is None
    assert before.effects(slot) == Effects()
    assert before.introducer(Subject(SubjectKind.SALE, "Y")) is None
    assert slot not in [found.slot for found in before.about(LOT)]
    assert before.of_kind("sale.dispatched") == shelf.of_kind("sale.dispatched")[:1]
    before.put(recorded, effects)
    assert everything(before, slot + 1) == everything(shelf, slot + 1)
    assert before.run(Tally.stock("L")) == shelf.run(Tally.stock("L"))


def test_a_copy_is_a_shelf_of_its_own(world: World) -> None:
    copied = world.shelf.copy()
    slot = len(world.raws) - 1

    copied.take(slot)

    assert world.shelf.at(slot) is not None
    assert copied.at(slot) is None


def test_totals_of_a_book_are_those_that_still_move(world: World) -> None:
    copied = world.shelf.copy()
    for slot in range(len(world.raws)):
        if copied.effects(slot).postings:
            copied.take(slot)

    assert [tally.key for tally in world.shelf.tallies(Book.STOCK)] == ["K", "L", "M"]
    assert not copied.tallies(Book.STOCK)
    assert not copied.tallies(Book.ACCOUNT)


def test_edges_are_found_from_both_ends_in_the_order_recorded(world: World) -> None:
    world.make({"L": "10"}, {"N": "10"}, "2025-01-05".replace("01-05", "01-30"))

    into = [(edge.source, edge.grams) for edge in world.shelf.edges_into(["M"])]
    out = [edge.target for edge in world.shelf.edges_out_of(["L", "L"])]

    assert into == [("L", 40_000), ("K", 10_000)]
    assert out == ["M", "N"]
    assert not world.shelf.edges_into(["L"])


def test_what_is_about_a_subject_comes_in_slot_order(world: World) -> None:
    about = [found.kind for found in world.shelf.about(LOT)]

    assert about == ["shipment.received", "batch.made"]
    assert [f.kind for f in world.shelf.about(LOT, "batch.made")] == ["batch.made"]
    assert not world.shelf.about(Subject(SubjectKind.LOT, "none"))


def test_subjects_are_sorted_by_name(world: World) -> None:
    lots = [subject.name for subject in world.shelf.subjects(SubjectKind.LOT)]

    assert lots == ["K", "L", "M"]
    assert str(LOT) == "lot L"


def test_an_empty_shelf_answers_everything_with_nothing() -> None:
    shelf = MemoryShelf()

    assert shelf.introducer(LOT) is None
    assert not shelf.of_kind("batch.made")
    assert shelf.at(0) is None
    assert not as_recorded(date(2025, 1, 1))
