"""ledger.books.payment: what is paid, in time or late, in part or too much."""

from datetime import date
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.books.due_line import PaidPart, Standing
from ledger.trade.words import Duty
from tests.books.buying_world import BuyingWorld, certified, fixed, lot, row


def two_receipts() -> BuyingWorld:
    """Return 1,000.00 due on 2025-03-03 and 2,000.00 due on 2025-03-31, and premiums."""
    world = certified(premiums=[row("100.00")])
    world.contract(fixed("1000.00"))
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])
    world.receive("S-2", "2025-03-01", [lot("L-2", "2000")])
    return world


def paid(
    world: BuyingWorld, as_of: str = "2030-01-01"
) -> list[list[tuple[str, int, int]]]:
    return [
        [(part.payment, part.amount_minor, part.late_days) for part in line.paid]
        for line in world.lines(Duty.PRICE, as_of)
    ]


@pytest.mark.parametrize(
    ("on", "late_days"), [("2025-03-02", 0), ("2025-03-03", 0), ("2025-03-04", 1)]
)
def test_a_payment_is_late_from_the_day_after_it_fell_due(
    on: str, late_days: int
) -> None:
    world = two_receipts()
    world.pay("P-1", on, "1000.00")

    assert [[("P-1", 100_000, late_days)], []] == paid(world)


def test_the_oldest_due_is_paid_first_and_each_part_is_late_by_itself() -> None:
    world = two_receipts()
    world.pay("P-1", "2025-03-01", "400.00")
    world.pay("P-2", "2025-04-02", "1500.00")

    assert paid(world) == [
        [("P-1", 40_000, 0), ("P-2", 60_000, 30)],
        [("P-2", 90_000, 2)],
    ]
    assert [d.outstanding_minor for d in world.lines(Duty.PRICE)] == [0, 110_000]


def test_a_payment_that_names_its_shipment_goes_there_first() -> None:
    world = two_receipts()
    world.pay("P-1", "2025-04-02", "2500.00", shipment="S-2")

    assert paid(world) == [[("P-1", 50_000, 30)], [("P-1", 200_000, 2)]]


def test_a_duty_is_not_paid_by_another() -> None:
    world = two_receipts()
    world.pay("P-1", "2025-02-10", "5000.00")

    [price, premium] = world.dues().settlements

    assert (
        price.owed_minor,
        price.paid_minor,
        price.outstanding_minor,
        price.overpaid_minor,
    ) == (300_000, 500_000, 0, 200_000)
    assert (
        premium.owed_minor,
        premium.paid_minor,
        premium.outstanding_minor,
        premium.overpaid_minor,
    ) == (30_000, 0, 30_000, 0)


@pytest.mark.parametrize("towards", ["price", "advance"])
def test_where_a_payment_is_sealed_nobody_can_tell_what_is_open(towards: str) -> None:
    world = two_receipts()
    world.pay("P-1", "2025-02-10", "1000.00")
    world.pay("P-2", "2025-02-10", "100.00", "premium")
    world.pay("P-3", "2025-02-11", None, towards)

    [price, premium] = world.dues().settlements

    assert [
        (line.standing, line.amount_minor, line.outstanding_minor, line.paid)
        for line in price.lines
    ] == [(Standing.NOT_DISCLOSED, None, None, ())] * 2
    assert {line.because for line in price.lines} == {
        "a payment towards it is sealed from this reader"
    }
    assert (premium.is_complete, premium.outstanding_minor) == (True, 20_000)
    assert world.dues("2025-02-10").settlements[0].is_complete


def test_a_sealed_payment_leaves_what_others_are_owed() -> None:
    world = two_receipts()
    world.party("agent", "payee")
    world.pay("P-1", "2025-02-11", None, payee="agent")

    [price, premium] = world.dues().settlements

    assert (price.outstanding_minor, premium.outstanding_minor) == (300_000, 30_000)


def test_a_line_without_a_figure_keeps_its_own_reason() -> None:
    world = certified()
    world.contract(None)
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])
    world.pay("P-1", "2025-02-11", None)

    [line] = world.lines(Duty.PRICE)

    assert line.because.startswith("the price of contract")


def test_money_to_somebody_who_is_owed_nothing_is_overpaid() -> None:
    world = two_receipts()
    world.party("agent", "payee")
    world.pay("P-1", "2025-02-10", "10.00", "premium", payee="agent")

    settlement = world.dues().settlements[-2]

    assert (
        settlement.payee,
        settlement.lines,
        settlement.overpaid_minor,
    ) == ("agent", (), 1000)
    assert (
        PaidPart("P-1", world.entries - 1, date(2025, 2, 10), 1000),
    ) == settlement.unused


def test_an_advance_is_set_off_once_the_goods_arrive() -> None:
    world = two_receipts()
    world.pay("P-1", "2025-01-15", "600.00")

    [before] = world.dues("2025-01-31").settlements

    assert (before.owed_minor, before.overpaid_minor) == (0, 60_000)
    assert paid(world) == [[("P-1", 60_000, 0)], []]


def test_later_payments_do_not_count_yet() -> None:
    world = two_receipts()
    world.pay("P-1", "2025-04-02", "1000.00")

    assert paid(world, "2025-04-01") == [[], []]
    assert [
        line.late_days(date(2025, 4, 1))
        for line in world.lines(Duty.PRICE, "2025-04-01")
    ] == [29, 1]
    assert paid(world, "2025-04-02") == [[("P-1", 100_000, 30)], []]


def test_what_was_paid_late_stays_late_once_it_is_paid() -> None:
    world = two_receipts()
    world.pay("P-1", "2025-04-02", "1000.00")
    [line, _] = world.lines(Duty.PRICE)

    assert (
        line.late_days(date(2030, 1, 1)),
        line.overdue_days(date(2030, 1, 1)),
    ) == (30, 0)


def test_money_beyond_a_due_without_a_figure_is_kept_in_sight() -> None:
    world = certified(market={"market": "NY"})
    world.contract(fixed("1000.00"))
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])
    world.pay("P-1", "2025-02-10", "10.00")

    [settlement] = world.dues().settlements

    assert not settlement.is_complete
    assert (
        settlement.owed_minor,
        settlement.paid_minor,
        settlement.outstanding_minor,
        settlement.overpaid_minor,
    ) == (0, 1000, 0, 1000)
    assert settlement.lines[0].outstanding_minor is None
    assert settlement.lines[0].overdue_days(date(2030, 1, 1)) == 0


def test_the_oldest_due_is_not_always_the_first_received() -> None:
    world = certified(premiums=[row("100.00")], premium_due={"days": 60})
    world.terms(scheme="other", premiums=[row("50.00")], premium_due={"days": 10})
    world.certificate("other")
    claims = [
        {"scheme": s, "custody": "mass balance"} for s in ("fair-harvest", "other")
    ]
    world.contract(fixed("1000.00"), claims=claims)
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])
    world.receive("S-2", "2025-02-15", [lot("L-2", "1000")])
    world.pay("P-1", "2025-02-20", "120.00", "premium")

    lines = world.lines(Duty.PREMIUM)

    assert [(line.scheme, line.shipment, line.paid_minor) for line in lines] == [
        ("other", "S-1", 5_000),
        ("other", "S-2", 5_000),
        ("fair-harvest", "S-1", 2_000),
        ("fair-harvest", "S-2", 0),
    ]


Payments = st.lists(
    st.tuples(
        st.dates(date(2025, 1, 15), date(2025, 6, 30)).map(str),
        st.integers(min_value=1, max_value=150_000),
        st.sampled_from(["price", "premium"]),
        st.sampled_from([None, "S-1", "S-2"]),
    ),
    max_size=6,
)


@given(payments=Payments, order=st.randoms(use_true_random=False))
def test_the_order_of_recording_makes_no_difference(
    payments: list[tuple[str, int, str, str | None]],
    order: Random,
) -> None:
    named = list(enumerate(payments))
    first, second = two_receipts(), two_receipts()
    shuffled = list(named)
    order.shuffle(shuffled)
    for world, ordered in ((first, named), (second, shuffled)):
        for number, (on, minor, towards, shipment) in ordered:
            amount = f"{minor // 100}.{minor % 100:02}"
            world.pay(f"P-{number}", on, amount, towards, shipment=shipment)

    one, other = (
        [
            [
                [(p.payment, p.amount_minor, p.late_days) for p in line.paid],
                s.overpaid_minor,
            ]
            for s in world.dues().settlements
            for line in s.lines
        ]
        for world in (first, second)
    )

    assert one == other


@given(payments=Payments)
def test_every_cent_paid_is_somewhere(
    payments: list[tuple[str, int, str, str | None]],
) -> None:
    world = two_receipts()
    for number, (on, minor, towards, shipment) in enumerate(payments):
        amount = f"{minor // 100}.{minor % 100:02}"
        world.pay(f"P-{number}", on, amount, towards, shipment=shipment)

    settlements = world.dues().settlements

    assert sum(p[1] for p in payments) == sum(s.paid_minor for s in settlements)
    for s in settlements:
        assert s.owed_minor - s.outstanding_minor == s.paid_minor - s.overpaid_minor
        assert not (s.outstanding_minor and s.overpaid_minor)
