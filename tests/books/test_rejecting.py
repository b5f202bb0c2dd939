"""A received lot is rejected after it was taken: it stops counting, and is held."""

from datetime import date

import pytest

from ledger.books.dues import dues_of
from ledger.books.making import held_by
from tests.world import World, certified, claim, refused

RECEIVED = "2025-01-10"
USED = "2025-01-20"
REJECTED = "2025-03-01"


def bought() -> World:
    """A lot of 100 kg certified beans, of which 40 kg went into liquor."""
    world = certified(claim("segregated"))
    world.receive({"L": "100"}, RECEIVED)
    world.make({"L": "40"}, {"Q": "40"}, USED)
    return world


def reject(
    world: World, lot: str = "L", on: str = REJECTED, *, from_on: str | None = None
) -> int:
    return world.record(
        "lot.rejected",
        on,
        lot=lot,
        from_on=from_on or on,
        hold="H",
        reason="mineral oil found",
    )


def test_it_is_credited_until_the_day_it_is_rejected_from_and_not_after() -> None:
    world = bought()

    reject(world)

    assert world.account("2025-02-28") == 100_000
    assert world.account(REJECTED) == 0


def test_rejected_from_the_day_it_came_it_was_never_credited() -> None:
    world = bought()

    reject(world, from_on=RECEIVED)

    assert world.account(RECEIVED) == 0


def test_the_goods_stay_in_the_stock_and_what_is_left_of_them_is_on_hold() -> None:
    world = bought()

    reject(world)

    assert world.stock("L") == 60_000
    assert held_by(world.shelf, "L", date(2025, 3, 1)) == "H"
    with refused("lot-on-hold"):
        world.make({"L": "1"}, {"Q2": "1"}, "2025-03-02")


def test_the_hold_is_released_like_any_other() -> None:
    world = bought()
    reject(world)

    world.record("hold.released", "2025-03-05", hold="H", reason="sent back")
    world.make({"L": "1"}, {"Q2": "1"}, "2025-03-06")

    assert world.stock("L") == 59_000


def test_a_sale_before_it_opens_a_breach() -> None:
    world = bought()
    world.sell("V", {"Q": "30"}, "2025-02-01", claim())

    reject(world)

    assert world.account() == -37_500
    assert world.rules == ["breach-opened"]


def test_a_physical_claim_on_what_holds_it_is_refused_from_then_on() -> None:
    world = bought()
    world.receive({"M": "500"}, RECEIVED)
    world.sell("V", {"Q": "5"}, "2025-02-28", claim("segregated"))

    reject(world)

    with refused("goods-do-not-support-claim"):
        world.sell("W", {"Q": "5"}, REJECTED, claim("segregated"))


def test_writing_it_off_does_not_draw_what_the_rejection_took_already() -> None:
    world = bought()
    world.write_off("L", "10", "2025-02-01")
    reject(world)

    world.write_off("Q", "40", "2025-04-01")

    assert world.account() == 0


def test_the_price_is_left_to_the_contract() -> None:
    world = bought()
    before = dues_of(world.shelf, "C", date(2025, 6, 1)).lines

    reject(world)

    assert dues_of(world.shelf, "C", date(2025, 6, 1)).lines == before


def test_a_rejection_made_void_leaves_everything_as_it_was() -> None:
    world = bought()
    seq = reject(world)

    world.void(seq)

    assert world.account() == 100_000
    assert held_by(world.shelf, "L", date(2025, 6, 1)) is None


def test_in_a_closed_period_the_difference_lands_in_the_open_one() -> None:
    world = bought()
    world.close("2025-01-01", "2025-01-31", "2025-02-02")

    reject(world, from_on=RECEIVED)

    assert world.account("2025-02-28") == 100_000
    assert world.account(REJECTED) == 0


def test_the_books_are_the_same_when_they_are_added_up_again() -> None:
    world = bought()
    world.sell("V", {"Q": "30"}, "2025-02-01", claim())
    reject(world)
    world.receive({"M": "500"}, "2025-03-10")

    again = world.replayed()

    assert [again.effects(slot) for slot in range(len(world.raws))] == [
        world.shelf.effects(slot) for slot in range(len(world.raws))
    ]


@pytest.mark.parametrize(
    ("rule", "lot", "on", "from_on"),
    [
        ("rejected-not-received", "Q", REJECTED, REJECTED),
        ("rejected-before-receipt", "L", REJECTED, "2025-01-09"),
        ("rejected-before-receipt", "L", "2025-01-09", RECEIVED),
        ("rejected-in-future", "L", REJECTED, "2025-03-02"),
        ("unknown-lot", "ghost", REJECTED, REJECTED),
    ],
)
def test_a_rejection_that_cannot_be_is_refused(
    rule: str, lot: str, on: str, from_on: str
) -> None:
    world = bought()

    with refused(rule):
        reject(world, lot, on, from_on=from_on)


def test_a_lot_rejected_already_is_not_rejected_again() -> None:
    world = bought()
    reject(world)

    with refused("rejected-twice"):
        world.record(
            "lot.rejected", REJECTED, lot="L", from_on=REJECTED, hold="H2", reason="-"
        )


def test_a_lot_rejected_at_receipt_has_nothing_left_to_reject() -> None:
    world = certified()
    world.receive(
        [
            {
                "lot": "L",
                "net_shipped_kg": "10",
                "net_landed_kg": "10",
                "decision": "rejected",
                "rejected_because": "mould",
            }
        ]
    )

    with refused("rejected-at-receipt"):
        reject(world)
