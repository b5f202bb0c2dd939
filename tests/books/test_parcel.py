"""ledger.books.parcel: the weight that is paid for, and what is priced alike."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.books.paid_weight import payable_weight_g
from ledger.trade.contract import ContractSigned
from ledger.trade.words import Duty
from tests.books.buying_world import (
    certified,
    fixed,
    lot,
    minimum,
    opened,
    row,
    to_be_fixed,
)

Grams = st.integers(min_value=1, max_value=10**9)


def contract(basis: str, franchise: str | None) -> ContractSigned:
    return ContractSigned.model_validate(
        {
            "contract": "C-1",
            "seller": "coop",
            "origin": "PE",
            "crop": "2024/25",
            "quantity_kg": "1000",
            "delivery_place": "Callao",
            "weight_basis": basis,
            "franchise_percent": franchise,
        }
    )


def weight_g(
    basis: str, franchise: str | None, shipped_g: int, landed_g: int
) -> Fraction:
    payable, workings = payable_weight_g(
        contract(basis, franchise), shipped_g, landed_g, entry=7
    )
    assert workings, "every weight explains itself"
    return payable


@pytest.mark.parametrize(
    ("basis", "franchise", "landed_g", "payable_g"),
    [
        ("shipped", None, 990_000, 1_000_000),
        ("shipped", None, 1_010_000, 1_000_000),
        ("landed", None, 990_000, 990_000),
        ("landed", None, 1_010_000, 1_010_000),
        # 0.5 per cent of 1,000 kg: 5 kg are the buyer's
        ("shipped", "0.5", 995_001, 1_000_000),
        ("shipped", "0.5", 995_000, 1_000_000),
        ("shipped", "0.5", 994_999, 999_999),
        ("shipped", "0.5", 980_000, 985_000),
        ("shipped", "0.5", 1_010_000, 1_000_000),
        ("landed", "0.5", 995_001, 1_000_000),
        ("landed", "0.5", 995_000, 1_000_000),
        ("landed", "0.5", 994_999, 999_999),
        ("landed", "0.5", 980_000, 985_000),
        ("landed", "0.5", 1_010_000, 1_010_000),
        ("landed", "0", 990_000, 990_000),
        ("shipped", "0", 990_000, 990_000),
        ("landed", "100", 1, 1_000_000),
    ],
)
def test_franchise_is_the_loss_that_the_buyer_bears(
    basis: str, franchise: str | None, landed_g: int, payable_g: int
) -> None:
    """Loss in excess of 0.5 per cent of the shipped weight is the seller's to refund.

    Source: International Trade Centre, The Coffee Guide, "Weights" and question 238, on
    the European Contract for Coffee, article 3 (e). On landed weight the same rule is
    common practice, no source.
    """
    assert payable_g == weight_g(basis, franchise, 1_000_000, landed_g)


@given(
    basis=st.sampled_from(["shipped", "landed"]),
    franchise=st.sampled_from([None, "0", "0.5", "1.5", "100"]),
    shipped_g=Grams,
    landed_g=Grams,
)
def test_payable_weight_lies_between_the_two_weighings(
    basis: str, franchise: str | None, shipped_g: int, landed_g: int
) -> None:
    payable = weight_g(basis, franchise, shipped_g, landed_g)

    assert min(shipped_g, landed_g) <= payable <= max(shipped_g, landed_g)


@given(shipped_g=Grams, landed_g=Grams, basis=st.sampled_from(["shipped", "landed"]))
def test_a_larger_franchise_never_pays_less(
    shipped_g: int, landed_g: int, basis: str
) -> None:
    weights = [
        weight_g(basis, f, shipped_g, landed_g) for f in ("0", "0.5", "1.5", "9")
    ]

    assert sorted(weights) == weights


def test_franchise_is_reckoned_on_the_whole_shipment() -> None:
    """Lot by lot the first loses 2 per cent and the second nothing: together 1 per cent."""
    world = certified()
    world.contract(fixed("2000.00"), weight_basis="landed", franchise_percent="1")
    world.receive("S-1", "2025-02-01", [lot("L-1", "500", "490"), lot("L-2", "500")])

    assert world.line().amount_minor == 200_000


def test_the_steps_of_a_franchise_can_be_followed() -> None:
    world = certified()
    world.contract(fixed("2000.00"), weight_basis="landed", franchise_percent="0.5")
    receipt = [lot("L-1", "1000", "980")]
    world.receive("S-1", "2025-02-01", receipt)

    workings = [(w.text, w.figure) for w in world.line().workings[:5]]

    assert workings == [
        ("net shipped weight of the lots taken", "1000.00 kg"),
        ("net landed weight of the lots taken", "980.00 kg"),
        ("natural loss that the buyer bears: 0.50 % of the shipped weight", "5.00 kg"),
        ("loss beyond it, which is the seller's", "15.00 kg"),
        ("weight paid for: as shipped, less the loss beyond", "985.00 kg"),
    ]
    assert world.line().amount_minor == 197_000


def test_a_gain_on_landed_weight_is_paid_for() -> None:
    world = certified()
    world.contract(fixed("2000.00"), weight_basis="landed", franchise_percent="0.5")
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000", "1002")])

    assert world.line().amount_minor == 200_400


def test_a_rejected_lot_is_owed_nothing_and_the_line_says_so() -> None:
    world = certified(premiums=[row("240.00")])
    world.contract(fixed("2000.00"))
    spoilt = lot("L-2", "700", decision="rejected", rejected_because="mould")
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000"), spoilt])

    assert world.amounts() == {Duty.PRICE: 200_000, Duty.PREMIUM: 24_000}
    assert world.line().workings[0].text == "lot L-2 rejected (mould): not paid for"


def test_a_receipt_rejected_whole_owes_nothing() -> None:
    world = certified(premiums=[row("240.00")])
    world.contract(fixed("2000.00"))
    spoilt = lot("L-1", "700", decision="rejected", rejected_because="mould")
    world.receive("S-1", "2025-02-01", [spoilt])

    assert world.dues().lines == ()


def test_a_rejected_lot_uses_up_no_fixation() -> None:
    world = certified()
    world.quotes("NY", {"2029-12-31": "9000.00"})
    world.contract(to_be_fixed("0"))
    world.fix("F-1", "2025-01-15", "1000", "2000.00")
    spoilt = lot("L-1", "1000", decision="rejected", rejected_because="mould")
    world.receive("S-1", "2025-02-01", [spoilt])
    world.receive("S-2", "2025-03-01", [lot("L-2", "1000")])

    assert world.line().amount_minor == 200_000


def test_lots_priced_alike_are_priced_together() -> None:
    world = certified(
        minimum_prices=[minimum("2400.00"), minimum("2600.00", origins=["EC"])]
    )
    world.contract(fixed("2000.00"))
    world.receive(
        "S-1",
        "2025-02-01",
        [lot("L-1", "100"), lot("L-2", "200"), lot("L-3", "400", origin="EC")],
    )

    line = world.line()

    assert line.amount_minor == 72_000 + 104_000
    assert [
        working.text.partition(":")[0]
        for working in line.workings
        if working.text.startswith("lots ")
    ] == ["lots L-1, L-2", "lots L-3"]


def test_organic_and_conventional_lots_of_a_receipt_are_priced_apart() -> None:
    world = certified(organic_differentials=[row("300.00")])
    world.contract(fixed("2000.00"))
    mixed = [lot("L-1", "1000", organic=True), lot("L-2", "500")]
    world.receive("S-1", "2025-02-01", mixed)

    assert world.amounts() == {Duty.PRICE: 300_000, Duty.ORGANIC: 30_000}


def test_lots_that_carry_the_claim_are_priced_apart_from_those_that_do_not() -> None:
    """A certificate whose scope leaves organic out does not cover the organic lot."""
    world = opened()
    world.terms(minimum_prices=[minimum("2400.00")], premiums=[row("240.00")])
    world.certificate(organic=False)
    world.contract(fixed("2000.00"))
    mixed = [lot("L-1", "1000", organic=True), lot("L-2", "500")]
    world.receive("S-1", "2025-02-01", mixed)

    assert world.amounts() == {Duty.PRICE: 200_000 + 120_000, Duty.PREMIUM: 12_000}


def test_a_weight_named_for_the_premium_is_shared_between_fixations() -> None:
    world = certified(premiums=[row("100.00")], premium_weight="landed")
    world.contract(to_be_fixed("0"))
    world.fix("F-1", "2025-01-15", "250", "2000.00")
    world.fix("F-2", "2025-01-16", "750", "2000.00")
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000", "990")])

    assert world.amounts() == {Duty.PRICE: 200_000, Duty.PREMIUM: 9_900}
