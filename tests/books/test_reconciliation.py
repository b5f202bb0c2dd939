"""All masses add up, to the gram, against a plain second reading of the entries."""

from collections import Counter
from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.books.bean_flow import bean_flows
from ledger.books.reconciliation import Flow, reconcile, shared_out
from ledger.trade.words import Form, LossReason
from tests.world import World, certified, claim

SINCE, UNTIL = date(2025, 1, 1), date(2025, 12, 31)


def worked() -> World:
    """Beans bought, roasted and ground with sugar into bars, sold, returned, spilt."""
    world = certified()
    world.record(
        "recipe.published",
        recipe="dark",
        product="Dark",
        valid_from="2024-01-01",
        ingredients=[
            {"commodity": "cocoa", "form": "liquor", "share": "0.7"},
            {"commodity": "sugar", "form": "ingredient", "share": "0.3"},
        ],
    )
    world.receive({"L": "1000"}, "2024-12-01")
    world.receive(
        [
            {
                "lot": "S",
                "commodity": "sugar",
                "form": "ingredient",
                "net_shipped_kg": "200",
                "net_landed_kg": "200",
            }
        ],
        "2025-01-05",
    )
    world.make(
        {"L": "500"},
        {"Q": "400"},
        "2025-01-20",
        losses={"shell": "90", "moisture": "10"},
        step="grind",
    )
    world.make(
        {"Q": "70", "S": "30"},
        {"B": "99.001"},
        "2025-01-21",
        losses={"waste": "0.999"},
        step="mould",
        form="bar",
        recipe="dark",
    )
    world.sell("V", {"B": "50"}, "2025-02-01", claim())
    world.take_back("R", "V", {"B": "5"}, "2025-02-10")
    world.write_off("B", "1.5", "2025-02-11")
    return world


def test_every_column_is_what_the_entries_say() -> None:
    found = reconcile(worked().shelf, since=SINCE, until=UNTIL)

    assert found.forms == {
        Form.BEAN: Flow(
            opening_g=1_000_000, used_g=400_000, lost_g=100_000, closing_g=500_000
        ),
        Form.LIQUOR: Flow(made_g=400_000, used_g=69_301, lost_g=699, closing_g=330_000),
        Form.BAR: Flow(
            made_g=99_001,
            sold_g=50_000,
            returned_g=5_000,
            written_off_g=1_500,
            closing_g=52_501,
        ),
        Form.INGREDIENT: Flow(
            bought_g=200_000, used_g=29_700, lost_g=300, closing_g=170_000
        ),
    }
    assert found.adds_up
    assert found.losses == {
        LossReason.MOISTURE: 10_000,
        LossReason.SHELL: 90_000,
        LossReason.WASTE: 999,
    }
    assert found.written_off == {LossReason.SPILLAGE: 1_500}


def test_what_several_batches_lost_for_one_reason_is_added_up() -> None:
    world = worked()
    world.make({"L": "10"}, {"Q2": "9"}, "2025-02-20", losses={"shell": "1"})

    found = reconcile(world.shelf, since=SINCE, until=UNTIL)

    assert found.losses[LossReason.SHELL] == 91_000


def test_opening_and_incoming_less_closing_is_outgoing() -> None:
    """7 CFR 205.403(d)(4): A + B - D = C."""
    found = reconcile(worked().shelf, since=SINCE, until=UNTIL)
    whole = found.whole

    assert found.outgoing_g == 50_000 - 5_000 + 100_999 + 1_500
    assert whole.opening_g + whole.bought_g - whole.closing_g == found.outgoing_g
    assert found.unexplained_g == 0


def test_a_period_opens_with_what_the_one_before_closed_with() -> None:
    shelf = worked().shelf
    day = date(2025, 1, 31)

    before = reconcile(shelf, since=SINCE, until=day)
    after = reconcile(shelf, since=date(2025, 2, 1), until=UNTIL)

    assert {form: flow.closing_g for form, flow in before.forms.items()} == {
        form: flow.opening_g for form, flow in after.forms.items()
    }


def test_in_beans_the_loss_and_the_factors_show_as_one_figure_beside_the_goods() -> (
    None
):
    """By factors 1 and 1.25: 500 of beans make 400 of liquor, which is 500 of beans.

    70 of liquor, 87.5 of beans, make 99.001 of bars at 0.7 of 1.25: 86.625875.
    """
    world = worked()
    [found] = bean_flows(world.shelf, reconcile(world.shelf, since=SINCE, until=UNTIL))

    bar = Fraction("0.7") * Fraction("1.25")
    assert found.converted_g == 87_500 - 99_001 * bar
    assert found.grams["opening_g"] == 1_000_000
    assert found.grams["sold_g"] == 50_000 * bar
    assert found.grams["closing_g"] == 500_000 + 330_000 * Fraction("1.25") + (
        52_501 * bar
    )
    assert found.difference_g == 0
    assert found.without_factor == ()


def test_a_form_without_a_factor_is_left_out_and_named() -> None:
    world = certified(
        conversions=[
            {
                "form": "bean",
                "factor": "1",
                "valid_from": "2023-01-01",
                "source": "a table",
            }
        ]
    )
    world.receive({"L": "100"})
    world.make({"L": "100"}, {"Q": "80"}, losses={"shell": "20"})

    [found] = bean_flows(world.shelf, reconcile(world.shelf, since=SINCE, until=UNTIL))

    assert found.without_factor == (Form.LIQUOR,)


def test_a_batch_corrected_after_the_close_is_shown_as_a_difference_there() -> None:
    world = certified()
    world.receive({"L": "100"}, "2025-01-10")
    batch = world.make({"L": "100"}, {"Q": "80"}, "2025-01-20", losses={"shell": "20"})
    world.close("2025-01-01", "2025-01-31", "2025-02-02")
    world.replace(
        batch,
        "2025-02-05",
        outputs=[{"form": "liquor", "lot": "Q", "mass_kg": "75"}],
        losses=[{"reason": "shell", "mass_kg": "25"}],
    )

    closed = reconcile(world.shelf, since=SINCE, until=date(2025, 1, 31))
    later = reconcile(world.shelf, since=date(2025, 2, 1), until=UNTIL)
    both = reconcile(world.shelf, since=SINCE, until=UNTIL)

    assert closed.forms[Form.LIQUOR].difference_g == 5_000
    assert not closed.adds_up
    assert closed.corrected == (len(world.raws) - 1,)
    assert later.forms[Form.LIQUOR].corrected_g == -5_000
    assert later.adds_up
    assert both.adds_up


def test_a_batch_made_void_after_the_close_keeps_its_movements_and_is_named() -> None:
    world = certified()
    world.receive({"L": "100"}, "2025-01-10")
    batch = world.make({"L": "100"}, {"Q": "80"}, "2025-01-20", losses={"shell": "20"})
    world.close("2025-01-01", "2025-01-31", "2025-02-02")
    seq = world.void(batch, "2025-02-05")

    closed = reconcile(world.shelf, since=SINCE, until=date(2025, 1, 31))

    assert closed.corrected == (seq,)
    assert closed.unexplained_g == 20_000
    [in_beans] = bean_flows(world.shelf, closed)
    assert in_beans.grams["closing_g"] == 0
    assert not closed.adds_up
    assert None in closed.forms


def test_what_a_void_batch_of_a_closed_period_used_and_made_is_still_told() -> None:
    """Both outputs are lots that no entry brings in any more."""
    world = certified()
    world.receive({"L": "100"}, "2025-01-10")
    batch = world.make({"L": "80"}, {"Q": "50", "R": "30"}, "2025-01-20")
    world.close("2025-01-01", "2025-01-31", "2025-02-02")
    world.void(batch, "2025-02-05")

    closed = reconcile(world.shelf, since=SINCE, until=date(2025, 1, 31))

    assert closed.forms[Form.BEAN].used_g == 80_000
    assert closed.forms[None].made_g == 80_000
    assert closed.adds_up


@pytest.mark.parametrize(
    ("grams", "masses", "parts"),
    [
        (0, {"a": 1, "b": 2}, {"a": 0, "b": 0}),
        (10, {"a": 1, "b": 1, "c": 1}, {"a": 4, "b": 3, "c": 3}),
        (2, {"a": 1, "b": 2}, {"a": 1, "b": 1}),
        (999, {"a": 70, "b": 30}, {"a": 699, "b": 300}),
    ],
)
def test_grams_left_over_go_to_the_largest_remainders(
    grams: int, masses: dict[str, int], parts: dict[str, int]
) -> None:
    found = shared_out(grams, masses)

    assert found == parts


@given(
    st.integers(0, 10**6),
    st.dictionaries(st.sampled_from("abcdef"), st.integers(1, 10**6), min_size=1),
)
def test_what_is_parted_sums_and_no_part_is_a_gram_off(
    grams: int, masses: dict[str, int]
) -> None:
    found = shared_out(grams, masses)

    total = sum(masses.values())
    assert sum(found.values()) == grams
    for name, part in found.items():
        assert abs(part - Fraction(grams * masses[name], total)) < 1


class Month:
    """A world in which something happens every day, as far as stock allows."""

    def __init__(self) -> None:
        self.world = certified()
        self.world.receive({"L0": "1000", "L1": "1000"}, "2025-01-01")
        self.left = {"L0": 1000, "L1": 1000}
        self.sold: list[tuple[str, str]] = []

    def happen(self, place: int, what: str, kg: int, loss: int) -> None:
        """Make, sell, write off or take back some kilograms of a lot."""
        on = f"2025-01-{place + 2:02}"
        lot = sorted(self.left)[(kg + place) % len(self.left)]
        if what == "take back" and self.sold:
            sale, lot = self.sold.pop()
            self.world.take_back(f"R{place}", sale, {lot: "1"}, on)
            self.left[lot] += 1
        elif what != "take back" and self.left[lot] >= kg:
            self.left[lot] -= kg
            self._use(place, what, lot, kg, loss)

    def _use(self, place: int, what: str, lot: str, kg: int, loss: int) -> None:
        on = f"2025-01-{place + 2:02}"
        if what == "make":
            lost, made = min(loss, kg - 1), f"M{place}"
            losses = {"waste": str(lost)} if lost else {}
            self.left[made] = kg - lost
            self.world.make({lot: str(kg)}, {made: str(kg - lost)}, on, losses=losses)
        elif what == "sell":
            self.world.sell(f"V{place}", {lot: str(kg)}, on)
            self.sold.append((f"V{place}", lot))
        else:
            self.world.write_off(lot, str(kg), on)


STEPS = st.lists(
    st.tuples(
        st.sampled_from(("make", "sell", "write off", "take back")),
        st.integers(1, 9),
        st.integers(0, 5),
    ),
    max_size=12,
)


@given(STEPS, st.integers(0, 12), st.integers(0, 12))
def test_random_months_agree_with_a_plain_reading_of_the_entries(
    steps: list[tuple[str, int, int]], first: int, length: int
) -> None:
    """Kilograms added up by form with decimals, from the entries as a file holds them."""
    month = Month()
    for place, step in enumerate(steps):
        month.happen(place, *step)
    since, until = date(2025, 1, first + 1), date(2025, 1, first + 1 + length)

    found = reconcile(month.world.shelf, since=since, until=until)

    assert found.adds_up
    closing = {form: flow.closing_g for form, flow in found.forms.items()}
    assert plain_closing(month.world, until) == {
        form: grams for form, grams in closing.items() if grams
    }


def plain_closing(world: World, until: date) -> dict[Form | None, int]:
    """Closing stock by form: what came less what went, lot by lot, in plain loops."""
    moves = {
        "shipment.received": (("lots", "net_landed_kg", 1),),
        "batch.made": (("outputs", "mass_kg", 1), ("inputs", "mass_kg", -1)),
        "sale.returned": (("lines", "mass_kg", 1),),
        "sale.dispatched": (("lines", "mass_kg", -1),),
    }
    total: Counter[Form | None] = Counter()
    for raw in world.raws:
        body = raw["body"]
        if date.fromisoformat(raw["occurred_on"]) > until:
            continue
        parts = [
            (part["lot"], sign * Decimal(part[figure]))
            for member, figure, sign in moves.get(raw["kind"], ())
            for part in body[member]
        ]
        if raw["kind"] == "lot.written_off":
            parts.append((body["lot"], -Decimal(body["mass_kg"])))
        for lot, kg in parts:
            form = Form.BEAN if lot.startswith("L") else Form.LIQUOR
            total[form] += int(kg * 1000)
    return {form: grams for form, grams in total.items() if grams}


def test_in_beans_a_difference_that_landed_later_explains_the_closing() -> None:
    """Of 5 kg of liquor less, 6.25 kg of beans at 1.25 are explained by the correction."""
    world = certified()
    world.receive({"L": "100"}, "2025-01-10")
    batch = world.make({"L": "100"}, {"Q": "80"}, "2025-01-20", losses={"shell": "20"})
    world.close("2025-01-01", "2025-01-31", "2025-02-02")
    outputs = [{"form": "liquor", "lot": "Q", "mass_kg": "75"}]
    losses = [{"reason": "shell", "mass_kg": "25"}]
    world.replace(batch, "2025-02-05", outputs=outputs, losses=losses)

    later = reconcile(world.shelf, since=date(2025, 2, 1), until=UNTIL)
    [found] = bean_flows(world.shelf, later)

    assert found.grams["corrected_g"] == -6_250
    assert found.difference_g == 0
