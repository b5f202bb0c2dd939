"""ledger.books.fulfilment: what of a contract is fixed, shipped, received, and late."""

from datetime import date

import pytest

from ledger.books.effect import Subject, SubjectKind
from ledger.books.fulfilment import Fulfilment, fulfilment_of, fulfilments, on_the_way
from tests.books.buying_world import (
    CONTRACT,
    BuyingWorld,
    certified,
    fixed,
    lot,
    to_be_fixed,
)


def found(world: BuyingWorld, as_of: str = "2025-12-31") -> Fulfilment:
    signed = world.shelf.introducer(Subject(SubjectKind.CONTRACT, CONTRACT))
    assert signed is not None
    return fulfilment_of(world.shelf, signed, date.fromisoformat(as_of))


def test_a_contract_is_open_until_it_is_shipped_and_received() -> None:
    world = certified()
    world.contract(fixed("2500.00"), quantity_kg="1000", ship_until="2025-03-31")
    assert (found(world).to_ship_g, found(world).ship_late_days) == (1_000_000, 275)

    world.ship("S-1", "2025-03-20")
    shipped = found(world)
    assert (shipped.to_ship_g, shipped.on_the_way_g) == (0, 1_000_000)
    assert shipped.consignments[0].days_on_the_way(date(2025, 3, 30)) == 10
    assert not shipped.is_done

    world.receive("S-1", "2025-04-20", [lot("L-1", "1000", "995")])
    done = found(world)
    assert (done.received_g, done.on_the_way_g, done.ship_late_days) == (995_000, 0, 0)
    assert done.is_done


@pytest.mark.parametrize(
    ("shipped_kg", "to_ship_g"),
    [("949.999", 50_001), ("950.000", 0), ("1050.000", 0)],
)
def test_the_tolerance_decides_whether_more_is_to_come(
    shipped_kg: str, to_ship_g: int
) -> None:
    world = certified()
    world.contract(fixed("2500.00"), quantity_kg="1000", tolerance_percent="5")
    world.receive("S-1", "2025-04-20", [lot("L-1", shipped_kg)])

    assert found(world).to_ship_g == to_ship_g


def test_what_is_rejected_fulfils_nothing() -> None:
    world = certified()
    world.contract(fixed("2500.00"), quantity_kg="1000")
    rejected = {"decision": "rejected", "rejected_because": "mould"}
    world.receive(
        "S-1", "2025-04-20", [lot("L-1", "600"), lot("L-2", "400", **rejected)]
    )

    one = found(world)

    assert (one.shipped_g, one.received_g, one.to_ship_g) == (600_000, 600_000, 400_000)
    assert one.consignments[0].rejected_g == 400_000


def test_what_is_not_fixed_in_time_is_late() -> None:
    world = certified()
    world.contract(to_be_fixed("10.00", fix_by="2025-06-30"), quantity_kg="1000")
    world.fix("F-1", "2025-06-01", "400", "2500.00")

    one = found(world, "2025-07-10")

    assert (one.fixed_g, one.to_fix_g, one.fix_late_days) == (400_000, 600_000, 10)


def test_what_was_shipped_and_has_not_arrived_is_on_the_way() -> None:
    world = certified()
    world.contract(fixed("2500.00"))
    world.ship("S-1", "2025-03-20")
    world.ship("S-2", "2025-04-20")
    world.receive("S-1", "2025-04-25", [lot("L-1", "1000")])

    def names(as_of: date) -> list[int]:
        return [left.seq for _, left in on_the_way(world.shelf, as_of)]

    assert [len(names(date(2025, month, 28))) for month in (2, 3, 4)] == [0, 1, 1]
    assert [one.contract.contract for one in fulfilments(world.shelf, date.max)] == [
        CONTRACT
    ]
    assert not list(fulfilments(world.shelf, date(2024, 1, 1)))


def test_what_arrives_on_the_day_is_no_longer_on_the_way() -> None:
    world = certified()
    world.contract(fixed("2500.00"), quantity_kg="1000")
    world.ship("S-1", "2025-03-20")
    world.receive("S-1", "2025-04-20", [lot("L-1", "1000")])

    def still_there(day: str) -> int:
        return len(list(on_the_way(world.shelf, date.fromisoformat(day))))

    assert [still_there(f"2025-04-{day}") for day in (19, 20)] == [1, 0]
