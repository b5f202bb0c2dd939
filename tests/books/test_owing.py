"""ledger.books.owing: totals by contract and cooperative, and what is short."""

from datetime import date

from ledger.books.dues import ContractDues, all_dues
from ledger.books.owing import contract_totals, cooperative_totals, shortfalls
from ledger.trade.words import Duty
from tests.books.buying_world import (
    BuyingWorld,
    certified,
    fixed,
    lot,
    row,
    to_be_fixed,
)


def buying() -> BuyingWorld:
    """Return two cooperatives: C-1 and C-2 of one in USD, C-3 of another in GBP."""
    world = certified(premiums=[row("100.00")])
    world.party("coop-bajo")
    world.certificate(holder="coop-bajo")
    world.rates("GBP", "USD", {"2025-02-01": "1.25", "2025-03-01": "1.25"})
    world.quotes("NY", {"2025-04-15": "3000.00"})
    world.contract(fixed("1000.00"))
    world.contract(to_be_fixed("0"), contract="C-2")
    world.contract(fixed("800.00", "GBP/t"), contract="C-3", seller="coop-bajo")
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])
    world.receive("S-2", "2025-03-01", [lot("L-2", "2000")], contract="C-2")
    world.receive("S-3", "2025-03-01", [lot("L-3", "1000")], contract="C-3")
    world.pay("P-1", "2025-02-20", "400.00")
    world.pay("P-2", "2025-02-21", "250.00", "premium")
    return world


def dues(as_of: str) -> tuple[ContractDues, ...]:
    return all_dues(buying().shelf, date.fromisoformat(as_of))


def test_totals_of_a_contract_add_up() -> None:
    [total] = contract_totals(dues("2025-04-15")[0])

    assert total.currency == "USD"
    assert (
        total.owed_minor,
        total.provisional_minor,
        total.lines_without_figure,
    ) == (110_000, 0, 0)
    assert (
        total.paid_minor,
        total.outstanding_minor,
        total.overdue_minor,
        total.overpaid_minor,
    ) == (65_000, 60_000, 60_000, 15_000)


def test_totals_of_a_cooperative_add_up_its_contracts_by_currency() -> None:
    alto, bajo = cooperative_totals(dues("2025-04-15"))

    assert (
        alto.cooperative,
        alto.contracts,
        alto.total.currency,
    ) == ("coop-alto", ("C-1", "C-2"), "USD")
    assert (
        alto.total.owed_minor,
        alto.total.provisional_minor,
    ) == (110_000 + 620_000, 600_000)
    # a premium of USD 100 a tonne is GBP 80 at 1.25
    assert (
        bajo.cooperative,
        bajo.contracts,
        bajo.total.currency,
        bajo.total.owed_minor,
    ) == ("coop-bajo", ("C-3",), "GBP", 88_000)


def test_nothing_is_overdue_on_the_day_it_falls_due() -> None:
    on_the_day, day_after = (
        contract_totals(dues(day)[0])[0].overdue_minor
        for day in ("2025-03-03", "2025-03-04")
    )

    assert (on_the_day, day_after) == (0, 60_000)


def test_shortfalls_say_who_is_owed_what_since_when() -> None:
    short = shortfalls(dues("2025-04-15"))

    assert [
        (
            s.contract,
            s.duty,
            s.currency,
            s.outstanding_minor,
            s.provisional_minor,
            str(s.due_on),
            s.late_days,
            s.shipments,
        )
        for s in short
    ] == [
        ("C-1", Duty.PRICE, "USD", 60_000, 0, "2025-03-03", 43, ("S-1",)),
        ("C-2", Duty.PRICE, "USD", 600_000, 600_000, "2025-03-31", 15, ("S-2",)),
        ("C-2", Duty.PREMIUM, "USD", 20_000, 0, "2025-03-31", 15, ("S-2",)),
        ("C-3", Duty.PRICE, "GBP", 80_000, 0, "2025-03-31", 15, ("S-3",)),
        ("C-3", Duty.PREMIUM, "GBP", 8_000, 0, "2025-03-31", 15, ("S-3",)),
    ]


def test_the_longest_overdue_comes_first_whatever_its_contract() -> None:
    world = buying()
    world.contract(fixed("1000.00"), contract="C-0")
    world.receive("S-0", "2025-03-10", [lot("L-0", "1000")], contract="C-0")

    short = shortfalls(all_dues(world.shelf, date(2025, 4, 15)))

    assert [s.contract for s in short] == [
        "C-1",
        "C-2",
        "C-2",
        "C-3",
        "C-3",
        "C-0",
        "C-0",
    ]


def test_one_payment_of_a_shortfall_settles_it() -> None:
    world = buying()
    day = date(2025, 4, 15)
    [first, *rest] = shortfalls(all_dues(world.shelf, day))
    world.pay(
        "P-3",
        "2025-04-15",
        f"{first.outstanding_minor // 100}.00",
        first.duty,
        payee=first.payee,
    )

    assert tuple(rest) == shortfalls(all_dues(world.shelf, day))


def test_before_anything_is_due_nothing_is_short() -> None:
    assert shortfalls(dues("2025-02-28")) == ()


def test_lines_without_a_figure_are_counted_and_left_out() -> None:
    world = certified(premiums=[row("100.00")])
    world.contract(None)
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    unknown, known = contract_totals(world.dues())

    assert (
        unknown.currency,
        unknown.owed_minor,
        unknown.lines_without_figure,
    ) == (None, 0, 1)
    assert (
        known.currency,
        known.owed_minor,
        known.lines_without_figure,
    ) == ("USD", 10_000, 0)
    assert [short.duty for short in shortfalls([world.dues()])] == [Duty.PREMIUM]
