"""ledger.books.genealogy: which lots went into which, and the mass that went along."""

import subprocess
import sys
from collections import defaultdict
from fractions import Fraction

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.books.effect import Subject, SubjectKind
from ledger.books.genealogy import (
    in_order_of_making,
    lots_downstream,
    lots_upstream,
    trace_back,
    trace_forward,
)
from ledger.books.trace import Direction, Flow, Outcome, Trace, Way
from ledger.chain.canonical import JsonValue
from ledger.errors import NotFoundError
from tests.books.making_world import MakingWorld, batch_body, day, deep_tank, lot
from tests.books.random_making import CUSTOMERS, Floor, floors


def masses(trace: Trace) -> dict[str, Fraction]:
    return {found.lot: found.grams for found in trace.lots}


def blended() -> MakingWorld:
    """A world: beans of two cooperatives, ground apart, then blended in a tank."""
    world = MakingWorld()
    world.receive({"A": 10_000}, seller="north")
    world.receive({"B": 10_000}, seller="south")
    world.make({"A": 6_000}, {"N": 4_500}, step="grind", losses={"shell": 1_500})
    world.make({"B": 3_000}, {"O": 3_000}, step="grind")
    world.make({"N": 3_000, "O": 1_000}, {"T": 4_000}, on=2)
    return world


@settings(deadline=None)
@given(floors())
def test_lots_upstream_and_downstream_are_those_of_the_reference_library(
    floor: Floor,
) -> None:
    """Reference: ancestors and descendants as networkx finds them in the whole graph."""
    whole: nx.DiGraph[str] = nx.DiGraph(sorted(floor.edges()))
    whole.add_nodes_from(floor.lots)

    for name in floor.lots:
        up = lots_upstream(floor.world.shelf, [name])
        down = lots_downstream(floor.world.shelf, [name])

        assert set(up) == {name} | nx.ancestors(whole, name)
        assert set(down) == {name} | nx.descendants(whole, name)
        assert set(up.edges) == set(whole.subgraph(up).edges)
        assert set(down.edges) == set(whole.subgraph(down).edges)


@settings(deadline=None)
@given(floors())
def test_lots_come_after_what_went_into_them(floor: Floor) -> None:
    graph = lots_downstream(floor.world.shelf, floor.received)
    order = {name: place for place, name in enumerate(in_order_of_making(graph))}

    assert all(order[source] < order[target] for source, target in floor.edges())


def test_edges_carry_what_the_batch_took_and_lots_what_they_are() -> None:
    graph = lots_upstream(blended().shelf, ["T"])

    assert graph.edges["N", "T"]["grams"] == 3_000
    assert graph.edges["A", "N"]["grams"] == 6_000
    assert graph.nodes["A"]["what"].supplier == "north"


def test_a_trace_back_gives_lots_cooperatives_and_contracts_with_masses() -> None:
    trace = trace_back(blended().shelf, lot("T"))

    assert trace.direction is Direction.BACK
    assert trace.grams == 4_000
    assert masses(trace) == {"A": 3_000, "B": 1_000, "N": 3_000, "O": 1_000, "T": 4_000}
    assert trace.suppliers == {"north": 3_000, "south": 1_000}
    assert trace.contracts == {"C-north": 3_000, "C-south": 1_000}
    assert trace.share(trace.suppliers["north"]) == Fraction(3, 4)
    assert Flow("N", "T", Fraction(3_000)) in trace.flows
    assert trace.outcomes == ()


@settings(deadline=None)
@given(floors())
def test_a_trace_back_finds_the_shares_of_a_naive_computation(floor: Floor) -> None:
    for name in floor.lots:
        trace = trace_back(floor.world.shelf, lot(name))
        shares = {o.lot: trace.share(o.grams) for o in trace.origins}

        assert shares == floor.naive_shares(name)


@settings(deadline=None)
@given(floors())
def test_back_as_much_leaves_every_lot_as_came_in(floor: Floor) -> None:
    for name in floor.lots:
        trace = trace_back(floor.world.shelf, lot(name))
        came: dict[str, Fraction] = defaultdict(Fraction)
        went: dict[str, Fraction] = defaultdict(Fraction)
        for origin in trace.origins:
            came[origin.lot] += origin.grams
        for flow in trace.flows:
            went[flow.source] += flow.grams
            came[flow.target] += flow.grams
        went[name] += trace.grams

        assert came == went == masses(trace)
        assert sum(origin.grams for origin in trace.origins) == trace.grams


def test_a_sale_is_traced_back_from_what_was_dispatched() -> None:
    world = blended()
    world.sell("S", {"T": 400, "B": 100}, customer="ben", on=3)
    world.take_back("S", {"T": 400}, on=4)

    trace = trace_back(world.shelf, Subject(SubjectKind.SALE, "S"))

    assert trace.suppliers == {"north": 300, "south": 200}
    assert trace.outcomes == (
        Outcome(Way.SOLD, "T", Fraction(400), "S", "ben"),
        Outcome(Way.SOLD, "B", Fraction(100), "S", "ben"),
    )


def test_a_sale_of_a_lot_and_of_what_went_into_it_counts_both() -> None:
    world = blended()
    world.sell("S", {"T": 400, "N": 1_000}, on=3)

    trace = trace_back(world.shelf, Subject(SubjectKind.SALE, "S"))

    assert masses(trace)["N"] == 300 + 1_000
    assert trace.suppliers == {"north": 1_300, "south": 100}
    assert trace.grams == 1_400


def test_a_batch_is_traced_back_from_all_its_outputs() -> None:
    world = blended()
    world.make({"T": 2_000}, {"BAR": 1_500, "SCRAP": 300}, on=3)

    trace = trace_back(world.shelf, Subject(SubjectKind.BATCH, "B-4"))

    assert trace.grams == 1_800
    assert trace.suppliers == {"north": 1_350, "south": 450}


def test_a_lot_bought_without_a_contract_has_a_supplier_all_the_same() -> None:
    world = MakingWorld()
    world.buy_freely({"SUGAR": 1_000}, supplier="south")

    trace = trace_back(world.shelf, lot("SUGAR"))

    assert trace.suppliers == {"south": 1_000}
    assert trace.contracts == {}


def test_forward_mass_is_spread_over_outputs_and_losses_by_proportion() -> None:
    world = MakingWorld()
    world.receive({"A": 1_000, "B": 1_000})
    world.make({"A": 300, "B": 100}, {"T": 200, "U": 100}, losses={"dust": 100})

    trace = trace_forward(world.shelf, lot("A"))

    assert set(trace.flows) == {
        Flow("A", "T", Fraction(150)),
        Flow("A", "U", Fraction(75)),
    }
    assert set(trace.outcomes) == {
        Outcome(Way.LOST, "A", Fraction(75), "B-1", reason="dust"),
        Outcome(Way.IN_STOCK, "A", Fraction(700)),
        Outcome(Way.IN_STOCK, "T", Fraction(150)),
        Outcome(Way.IN_STOCK, "U", Fraction(75)),
    }


def test_losses_for_one_reason_are_added_up() -> None:
    world = MakingWorld()
    world.receive({"A": 1_000})
    body = batch_body("B-1", {"A": 1_000}, {"T": 700}, losses={"dust": 200})
    dust: JsonValue = {"reason": "dust", "mass_kg": "0.100"}
    losses: JsonValue = [dust, dust, {"reason": "shell", "mass_kg": "0.100"}]
    world.record("batch.made", body | {"losses": losses}, 1)

    trace = trace_forward(world.shelf, lot("A"))

    assert [(found.reason, found.grams) for found in trace.outcomes[:2]] == [
        ("dust", Fraction(200)),
        ("shell", Fraction(100)),
    ]


def test_returns_count_back_into_stock() -> None:
    world = MakingWorld()
    world.receive({"A": 1_000})
    world.sell("S", {"A": 600}, customer="cy")
    world.take_back("S", {"A": 250})

    trace = trace_forward(world.shelf, lot("A"))

    assert trace.outcomes == (
        Outcome(Way.SOLD, "A", Fraction(350), "S", "cy", returned_g=Fraction(250)),
        Outcome(Way.IN_STOCK, "A", Fraction(650)),
    )
    assert trace.customers == {"cy": 350}


def test_what_is_written_off_says_why() -> None:
    world = MakingWorld()
    world.receive({"A": 1_000})
    world.write_off("A", 1_000)

    trace = trace_forward(world.shelf, lot("A"))

    assert trace.outcomes == (
        Outcome(Way.WRITTEN_OFF, "A", Fraction(1_000), reason="spillage"),
    )


@settings(deadline=None)
@given(floors())
def test_forward_every_direction_sums_to_what_came_in(floor: Floor) -> None:
    for name in floor.lots:
        trace = trace_forward(floor.world.shelf, lot(name))

        assert trace.grams == floor.whole(name)
        assert sum(origin.grams for origin in trace.origins) == trace.grams
        assert sum(outcome.grams for outcome in trace.outcomes) == trace.grams
        assert sum(trace.ways.values()) == trace.grams


@settings(deadline=None)
@given(floors())
def test_forward_as_much_leaves_every_lot_as_came_in(floor: Floor) -> None:
    for name in floor.received:
        trace = trace_forward(floor.world.shelf, lot(name))
        came: dict[str, Fraction] = defaultdict(Fraction)
        went: dict[str, Fraction] = defaultdict(Fraction)
        came[name] += floor.whole(name)
        for flow in trace.flows:
            went[flow.source] += flow.grams
            came[flow.target] += flow.grams
        for outcome in trace.outcomes:
            went[outcome.lot] += outcome.grams

        assert came == went == masses(trace)


@settings(deadline=None)
@given(floors())
def test_forward_agrees_with_what_every_lot_consists_of(floor: Floor) -> None:
    """Two ways round: mass traced into a lot is its share of the source lot."""
    for name in floor.received:
        trace = trace_forward(floor.world.shelf, lot(name))
        shares = {
            other: floor.naive_shares(other).get(name, Fraction(0))
            for other in floor.lots
        }
        expected = {
            other: share * floor.whole(other) for other, share in shares.items()
        }
        left = floor.left()

        assert masses(trace) == {other: g for other, g in expected.items() if g}
        assert trace.ways[Way.IN_STOCK] == sum(
            shares[other] * grams for other, grams in left.items()
        )
        assert trace.ways[Way.WRITTEN_OFF] == sum(
            shares[other] * grams for other, grams in floor.gone.items()
        )
        for customer in CUSTOMERS:
            assert trace.customers.get(customer, 0) == sum(
                shares[other] * (grams - floor.returned.get((sale, other), 0))
                for (sale, other, buyer), grams in floor.sold.items()
                if buyer == customer
            )


@settings(deadline=None)
@given(floors())
def test_all_lots_traced_forward_are_all_there_is(floor: Floor) -> None:
    """Whatever came in is in stock, sold, lost or written off, and nothing twice."""
    traces = [trace_forward(floor.world.shelf, lot(name)) for name in floor.received]
    lost = sum(
        sum(inputs.values()) - sum(outputs.values())
        for inputs, outputs in floor.batches
    )

    assert sum(t.ways[Way.IN_STOCK] for t in traces) == sum(floor.left().values())
    assert sum(t.ways[Way.LOST] for t in traces) == lost
    assert sum(t.ways[Way.WRITTEN_OFF] for t in traces) == sum(floor.gone.values())


@settings(deadline=None)
@given(floors(), st.integers(0, 12))
def test_up_to_a_day_only_what_had_happened_counts(floor: Floor, on: int) -> None:
    batches = zip(floor.batch_days, floor.batches, strict=True)
    later = {name for made, (_, lots) in batches if made > on for name in lots}
    left = floor.left(on)

    for name in floor.received:
        trace = trace_forward(floor.world.shelf, lot(name), until=day(on))

        assert trace.until == day(on)
        assert not later & masses(trace).keys()
        assert sum(outcome.grams for outcome in trace.outcomes) == trace.grams
        assert trace.ways[Way.IN_STOCK] == sum(
            floor.naive_shares(other).get(name, 0) * left[other]
            for other in floor.lots
            if other not in later
        )


def test_a_lot_that_is_asked_about_twice_over_is_followed_once() -> None:
    world = blended()
    world.sell("S", {"T": 100, "N": 100}, on=3)

    trace = trace_forward(world.shelf, Subject(SubjectKind.SALE, "S"))

    assert {origin.lot: origin.grams for origin in trace.origins} == {
        "N": 4_500,
        "T": 1_000,
    }
    assert [origin.source for origin in trace.origins] == [None, None]
    assert trace.grams == sum(outcome.grams for outcome in trace.outcomes) == 5_500


def test_a_shipment_is_followed_with_all_its_lots() -> None:
    world = MakingWorld()
    world.receive({"A": 1_000, "B": 500})
    world.make({"A": 1_000, "B": 500}, {"T": 1_500})

    trace = trace_forward(world.shelf, Subject(SubjectKind.SHIPMENT, "SH-9"))

    assert trace.suppliers == {"north": 1_500}
    assert masses(trace) == {"A": 1_000, "B": 500, "T": 1_500}


def test_a_rejected_lot_has_nothing_to_trace() -> None:
    world = MakingWorld()
    world.receive({"A": 1_000}, rejected=True)

    for trace in (
        trace_back(world.shelf, lot("A")),
        trace_forward(world.shelf, lot("A")),
    ):
        assert trace.grams == 0
        assert (trace.lots, trace.origins, trace.outcomes) == ((), (), ())
        assert trace.share(Fraction(0)) == 0


def test_a_voided_batch_vanishes_from_both_directions() -> None:
    world = blended()
    bars = world.make({"T": 2_000}, {"BAR": 2_000}, on=3)
    before = trace_forward(world.shelf, lot("A"))
    world.void(bars)

    after = trace_forward(world.shelf, lot("A"))

    assert "BAR" in masses(before)
    assert "BAR" not in masses(after)
    assert after.ways == before.ways
    assert set(lots_upstream(world.shelf, ["T"])) == {"A", "B", "N", "O", "T"}


def test_a_corrected_batch_is_traced_as_corrected() -> None:
    world = blended()
    world.replace_batch(
        4,
        {"T": 2_000},
        {"BAR": 1_900},
        was=world.make({"T": 2_000}, {"BAR": 2_000}, on=3),
    )

    trace = trace_forward(world.shelf, lot("A"))

    assert masses(trace)["BAR"] == 1_900 * Fraction(3, 4)
    assert sum(outcome.grams for outcome in trace.outcomes) == 10_000


def test_a_correction_after_the_close_shows_in_the_trace_to_the_gram() -> None:
    world = blended()
    bars = world.make({"T": 2_000}, {"BAR": 2_000}, on=3)
    world.close_period(0, 10, on=11)
    world.replace_batch(4, {"T": 2_000}, {"BAR": 1_900}, was=bars, on=12)

    trace = trace_forward(world.shelf, lot("A"))

    assert masses(trace)["BAR"] == 1_900 * Fraction(3, 4)
    assert trace.ways[Way.IN_STOCK] == Fraction(3, 4) * (
        world.on_hand("BAR") + world.on_hand("T")
    ) + world.on_hand("A") + world.on_hand("N")


def test_a_tank_never_cleaned_is_traced_three_thousand_fills_deep() -> None:
    world = deep_tank()

    back = trace_back(world.shelf, lot("T3000"))
    forward = trace_forward(world.shelf, lot("A"))

    assert len(back.lots) == len(forward.lots) + 1 == 3_003
    assert back.ways == dict.fromkeys(Way, 0)
    assert back.suppliers == {"north": back.grams}
    assert forward.ways[Way.IN_STOCK] == forward.grams == 1_000


def test_networkx_is_not_loaded_before_a_trace_is_asked_for() -> None:
    code = (
        "import sys, ledger.books.genealogy; "
        "raise SystemExit('networkx' in sys.modules)"
    )

    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


@pytest.mark.parametrize("kind", [SubjectKind.PARTY, SubjectKind.LOT])
def test_what_cannot_be_traced_is_refused_in_one_sentence(kind: SubjectKind) -> None:
    with pytest.raises(NotFoundError, match="is not recorded, or has not arrived"):
        trace_back(MakingWorld().shelf, Subject(kind, "nobody"))


def test_lots_that_do_not_rest_on_each_other_come_by_date() -> None:
    world = MakingWorld()
    world.receive({"Z": 1_000}, on=1)
    world.receive({"A": 1_000}, on=2)
    world.make({"Z": 500, "A": 500}, {"T": 1_000}, on=3)

    found = trace_back(world.shelf, Subject(SubjectKind.LOT, "T"))

    assert [one.lot for one in found.lots if one.lot != "T"] == ["Z", "A"]
