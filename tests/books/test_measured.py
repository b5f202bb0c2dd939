"""ledger.books.measured: factors from what the maker's own batches gave."""

from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from ledger.books.measured import days_converted_by, measured_factor
from ledger.trade.terms import TermsPublished
from ledger.trade.words import Form
from tests.world import World, batch_body, certified, claim, lot

MEASURED: dict[str, Any] = {
    "measured_yields": {
        "forms": ["nib", "liquor"],
        "window_months": 2,
        "source": "an invented standard, measured yields",
    }
}


@pytest.fixture
def world() -> World:
    """Roasted, winnowed and ground in January as a published small maker's yields say."""
    world = certified(**MEASURED)
    world.receive({"L": "1000"}, "2025-01-02")
    world.receive({"P": "1000"}, "2025-01-02", contract="PLAIN")
    chain(world, "2025-01-10", "P", "100", "98", "78.4", "76.048")
    return world


def chain(world: World, on: str, beans: str, *masses: str) -> list[int]:
    """Make liquor of beans in three steps: mass of each form, one after the other."""
    tag = len(world.raws)
    lots = [beans, f"R{tag}", f"N{tag}", f"Q{tag}"]
    forms = ["roasted bean", "nib", "liquor"]
    return [
        world.make(
            {lots[n]: masses[n]},
            {lots[n + 1]: masses[n + 1]},
            on,
            losses=lost(masses[n], masses[n + 1]),
            form=form,
        )
        for n, form in enumerate(forms)
    ]


def lost(taken: str, given: str) -> dict[str, str]:
    """Return what is missing as a loss."""
    return {"moisture": f"{Decimal(taken) - Decimal(given):f}"}


def factor(world: World, on: str, form: Form = Form.LIQUOR) -> Fraction:
    terms = next(
        found.record
        for found in world.shelf.of_kind("terms.published")
        if isinstance(found.record, TermsPublished)
    )
    return measured_factor(world.shelf, terms, form, date.fromisoformat(on))


def test_yields_on_the_way_multiply_exactly(world: World) -> None:
    """100 kg of beans x 0.98 x 0.80 x 0.97 give 76.048 kg of liquor.

    Source: yields of roasting, winnowing and refining as a published guide for small
    makers gives them (chocolatealchemy.com, recovery); the product is arithmetic.
    """
    assert factor(world, "2025-02-01") == Fraction(100_000, 76_048)
    assert factor(world, "2025-02-01", Form.NIB) == Fraction(1000, 784)


def test_a_claim_draws_by_what_was_measured(world: World) -> None:
    """The published factor would draw 10 kg for 8 kg of liquor; the batches say more."""
    world.sell("X", {lot_of(world): "8"}, "2025-02-01", claim())

    assert 1_000_000 - world.account() == -(-8_000 * 100_000 // 76_048) == 10_520


@pytest.mark.parametrize(
    ("on", "counts"),
    [
        ("2025-01-31", False),
        ("2025-02-01", True),
        ("2025-03-31", True),
        ("2025-04-01", False),
    ],
)
def test_the_window_is_whole_months_before_the_trade_date(
    world: World, on: str, *, counts: bool
) -> None:
    assert bool(factor(world, on)) is counts


def test_without_batches_in_the_window_the_published_factor_counts(
    world: World,
) -> None:
    world.sell("X", {lot_of(world): "8"}, "2025-04-01", claim())

    assert 1_000_000 - world.account() == 10_000


def lot_of(world: World) -> str:
    """Return the liquor of the first chain."""
    made = [raw for raw in world.raws if raw["kind"] == "batch.made"]
    return str(made[2]["body"]["outputs"][0]["lot"])


def test_batches_of_several_months_and_lots_add_up_by_mass(world: World) -> None:
    chain(world, "2025-02-10", "P", "300", "291", "240", "230")

    assert factor(world, "2025-03-01", Form.NIB) == Fraction(
        98_000 + 291_000, 318_400
    ) * (Fraction(400, 389))


def test_a_batch_that_mixes_forms_measures_nothing(world: World) -> None:
    before = factor(world, "2025-02-01")
    mixed = {"P": "10", lot_of(world): "1"}
    world.make(mixed, {"Z": "2"}, "2025-01-20", losses=lost("11", "2"))

    assert factor(world, "2025-02-01") == before


def test_forms_that_are_not_named_keep_the_published_factor(world: World) -> None:
    world.make(
        {"P": "100"}, {"B": "50"}, "2025-01-10", losses=lost("100", "50"), form="butter"
    )
    world.sell("X", {"B": "1"}, "2025-02-01", claim())

    assert 1_000_000 - world.account() == 1_330


def test_a_batch_corrected_later_lets_claims_count_again(world: World) -> None:
    """The sale drew by a yield of 76.048; by 80 it draws 1.25 each kilogram."""
    liquor = lot_of(world)
    world.sell("X", {liquor: "8"}, "2025-02-01", claim())
    world.take_back("R", "X", {liquor: "4"}, "2025-05-01")
    assert 1_000_000 - world.account() == 10_520 - 5_259
    ground = [raw["seq"] for raw in world.raws if raw["kind"] == "batch.made"][2]
    body = dict(world.raws[ground]["body"])
    masses = {"inputs": body["inputs"], "outputs": [{**body["outputs"][0]}]}
    masses["outputs"][0]["mass_kg"] = "78.4"
    world.replace(ground, "2025-06-01", **masses, losses=[])

    drawn = -(-8_000 * 100_000 // 78_400)
    assert 1_000_000 - world.account() == drawn - 4_000 * 100_000 // 78_400
    assert world.rebuilt_alike()


def test_what_came_back_of_a_sale_counts_again_with_it_though_its_own_month_does_not() -> (
    None
):
    """The liquor sold is another's; only its factor was measured on the January batch.

    By the batch as first recorded 100 kg of beans give 80 kg of liquor, as corrected 50:
    what came back in May comes back as it was drawn.
    """
    world = certified(**MEASURED)
    world.receive({"L": "1000"}, "2025-01-02")
    liquor = lot("Q", "100", commodity="cocoa", form="liquor", origin="PE")
    bought = {"shipment": "SQ", "supplier": "cane", "lots": [liquor]}
    world.record("shipment.received", "2025-01-02", **bought)
    world.receive({"P": "100"}, "2025-01-02", contract="PLAIN")
    ground = world.make(
        {"P": "100"}, {"M": "80"}, "2025-01-10", losses=lost("100", "80")
    )
    world.sell("X", {"Q": "8"}, "2025-02-01", claim())
    world.take_back("R", "X", {"Q": "4"}, "2025-05-01")
    assert 1_000_000 - world.account() == 10_000 - 5_000

    half = batch_body("B3", {"P": "100"}, {"M": "50"}, losses=lost("100", "50"))
    world.replace(ground, outputs=half["outputs"], losses=half["losses"])

    assert 1_000_000 - world.account() == 16_000 - 8_000
    assert world.rebuilt_alike()


def test_a_batch_recorded_late_lets_claims_count_again(world: World) -> None:
    world.sell("X", {lot_of(world): "8"}, "2025-02-01", claim())
    before = world.account()
    chain(world, "2025-01-20", "P", "100", "90", "60", "50")

    assert world.account() < before
    assert world.rebuilt_alike()


@pytest.mark.parametrize(
    ("month", "months", "since", "until"),
    [
        ("2025-01-01", 1, "2025-02-01", "2025-02-28"),
        ("2025-11-01", 2, "2025-12-01", "2026-01-31"),
        ("2024-01-01", 12, "2024-02-01", "2025-01-31"),
    ],
)
def test_the_days_that_a_month_decides_about(
    month: str, months: int, since: str, until: str
) -> None:
    days = (date.fromisoformat(since), date.fromisoformat(until))

    assert days_converted_by(date.fromisoformat(month), months) == days


def test_a_batch_that_gives_two_forms_measures_neither(world: World) -> None:
    before = factor(world, "2025-02-01"), factor(world, "2025-02-01", Form.NIB)
    body: dict[str, Any] = batch_body(
        "B2", {"P": "10"}, {"Z1": "1"}, losses=lost("10", "2"), form="nib"
    )
    outputs = [*body["outputs"], {"lot": "Z2", "mass_kg": "1", "form": "liquor"}]
    world.record("batch.made", "2025-01-20", **{**body, "outputs": outputs})

    after = factor(world, "2025-02-01"), factor(world, "2025-02-01", Form.NIB)
    assert after == before
