"""Claims are taken back by credit note: the accounts get them back once, and no more."""

from collections.abc import Mapping

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.books.claimed import lines_out
from ledger.books.effect import Subject, SubjectKind
from ledger.books.finding import EntryRefusedError
from ledger.books.lookup import expect
from ledger.trade.sale import SaleDispatched
from tests.world import SCHEME, World, certified, claim, refused, weighed

SOLD = "2025-02-01"
LATER = "2025-03-01"
RIGHT = claim()


def sold(lines: list[Mapping[str, object]] | None = None) -> World:
    """1,000 kg of beans bought, 100 kg of them sold under the claim as they are."""
    world = certified()
    world.receive({"L": "1000"})
    world.sell("V", lines or weighed({"L": "100"}), SOLD, RIGHT)
    return world


def withdraw(
    world: World,
    mass_kg: str,
    on: str = LATER,
    *,
    scheme: str = SCHEME,
    lot: str = "L",
    sale: str = "V",
    withdrawal: str | None = None,
) -> int:
    return world.record(
        "claim.withdrawn",
        on,
        withdrawal=withdrawal or f"W{len(world.raws)}",
        sale=sale,
        document="credit note 7",
        reason="sold without cover",
        lines=[{"lot": lot, "mass_kg": mass_kg, "scheme": scheme}],
    )


def test_what_the_claim_drew_comes_back_and_the_goods_do_not() -> None:
    world = sold()

    withdraw(world, "40")

    assert world.account(SOLD) == 900_000
    assert world.account(LATER) == 940_000
    assert world.stock("L") == 900_000


def test_a_factor_that_leaves_a_part_of_a_gram_comes_back_rounded_down() -> None:
    """0.334 kg of butter at 1.33 kg of beans each is 0.44422 kg."""
    world = certified()
    world.receive({"L": "1000"})
    world.make({"L": "10"}, {"Q": "10"}, form="butter")
    world.sell("V", {"Q": "1.001"}, SOLD, RIGHT)
    before = world.account()

    withdraw(world, "0.334", lot="Q")

    assert world.account() - before == 444


def test_goods_returned_after_their_claim_was_withdrawn_give_nothing_back_twice() -> (
    None
):
    world = sold()
    withdraw(world, "40")

    world.take_back("R", "V", {"L": "100"}, "2025-03-02")

    assert world.account() == 1_000_000
    assert world.stock("L") == 1_000_000


def test_a_withdrawal_after_a_return_reaches_only_what_is_still_claimed() -> None:
    world = sold()
    world.take_back("R", "V", {"L": "70"}, "2025-02-20")

    with refused("more-withdrawn-than-claimed"):
        withdraw(world, "30.001")
    withdraw(world, "30")

    assert world.account() == 1_000_000


def test_lines_without_the_claim_are_left_alone() -> None:
    world = sold(
        [
            {"lot": "L", "mass_kg": "50", "claims": []},
            {"lot": "L", "mass_kg": "20"},
            {"lot": "L", "mass_kg": "30"},
        ]
    )

    withdraw(world, "45")

    assert world.account() == 995_000
    with refused("more-withdrawn-than-claimed"):
        withdraw(world, "6")


@pytest.mark.parametrize(
    ("rule", "change"),
    [
        ("unknown-sale", {"sale": "ghost"}),
        ("more-withdrawn-than-claimed", {"scheme": "another"}),
        ("more-withdrawn-than-claimed", {"lot": "M"}),
        ("withdrawal-before-sale", {"on": "2025-01-31"}),
    ],
)
def test_a_withdrawal_that_does_not_fit_the_sale_is_refused(
    rule: str, change: dict[str, str]
) -> None:
    world = sold()

    with refused(rule):
        withdraw(world, "1", **change)


def test_one_credit_note_recorded_twice_gives_nothing_back_twice() -> None:
    world = sold()
    withdraw(world, "40", withdrawal="CN-7")

    with refused("name-taken"):
        withdraw(world, "40", withdrawal="CN-7")

    assert world.account() == 940_000


def test_two_lines_of_one_withdrawal_count_together() -> None:
    world = sold()
    line = {"lot": "L", "mass_kg": "51", "scheme": SCHEME}

    with refused("more-withdrawn-than-claimed"):
        world.record(
            "claim.withdrawn",
            LATER,
            withdrawal="W",
            sale="V",
            document="note",
            reason="-",
            lines=[line, line],
        )


def test_a_sale_corrected_to_less_than_was_withdrawn_is_refused() -> None:
    world = sold()
    seq = len(world.raws) - 1
    withdraw(world, "60")

    with refused("later-entry-breaks"):
        world.replace(seq, lines=weighed({"L": "50"}))


def test_an_earlier_return_corrected_counts_later_withdrawals_again() -> None:
    world = sold()
    seq = world.take_back("R", "V", {"L": "10"}, "2025-02-20")
    withdraw(world, "90")

    with refused("later-entry-breaks"):
        world.replace(seq, lines=weighed({"L": "11"}))
    world.replace(seq, lines=weighed({"L": "4"}))

    assert world.account() == 994_000


STEPS = st.lists(st.tuples(st.booleans(), st.integers(1, 70_000)), max_size=8)


@given(STEPS)
def test_no_order_of_returns_and_withdrawals_gives_back_more_than_was_claimed(
    steps: list[tuple[bool, int]],
) -> None:
    world = sold([{"lot": "L", "mass_kg": "30", "claims": []}, *weighed({"L": "70"})])
    for place, (is_return, grams) in enumerate(steps):
        kg = f"{grams / 1000:.3f}"
        try:
            if is_return:
                world.take_back(f"R{place}", "V", {"L": kg}, LATER)
            else:
                withdraw(world, kg)
        except EntryRefusedError:
            continue

    found = world.shelf.introducer(Subject(SubjectKind.SALE, "V"))
    assert found is not None
    lines = lines_out(world.shelf, expect(found.record, SaleDispatched))
    still_claimed = sum(out.claimed_g.get(SCHEME, 0) for out in lines)
    assert 1_000_000 - still_claimed == world.account()
    assert all(
        0 <= claimed_g <= out.goods_g
        for out in lines
        for claimed_g in out.claimed_g.values()
    )
