"""ledger.books.fee: fees on what was sold under a claim, by quarter."""

from fractions import Fraction
from math import ceil

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.books.fee import FeeLine, fees_of
from ledger.books.quarter import Quarter
from ledger.reports.fee_table import explained_fees, fees_table
from tests.books.buying_world import BuyingWorld, usd
from tests.books.selling_world import (
    CLAIM,
    close,
    grind,
    line,
    sell,
    stocked,
    take_back,
    void,
    withdraw,
)

Q1, Q2 = Quarter(2025, 1), Quarter(2025, 2)


def by_mass(
    amount: str = "0.05", unit: str = "USD/kg", **more: object
) -> dict[str, object]:
    return {
        "basis": "bean equivalent",
        "valid_from": "2000-01-01",
        "price": usd(amount, unit),
        "payee": "scheme-office",
        "source": "fee table",
        **more,
    }


def by_value(percent: str = "1.5", **more: object) -> dict[str, object]:
    return {
        "basis": "invoiced value",
        "valid_from": "2000-01-01",
        "percent": percent,
        "payee": "scheme-office",
        "source": "fee table",
        **more,
    }


def fees(world: BuyingWorld, quarter: Quarter = Q1) -> list[FeeLine]:
    return list(fees_of(world.shelf, quarter).lines)


def amounts(world: BuyingWorld, quarter: Quarter = Q1) -> list[int]:
    return [one.amount_minor for one in fees(world, quarter)]


def test_a_fee_by_weight_is_on_bean_equivalent() -> None:
    """100 kg of liquor stand for 125 kg of beans at the factor 1.25.

    Source: International Cocoa Organization, conversion factor of cocoa paste, 1.25 (from
    memory).
    """
    world = stocked(fees=[by_mass()])
    grind(world, "1", "2025-02-01", "L-1", "150", "120")
    sell(world, "A", "2025-02-10", line("Q-1", "100", CLAIM))

    [found] = fees(world)

    assert (found.amount_minor, found.currency) == (625, "USD")
    assert Fraction(125_000) == found.amount
    assert (found.fee.payee, str(found.due_on)) == ("scheme-office", "2025-04-30")


def test_goods_sold_without_the_claim_bear_no_fee() -> None:
    world = stocked(fees=[by_mass(), by_value()])
    sell(world, "A", "2025-02-10", line("L-1", "100"), value="900.00")

    assert fees(world) == []


@pytest.mark.parametrize(
    ("on", "quarter"),
    [("2025-03-31", Q1), ("2025-04-01", Q2)],
)
def test_the_day_of_the_sale_picks_the_quarter(on: str, quarter: Quarter) -> None:
    world = stocked(fees=[by_mass()])
    sell(world, "A", on, line("L-1", "100", CLAIM))

    assert amounts(world, quarter) == [500]
    assert amounts(world, Q2 if quarter is Q1 else Q1) == []


def test_what_came_back_is_credited_at_the_fee_of_the_sale() -> None:
    world = stocked(fees=[by_mass(), by_mass("0.10", valid_from="2025-04-01")])
    sell(world, "A", "2025-03-10", line("L-1", "100", CLAIM))
    sell(world, "B", "2025-04-10", line("L-1", "100", CLAIM))
    take_back(world, "A", "2025-04-20", "L-1", "40")
    withdraw(world, "B", "2025-04-21", "L-1", "10")

    assert amounts(world, Q1) == [500]
    assert sorted(amounts(world, Q2)) == [-200, 900]


def test_a_fee_by_value_is_on_the_invoice() -> None:
    """1.5 per cent of 900.00 are 13.50."""
    world = stocked(fees=[by_value()])
    sell(world, "A", "2025-02-10", line("L-1", "100", CLAIM), value="900.00")

    [found] = fees(world)

    assert (found.amount_minor, found.currency) == (1350, "GBP")
    assert Fraction(900) == found.amount


def test_of_a_mixed_invoice_the_claimed_part_is_taken_by_weight() -> None:
    world = stocked(fees=[by_value()])
    lines = (line("L-1", "100", CLAIM), line("L-2", "200"))
    sell(world, "A", "2025-02-10", *lines, value="900.00")

    # a third of 900.00
    assert amounts(world) == [450]


def test_a_return_gives_its_part_of_the_value_back() -> None:
    world = stocked(fees=[by_value()])
    sell(world, "A", "2025-02-10", line("L-1", "100", CLAIM), value="900.00")
    take_back(world, "A", "2025-04-10", "L-1", "25")
    withdraw(world, "A", "2025-04-11", "L-1", "25")

    # twice a quarter of 13.50, 3.375 each, rounded up once
    assert (amounts(world, Q1), amounts(world, Q2)) == ([1350], [-675])


def test_each_currency_of_invoices_has_its_own_line() -> None:
    world = stocked(fees=[by_value("10")])
    sell(world, "A", "2025-02-10", line("L-1", "1", CLAIM), value="10.00")
    sell(
        world,
        "B",
        "2025-02-11",
        line("L-1", "1", CLAIM),
        value="1000",
        currency="JPY",
    )

    assert [(one.currency, one.amount_minor) for one in fees(world)] == [
        ("GBP", 100),
        ("JPY", 100),
    ]


def test_a_sale_without_its_value_is_pointed_out_and_left_out() -> None:
    world = stocked(fees=[by_value(), by_mass()])
    sell(world, "A", "2025-02-10", line("L-1", "100", CLAIM))

    found = fees_of(world.shelf, Q1)

    assert [one.fee.basis for one in found.lines] == ["bean equivalent"]
    assert [one.message for one in found.findings] == [
        (
            "sale A of 2025-02-10 claims fair-harvest, whose fee is on the value invoiced, "
            "but its value is not recorded or not disclosed to this reader; correct the "
            "sale to state it, or have it disclosed"
        )
    ]
    assert fees_table(found).notes[0].startswith("Sale A of 2025-02-10 claims")


@pytest.mark.parametrize(("on", "cents"), [("2025-02-14", 500), ("2025-02-15", 1000)])
def test_the_row_in_force_on_the_day_of_the_sale_is_charged(
    on: str, cents: int
) -> None:
    world = stocked(fees=[by_mass(), by_mass("0.10", valid_from="2025-02-15")])
    sell(world, "A", on, line("L-1", "100", CLAIM))

    assert amounts(world) == [cents]


def test_rows_for_other_commodities_and_before_their_time_charge_nothing() -> None:
    world = stocked(fees=[by_mass(commodity="sugar"), by_mass(valid_from="2026-01-01")])
    sell(world, "A", "2025-02-10", line("L-1", "100", CLAIM))

    assert fees(world) == []


def test_two_payees_are_charged_beside_one_another() -> None:
    world = stocked(fees=[by_mass(), by_mass("0.02", payee="audit-fund")])
    sell(world, "A", "2025-02-10", line("L-1", "100", CLAIM))

    assert {one.fee.payee: one.amount_minor for one in fees(world)} == {
        "scheme-office": 500,
        "audit-fund": 200,
    }


def test_a_sale_that_was_made_void_is_not_charged() -> None:
    world = stocked(fees=[by_mass(), by_value()])
    seq = sell(world, "A", "2025-02-10", line("L-1", "100", CLAIM), value="9.00")
    world.record("correction", "2025-02-11", {"target": seq, "reason": "typed twice"})

    assert fees(world) == []


def test_what_is_corrected_after_the_close_is_charged_where_it_lands() -> None:
    world = stocked(fees=[by_mass()])
    seq = sell(world, "A", "2025-02-10", line("L-1", "100", CLAIM))
    world.record(
        "period.closed",
        "2025-04-02",
        {
            "period": "2025-Q1",
            "start": "2025-01-01",
            "end": "2025-03-31",
            "signed_off_by": "officer",
        },
    )
    world.record("correction", "2025-04-11", {"target": seq, "reason": "typed twice"})

    assert (amounts(world, Q1), amounts(world, Q2)) == ([500], [-500])


def test_the_arithmetic_of_fees_is_shown_sale_by_sale() -> None:
    world = stocked(fees=[by_value()])
    lines = (line("L-1", "100", CLAIM), line("L-2", "200"))
    sell(world, "A", "2025-02-10", *lines, value="900.00")
    sell(world, "B", "2025-02-11", line("L-1", "10", CLAIM), value="90.01")

    assert explained_fees(fees_of(world.shelf, Q1)) == (
        """\
Fees on certified sales, 2025Q1

fair-harvest to scheme-office, invoiced value: 5.86 GBP, due on 2025-04-30
   1. value of sale A: 900.00 GBP  [entry 10]
   2. part of sale A by weight: claimed, 2025-02-10: 300.00 GBP  [entry 10]
       = 900.00 * 100.00 / 300.00
   3. value of sale B: 90.01 GBP  [entry 11]
   4. part of sale B by weight: claimed, 2025-02-11: 90.01 GBP  [entry 11]
       = 90.01 * 10.00 / 10.00
   5. fee, valid from 2000-01-01: 1.5 % of the value invoiced  [entry 2]
       by fair-harvest 1: fee table
   6. value of what was claimed: 390.01 GBP
       = 300.00 + 90.01
   7. fee: 5.85015 GBP
       = 390.01 * 1.50 / 100
   8. amount due: 5.86 GBP
       = 5.85015
       by rounded up to the smallest unit of the currency
"""
    )


def test_every_gram_under_a_fee_by_weight_is_told_with_its_entry() -> None:
    world = stocked(fees=[by_mass()])
    sold = sell(world, "A", "2025-02-10", line("L-1", "100", CLAIM))
    take_back(world, "A", "2025-02-20", "L-1", "40")

    [found] = fees(world)

    assert [(one.text, one.figure, one.entry) for one in found.workings[:2]] == [
        ("sold under sale A, 2025-02-10", "100.00 kg", sold),
        ("returned under sale A, 2025-02-20", "-40.00 kg", sold + 1),
    ]


def test_the_least_mass_claimed_is_told_as_claimed_and_what_came_back_as_that() -> None:
    """One gram of a kilogram that was invoiced at 900.00."""
    world = stocked(fees=[by_value()])
    lines = (line("L-1", "0.001", CLAIM), line("L-2", "0.999"))
    sell(world, "A", "2025-02-10", *lines, value="900.00")
    sell(world, "B", "2025-02-11", line("L-1", "1", CLAIM), value="900.00")
    take_back(world, "B", "2025-02-20", "L-1", "0.001")

    told = {one.text: one.figure for one in fees(world)[0].workings}

    part = "part of sale {} by weight: {}, {}".format
    assert told[part("A", "claimed", "2025-02-10")] == "0.90 GBP"
    assert told[part("B", "claimed", "2025-02-11")] == "900.00 GBP"
    assert told[part("B", "claims that came back", "2025-02-20")] == "-0.90 GBP"


def test_a_quarter_without_fees_says_so() -> None:
    found = fees_of(stocked().shelf, Q1)

    assert explained_fees(found).endswith("No fee is charged in this quarter.\n")
    assert list(fees_table(found).rows) == []


@settings(max_examples=40, deadline=None)
@given(
    sales=st.lists(
        st.tuples(
            st.integers(1, 150),
            st.integers(1, 4000),
            st.booleans(),
            st.integers(1, 9999),
        ),
        max_size=8,
    )
)
def test_fees_are_the_plain_sum_of_what_was_claimed(
    sales: list[tuple[int, int, bool, int]],
) -> None:
    """A second reading: kilograms and values of claimed sales, added up by quarter."""
    world = stocked(fees=[by_mass("0.0713"), by_value("2.125")])
    kg: dict[str, Fraction] = {}
    value: dict[str, Fraction] = {}
    for number, (day, hundredths, is_claimed, cents) in enumerate(sales):
        on = f"2025-{2 + day // 28:02}-{1 + day % 28:02}"
        claims = [CLAIM] if is_claimed else []
        mass = f"{hundredths / 100:.2f}"
        sold = line("L-1", mass, *claims)
        sell(world, f"A{number}", on, sold, value=f"{cents / 100:.2f}")
        if is_claimed:
            name = str(Quarter(2025, (int(on[5:7]) + 2) // 3))
            kg[name] = kg.get(name, Fraction(0)) + Fraction(hundredths, 100)
            value[name] = value.get(name, Fraction(0)) + Fraction(cents, 100)

    for quarter in (Q1, Q2, Quarter(2025, 3)):
        found = {one.fee.basis: one.amount_minor for one in fees(world, quarter)}

        name = str(quarter)
        expected = {}
        if name in kg:
            expected = {
                "bean equivalent": ceil(kg[name] * Fraction("7.13")),
                "invoiced value": ceil(value[name] * Fraction("2.125")),
            }
        assert found == expected


def test_a_closed_quarter_says_that_its_fees_by_value_follow_later_corrections() -> (
    None
):
    world = stocked(fees=[by_value()])
    sold = sell(world, "A", "2025-02-10", line("L-1", "100", CLAIM), value="100.00")
    close(world, "2025-01-01", "2025-03-31", "2025-04-02")
    notes_before = fees_table(fees_of(world.shelf, Q1)).notes
    later = void(world, sold, "2025-04-10")

    found = fees_of(world.shelf, Q1)

    assert found.corrected == (later,)
    assert not any("Corrected after" in note for note in notes_before)
    assert any(f"by entries {later}: " in note for note in fees_table(found).notes)
