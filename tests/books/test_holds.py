"""ledger.books.holds: what is held, what is left of it, and when it was let go."""

from datetime import date

from ledger.books.holds import all_holds, open_holds, reason_of_release
from tests.world import World, certified


def held() -> World:
    world = certified()
    world.receive({"L1": "100", "L2": "50"}, "2025-02-10")
    world.record("hold.placed", "2025-02-12", hold="H1", lots=["L1", "L2"], reason="a")
    world.record("hold.released", "2025-02-20", hold="H1", reason="screened")
    world.record(
        "lot.rejected",
        "2025-03-01",
        lot="L2",
        from_on="2025-02-28",
        hold="H2",
        reason="smoke",
    )
    return world


def test_a_hold_holds_from_its_day_to_the_day_before_its_release() -> None:
    world = held()

    names = {
        day: [one.hold for one in open_holds(world.shelf, date.fromisoformat(day))]
        for day in (
            "2025-02-11",
            "2025-02-12",
            "2025-02-19",
            "2025-02-20",
            "2025-03-01",
        )
    }

    assert list(names.values()) == [[], ["H1"], ["H1"], [], ["H2"]]


def test_a_hold_tells_what_is_left_under_it_and_why_it_was_let_go() -> None:
    world = held()
    world.write_off("L1", "10", "2025-02-25")

    rejected, placed = all_holds(world.shelf, date(2025, 3, 5))

    assert placed.lots == (("L1", 90_000), ("L2", 50_000))
    assert reason_of_release(placed) == "screened"
    assert (rejected.lots, rejected.reason) == ((("L2", 50_000),), "smoke")
    assert reason_of_release(rejected) == ""
