"""ledger.books.front: a shelf in front of another answers as that one does."""

from datetime import date

from hypothesis import given
from hypothesis import strategies as st

from ledger.books.effect import Book
from ledger.books.front import FrontShelf
from tests.world import World, certified, claim

SINCE, UNTIL = date(2025, 1, 1), date(2025, 3, 31)
DAYS = st.none() | st.dates(SINCE, UNTIL)


def sold_twice() -> World:
    world = certified()
    world.receive({"L": "100"}, "2025-01-10")
    world.make({"L": "60"}, {"M": "48"}, losses={"shell": "12"})
    for sale, on in (("X", "2025-02-01"), ("Y", "2025-03-01")):
        world.sell(sale, {"M": "8"}, on, claim())
    return world


WORLD = sold_twice()


@given(since=DAYS, until=DAYS)
def test_running_totals_are_of_the_stretch_asked_for(
    since: date | None, until: date | None
) -> None:
    front = FrontShelf(WORLD.shelf)

    for book in Book:
        for tally in WORLD.shelf.tallies(book):
            asked = WORLD.shelf.run(tally, since, until)
            days = WORLD.shelf.days_moved(tally, since, until)
            assert front.run(tally, since, until) == asked
            assert front.days_moved(tally, since, until) == days


def test_records_and_totals_are_those_of_the_shelf_behind() -> None:
    front, behind = FrontShelf(WORLD.shelf), WORLD.shelf

    for slot in range(len(WORLD.raws)):
        assert front.at(slot) == behind.at(slot)
        assert front.effects(slot) == behind.effects(slot)
        for subject in behind.effects(slot).introduces:
            assert front.introducer(subject) == behind.introducer(subject)
            assert front.about(subject) == behind.about(subject)
            assert subject in front.subjects(subject.kind)
    for book in Book:
        assert front.tallies(book) == behind.tallies(book)
        assert [*front.standing(book, UNTIL)] == [*behind.standing(book, UNTIL)]
    assert front.of_kind("sale.dispatched") == behind.of_kind("sale.dispatched")
    assert front.edges_into(["M"]) == behind.edges_into(["M"])
    assert front.edges_out_of(["L"]) == behind.edges_out_of(["L"])
