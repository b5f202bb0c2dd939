"""ledger.books.dues: fixations, dates and the laws that every statement of dues obeys."""

from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.books.due_line import Standing
from ledger.books.dues import all_dues, dues_of
from ledger.books.effect import Subject, SubjectKind
from ledger.errors import NotFoundError
from ledger.trade.words import Duty
from tests.books.buying_world import (
    CONTRACT,
    SELLER,
    BuyingWorld,
    bought,
    certified,
    fixed,
    lot,
    minimum,
    row,
    to_be_fixed,
)


def in_tranches() -> BuyingWorld:
    """Return 3 t received in two parts: 1 t fixed at 2,000, 1 t at 2,500, 1 t open."""
    world = certified(minimum_prices=[minimum("1500.00")], premiums=[row("100.00")])
    world.quotes("NY", {"2025-06-02": "3000.00", "2025-06-20": "1000.00"})
    world.contract(to_be_fixed("-100.00"), on="2025-01-10")
    world.fix("F-2", "2025-02-20", "1000", "2500.00")
    world.fix("F-1", "2025-01-20", "1000", "2000.00")
    world.receive("S-2", "2025-03-01", [lot("L-2", "1500")])
    world.receive("S-1", "2025-02-01", [lot("L-1", "1500")])
    return world


def test_fixations_are_used_first_to_first_receipt_and_the_rest_is_provisional() -> (
    None
):
    lines = in_tranches().lines(Duty.PRICE, "2025-06-02")

    # S-1: 1,000 kg at 1,900 and 500 at 2,400; S-2: 500 at 2,400, 1,000 open at 2,900
    assert [(line.shipment, line.standing, line.amount_minor) for line in lines] == [
        ("S-1", Standing.FINAL, 190_000 + 120_000),
        ("S-2", Standing.FINAL, 120_000),
        ("S-2", Standing.PROVISIONAL, 290_000),
    ]
    assert lines[2].because == "the price is still to be fixed"


def test_the_minimum_holds_for_the_unfixed_rest_too() -> None:
    [*_, rest] = in_tranches().lines(Duty.PRICE, "2025-06-20")

    assert (rest.standing, rest.amount_minor) == (Standing.PROVISIONAL, 150_000)


def test_before_a_fixation_its_part_was_provisional() -> None:
    world = in_tranches()
    world.quotes("NY", {"2025-02-19": "2600.00"})

    lines = world.lines(Duty.PRICE, "2025-02-19")

    assert [(line.standing, line.amount_minor) for line in lines] == [
        (Standing.FINAL, 190_000),
        (Standing.PROVISIONAL, 125_000),
    ]


def test_an_unfixed_rest_without_a_quote_leaves_the_fixed_part_its_figure() -> None:
    lines = in_tranches().lines(Duty.PRICE, "2025-05-01")

    assert [line.amount_minor for line in lines] == [310_000, 120_000, None]
    assert [line.standing for line in lines[2:]] == [Standing.NOT_COMPUTABLE]


def test_ten_tonnes_unfixed_move_with_the_market_as_a_published_example_says() -> None:
    """From 2,539 to 2,451 dollars a tonne, ten tonnes lose 880 dollars.

    Source: futurelearn.com, course page on cocoa prices, June 2018.
    """
    world = certified()
    world.quotes("NY", {"2018-06-01": "2539.00", "2018-06-08": "2451.00"})
    world.contract(to_be_fixed("0"), on="2018-05-01")
    world.receive("S-1", "2018-05-20", [lot("L-1", "10000")])

    before, after = (
        world.line(as_of=day).amount_minor for day in ("2018-06-01", "2018-06-08")
    )

    assert (before, after) == (2_539_000, 2_451_000)


def test_dues_as_of_a_date_know_nothing_later() -> None:
    world = in_tranches()

    assert [line.shipment for line in world.dues("2025-01-31").lines] == []
    assert {"S-1"} == {line.shipment for line in world.dues("2025-02-28").lines}


@pytest.mark.parametrize(
    ("after", "due_on"),
    [("contract", "2025-01-25"), ("shipment", "2025-02-04"), ("receipt", "2025-02-16")],
)
def test_the_terms_say_from_which_document_the_days_run(
    after: str, due_on: str
) -> None:
    term = {"days": 15, "after": after}
    world = certified(premiums=[row("100.00")], price_due=term, premium_due=term)
    world.contract(fixed("2000.00"), on="2025-01-10", organic=True)
    world.ship("S-1", "2025-01-20")
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    assert {due_on} == {str(line.due_on) for line in world.dues().lines}


def test_a_shipment_at_sea_that_fell_due_is_pointed_out() -> None:
    world = certified(price_due={"days": 15, "after": "shipment"})
    world.contract(fixed("2000.00"))
    world.ship("S-1", "2025-01-20")
    world.receive("S-1", "2025-03-01", [lot("L-1", "1000")])

    in_time, late, arrived = (
        [finding.message for finding in world.dues(day).findings]
        for day in ("2025-02-04", "2025-02-05", "2025-03-01")
    )

    assert (in_time, arrived) == ([], [])
    assert late == [
        (
            "shipment S-1 of contract C-1 fell due on 2025-02-04 and is not received by "
            "2025-02-05; what is owed for it is counted once it is, so see to its payment "
            "by the shipping documents"
        )
    ]


def test_goods_at_sea_are_not_due_when_payment_follows_receipt() -> None:
    world = certified()
    world.contract(fixed("2000.00"))
    world.ship("S-1", "2025-01-20")

    assert world.dues().findings == ()


def test_a_fixation_that_is_overdue_is_pointed_out() -> None:
    world = certified()
    world.contract(to_be_fixed("0", fix_by="2025-02-01"), quantity_kg="1000")
    world.fix("F-1", "2025-01-20", "400", "2000.00")

    in_time, late = (world.dues(day).findings for day in ("2025-02-01", "2025-02-02"))
    world.fix("F-2", "2025-02-03", "600", "2000.00")

    assert in_time == ()
    assert late[0].message == (
        "contract C-1 was to be fixed by 2025-02-01, but 600.000 kg of it are not fixed; "
        "agree the fixation with the seller and record it with price.fixed"
    )
    assert world.dues("2025-02-03").findings == ()


@pytest.mark.parametrize(
    ("contract", "as_of", "because"),
    [
        ("C-9", "2030-01-01", "no contract C-9 is recorded"),
        ("C-1", "2025-01-09", "no contract C-1 was signed by 2025-01-09"),
    ],
)
def test_an_unknown_contract_is_said_in_one_sentence(
    contract: str, as_of: str, because: str
) -> None:
    world = bought(fixed("2000.00"))

    with pytest.raises(NotFoundError, match=because):
        dues_of(world.shelf, contract, date.fromisoformat(as_of))


def test_all_dues_are_those_of_every_contract_signed_by_then() -> None:
    world = bought(fixed("2000.00"))
    world.contract(fixed("2100.00"), contract="C-0", on="2025-02-01")

    found = [
        [dues.contract for dues in all_dues(world.shelf, date.fromisoformat(as_of))]
        for as_of in ("2025-01-09", "2025-01-10", "2025-02-01")
    ]

    assert found == [[], ["C-1"], ["C-0", "C-1"]]


def test_the_arithmetic_can_be_done_again_by_hand() -> None:
    world = certified(
        minimum_prices=[minimum("2400.00")],
        market={"market": "LDN"},
        market_governed_by="fixation",
    )
    world.quotes("LDN", {"2025-01-17": "1800.00"}, unit="GBP/t")
    world.rates("GBP", "USD", {"2025-01-17": "1.25"})
    world.contract(to_be_fixed("200.00"))
    world.fix("F-1", "2025-01-19", "1000", "2250.00")
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000.5")])
    world.quotes("NY", {"2030-01-01": "2000.00"})

    [line, _] = world.lines(Duty.PRICE)

    assert [(working.text, working.figure) for working in line.workings] == [
        ("net shipped weight of the lots taken", "1000.50 kg"),
        ("quantity fixed by F-1", "1000.00 kg"),
        ("of lot L-1 at the price of F-1", "1000.00 kg"),
        ("NY 2025-12 as fixed by F-1 on 2025-01-19", "2250.00 USD/t"),
        ("differential of contract C-1", "200.00 USD/t"),
        ("price agreed: NY with the differential", "2450.00 USD/t"),
        (
            (
                "guaranteed minimum for cocoa bean from PE, FOB, valid from 2000-01-01 "
                "(contract date 2025-01-10)"
            ),
            "2400.00 USD/t",
        ),
        ("day on which fair-harvest reads LDN: fixation date", "2025-01-19"),
        ("LDN on 2025-01-17, the last quote before 2025-01-19", "1800.00 GBP/t"),
        ("rate of 2025-01-17, USD for 1 GBP, the last rate before 2025-01-19", "1.25"),
        ("the same in USD", "2250.00 USD/t"),
        ("differential of contract C-1", "200.00 USD/t"),
        ("LDN with the differential", "2450.00 USD/t"),
        ("price owed", "2450.00 USD/t"),
        ("lots L-1: 1000.00 kg at 2450.00 USD/t", "2450.00 USD"),
        ("amount due", "2450.00 USD"),
    ]


def test_every_recorded_figure_names_the_entry_it_stands_in() -> None:
    world = bought(
        fixed("2000.00"),
        minimum_prices=[minimum("2400.00")],
        market={"market": "NY"},
        quotes={"2025-01-10": "2389.62"},
        premiums=[row("240.00")],
    )

    named = {
        (working.figure, found.kind)
        for line in world.dues().lines
        for working in line.workings
        if working.entry is not None
        and (found := world.shelf.at(working.entry)) is not None
    }

    assert {
        ("1000.00 kg", "shipment.received"),
        ("2000.00 USD/t", "contract.signed"),
        ("2400.00 USD/t", "terms.published"),
        ("2389.62 USD/t", "quote.recorded"),
        ("240.00 USD/t", "terms.published"),
    } == named


def test_a_correction_of_the_quote_changes_the_due() -> None:
    world = bought(
        fixed("1.00"), market={"market": "NY"}, quotes={"2025-01-10": "2600.00"}
    )
    slot = world.shelf.introducer(Subject(SubjectKind.QUOTE, "NY@2025-01-10"))
    assert slot is not None
    world.record(
        "correction",
        "2025-03-01",
        {
            "target": slot.slot,
            "reason": "misread",
            "replacement": {
                "entry_kind": "quote.recorded",
                "occurred_on": "2000-01-01",
                "body": {
                    "market": "NY",
                    "unit": "USD/t",
                    "source": "exchange page",
                    "quotes": [{"on": "2025-01-10", "level": "2500.00"}],
                },
            },
        },
    )

    assert world.line().amount_minor == 250_000


Price = st.decimals(min_value=1, max_value=9999, places=2)
Kilograms = st.decimals(min_value=Decimal("0.001"), max_value=99999, places=3)


def certified_with(
    floor: Decimal,
    premium: Decimal,
    market: Decimal,
    agreed: Decimal,
    kg: list[Decimal],
) -> BuyingWorld:
    world = certified(
        minimum_prices=[minimum(str(floor))],
        premiums=[
            row(
                str(premium),
                payees=[
                    {"payee": "seller", "share": "0.7"},
                    {"payee": "farmers", "share": "0.3"},
                ],
            )
        ],
        market={"market": "NY"},
    )
    world.quotes("NY", {"2025-01-10": str(market)})
    world.contract(fixed(str(agreed)), quantity_kg="900000")
    for number, mass in enumerate(kg):
        world.receive(f"S-{number}", "2025-02-01", [lot(f"L-{number}", str(mass))])
    return world


Masses = st.lists(Kilograms, min_size=1, max_size=3)


@given(floor=Price, premium=Price, market=Price, agreed=Price, kg=Masses)
def test_never_less_than_minimum_and_premium_is_owed(
    floor: Decimal,
    premium: Decimal,
    market: Decimal,
    agreed: Decimal,
    kg: list[Decimal],
) -> None:
    world = certified_with(floor, premium, market, agreed, kg)

    owed = sum(settlement.owed_minor for settlement in world.dues().settlements)

    least = (Fraction(floor) + Fraction(premium)) * sum(map(Fraction, kg)) / 1000 * 100
    lines = len(world.dues().lines)
    highest = max(floor, market, agreed)
    most = (Fraction(highest) + Fraction(premium)) * sum(map(Fraction, kg)) / 1000 * 100
    assert least <= owed
    assert most <= owed < most + lines, "rounded up by less than a cent a line"


@given(floor=Price, premium=Price, market=Price, agreed=Price, kg=Masses)
def test_paying_what_is_owed_leaves_nothing_outstanding(
    floor: Decimal,
    premium: Decimal,
    market: Decimal,
    agreed: Decimal,
    kg: list[Decimal],
) -> None:
    world = certified_with(floor, premium, market, agreed, kg)
    for number, settlement in enumerate(world.dues().settlements):
        minor = settlement.owed_minor
        amount = f"{minor // 100}.{minor % 100:02}"
        world.pay(
            f"P-{number}", "2025-02-20", amount, settlement.duty, payee=settlement.payee
        )

    settlements = world.dues().settlements

    assert len(settlements) == 3
    for settlement in settlements:
        assert (settlement.outstanding_minor, settlement.overpaid_minor) == (0, 0)
        assert all(part.late_days == 0 for d in settlement.lines for part in d.paid)


@given(
    floor=Price,
    market=Price,
    rise=Price,
    differential=st.decimals(min_value=-500, max_value=500, places=2),
    is_fixed=st.booleans(),
)
def test_what_is_due_never_falls_when_the_market_rises(
    floor: Decimal,
    market: Decimal,
    rise: Decimal,
    differential: Decimal,
    is_fixed: bool,  # noqa: FBT001 - drawn by name
) -> None:
    owed = []
    for level in (market, market + rise):
        world = certified(
            minimum_prices=[minimum(str(floor))],
            market={"market": "NY"},
            market_governed_by="fixation",
        )
        world.quotes("NY", {"2025-01-20": str(level)})
        world.contract(to_be_fixed(str(differential)))
        if is_fixed:
            world.fix("F-1", "2025-01-20", "1000", str(market))
        world.receive("S-1", "2025-01-15", [lot("L-1", "1000")])
        owed.append(world.line(as_of="2025-01-20").amount_minor or 0)

    assert owed[0] <= owed[1]


def test_a_statement_names_contract_seller_and_dates() -> None:
    dues = bought(fixed("2000.00")).dues("2025-05-01")

    assert (dues.contract, dues.cooperative, dues.currency) == (CONTRACT, SELLER, "USD")
    assert (str(dues.signed_on), str(dues.as_of)) == ("2025-01-10", "2025-05-01")
