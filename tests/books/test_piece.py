"""ledger.books.piece: lots share what a receipt is paid for, by the weight that counts."""

import pytest

from ledger.trade.words import Duty
from tests.books.buying_world import (
    certified,
    fixed,
    lot,
    minimum,
    row,
    to_be_fixed,
)


@pytest.mark.parametrize(
    ("basis", "franchise", "weight", "owed_minor"),
    [
        # 600 kg at 2,400 and 400 at 2,600
        ("shipped", None, "shipped", 248_000),
        ("landed", "0", "shipped", 248_000),
        # 500 kg at either
        ("landed", None, "landed", 250_000),
    ],
)
def test_lots_at_two_prices_share_the_weight_paid_for_as_the_contract_weighs(
    basis: str, franchise: str | None, weight: str, owed_minor: int
) -> None:
    """One lot lost 100 kg at sea, the other gained as much, so the whole is 1,000 kg."""
    world = certified(
        minimum_prices=[minimum("2400.00"), minimum("2600.00", origins=["EC"])]
    )
    world.contract(fixed("2000.00"), weight_basis=basis, franchise_percent=franchise)
    lots = [lot("L-1", "600", "500"), lot("L-2", "400", "500", origin="EC")]
    world.receive("S-1", "2025-02-01", lots)

    line = world.line()
    shared = [one for one in line.workings if "in the weight paid for" in one.text]

    assert line.amount_minor == owed_minor
    assert {one.rule for one in shared} == {f"{weight} weight"}


def test_a_fixation_that_prices_a_part_is_told_with_its_entry_and_what_it_leaves() -> (
    None
):
    world = certified()
    world.quotes("NY", {"2029-12-31": "3000.00"})
    world.contract(to_be_fixed("0"))
    world.fix("F-1", "2025-01-15", "700", "2000.00")
    entry = world.entries - 1
    world.receive("S-1", "2025-02-01", [lot("L-1", "400"), lot("L-2", "600")])

    line, _ = world.lines(Duty.PRICE)
    told = {one.text: (one.figure, one.entry) for one in line.workings}

    assert told["quantity fixed by F-1"] == ("700.00 kg", entry)
    assert told["left of it for lot L-2"] == ("300.00 kg", None)
    assert told["of lot L-2 at the price of F-1"] == ("300.00 kg", None)


def test_a_premium_on_another_weight_is_told_with_the_part_of_the_lot_it_is_for() -> (
    None
):
    """Of 1,000 kg shipped 400 are fixed; 990 landed, so 396 of those belong to them."""
    world = certified(premiums=[row("240.00")], premium_weight="landed")
    world.quotes("NY", {"2029-12-31": "3000.00"})
    world.contract(to_be_fixed("0"))
    world.fix("F-1", "2025-01-15", "400", "2000.00")
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000", "990")])

    line = world.line(Duty.PREMIUM)
    weighed = [one for one in line.workings if one.text.startswith("net landed")]

    assert [(one.figure, one.reckoning) for one in weighed] == [
        ("396.00 kg", "990.00 * 0.40"),
        ("594.00 kg", "990.00 * 0.60"),
    ]
