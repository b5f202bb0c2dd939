"""ledger.books.mass_flow: what came in is what was sold, is left, and was lost."""

from collections import defaultdict
from datetime import date
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.books.mass_flow import MassFlow, Sort, Station, mass_flow
from ledger.books.stock import grams_by_form, stock_on
from tests.books.making_world import MakingWorld, day
from tests.books.random_making import Floor, floors
from tests.world import MAKER, OTHER_SCHEME, SCHEME, certified, claim

NORTH = Station(Sort.SUPPLIER, "north")
BEAN = Station(Sort.FORM, "bean")
LIQUOR = Station(Sort.FORM, "liquor")
UNCLAIMED = Station(Sort.UNCLAIMED, "without a claim")
IN_STOCK = Station(Sort.IN_STOCK)
WASTE = Station(Sort.LOST, "waste")


def plain(flow: MassFlow) -> dict[tuple[str, str], Fraction]:
    """Grams by the names of the stations."""
    return {
        (source.name or source.sort.name, target.name or target.sort.name): grams
        for (source, target), grams in flow.grams.items()
    }


@settings(deadline=None, max_examples=50)
@given(floors(), st.integers(0, 12))
def test_both_sides_sum_to_the_gram_on_every_date(floor: Floor, on: int) -> None:
    """Opening plus incoming less outgoing is closing.

    Source: the mass-balance exercise of an organic inspection, 7 CFR 205.403(d)(4).
    """
    flow = mass_flow(floor.world.shelf, day(on))

    assert flow.came_in_g == sum(flow.ends.values())
    assert flow.came_in_g == sum(floor.received.values())
    stock = sum(g for end, g in flow.ends.items() if end.sort is Sort.IN_STOCK)
    assert stock == sum(floor.left(on).values())


@settings(deadline=None, max_examples=50)
@given(floors())
def test_ends_are_what_was_sold_lost_and_written_off(floor: Floor) -> None:
    ends = mass_flow(floor.world.shelf, day(99)).ends
    lost = sum(sum(used.values()) - sum(made.values()) for used, made in floor.batches)

    assert ends.get(UNCLAIMED, 0) == sum(floor.sold.values()) - sum(
        floor.returned.values()
    )
    assert ends.get(WASTE, 0) == lost
    assert ends.get(Station(Sort.WRITTEN_OFF), 0) == sum(floor.gone.values())


@settings(deadline=None, max_examples=50)
@given(floors())
def test_what_is_left_of_every_form_is_the_stock_of_the_form(floor: Floor) -> None:
    flow = mass_flow(floor.world.shelf, day(99))
    left = {
        source.name: grams
        for (source, target), grams in flow.grams.items()
        if target == IN_STOCK
    }

    assert left == grams_by_form(stock_on(floor.world.shelf, day(99)))


@settings(deadline=None, max_examples=50)
@given(floors())
def test_as_much_leaves_a_form_as_came_to_it(floor: Floor) -> None:
    flow = mass_flow(floor.world.shelf, day(99))

    net: dict[Station, Fraction] = defaultdict(Fraction)
    for (source, target), grams in flow.grams.items():
        net[source] -= grams
        net[target] += grams
    assert not any(net[station] for station in net if station.sort is Sort.FORM)


def test_a_batch_spreads_each_form_over_outputs_and_losses() -> None:
    """300 g of beans and 100 g of liquor give 360 g of nib and lose 40 g."""
    world = MakingWorld()
    world.receive({"A": 400})
    world.make({"A": 100}, {"L": 100})
    world.make({"A": 300, "L": 100}, {"N": 360}, about={"form": "nib"})

    assert plain(mass_flow(world.shelf, day(9))) == {
        ("north", "bean"): 400,
        ("bean", "liquor"): 100,
        ("bean", "nib"): 270,
        ("bean", "waste"): 30,
        ("liquor", "nib"): 90,
        ("liquor", "waste"): 10,
        ("nib", "IN_STOCK"): 360,
    }


def test_a_fill_of_a_tank_stays_in_its_form() -> None:
    world = MakingWorld()
    world.receive({"A": 400})
    world.make({"A": 400}, {"T0": 400})
    world.make({"T0": 400}, {"T1": 400})

    assert plain(mass_flow(world.shelf, day(9))) == {
        ("north", "bean"): 400,
        ("bean", "liquor"): 400,
        ("liquor", "IN_STOCK"): 400,
    }


def test_a_rejected_lot_did_not_come_in() -> None:
    world = MakingWorld()
    world.receive({"A": 400}, rejected=True)

    flow = mass_flow(world.shelf, day(9))

    assert flow.grams == {}
    assert flow.came_in_g == 0


def test_goods_end_by_the_claims_that_they_still_carry() -> None:
    """Of 650 kg sold, 600 kg with a claim, 100 kg come back and 250 kg lose the claim."""
    world = certified(claim())
    world.receive({"L1": "1000"})
    lines: list[dict[str, object]] = [
        {"lot": "L1", "mass_kg": "600", "claims": [claim()]},
        {"lot": "L1", "mass_kg": "50"},
    ]
    world.sell("X1", lines)
    world.take_back("R1", "X1", {"L1": "100"}, "2025-02-03")
    world.record(
        "claim.withdrawn",
        "2025-02-04",
        withdrawal="W1",
        sale="X1",
        document="credit note",
        reason="typing",
        lines=[{"lot": "L1", "mass_kg": "250", "scheme": SCHEME}],
    )

    by_day = {
        on: {
            end.name or end.sort.name: grams // 1000
            for end, grams in mass_flow(world.shelf, date(2025, 2, on)).ends.items()
        }
        for on in (1, 3, 4)
    }

    name = f"{SCHEME}, mass balance"
    assert by_day[1] == {name: 600, "without a claim": 50, "IN_STOCK": 350}
    assert by_day[3] == {name: 550, "IN_STOCK": 450}
    assert by_day[4] == {name: 300, "without a claim": 250, "IN_STOCK": 450}


def test_goods_claimed_under_two_schemes_have_an_end_of_their_own() -> None:
    """One claim of 60 kg is taken back: 40 kg carry both, 60 kg the other alone."""
    world = certified()
    world.terms(OTHER_SCHEME)
    world.certify(MAKER, OTHER_SCHEME)
    world.certify("alder", OTHER_SCHEME)
    world.sign("BOTH", "alder", claim(), claim(scheme=OTHER_SCHEME))
    world.receive({"L1": "100"}, contract="BOTH")
    world.sell("X1", {"L1": "100"}, "2025-02-01", claim(), claim(scheme=OTHER_SCHEME))
    world.record(
        "claim.withdrawn",
        "2025-02-04",
        withdrawal="W1",
        sale="X1",
        document="credit note",
        reason="typing",
        lines=[{"lot": "L1", "mass_kg": "60", "scheme": SCHEME}],
    )

    ends = mass_flow(world.shelf, date(2025, 3, 1)).ends

    one, other = f"{SCHEME}, mass balance", f"{OTHER_SCHEME}, mass balance"
    assert {end.name: grams for end, grams in ends.items()} == {
        f"{one} and {other}": 40_000,
        other: 60_000,
    }
