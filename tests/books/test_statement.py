"""ledger.books.statement: what a grower should be able to read of a contract."""

from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.books.owing import shortfalls
from ledger.books.statement import DOCUMENT, Statement, statement_of, statements_for
from ledger.errors import NotFoundError
from ledger.trade.record import body_of
from tests.books.buying_world import (
    CONTRACT,
    SELLER,
    BuyingWorld,
    bought,
    certified,
    fixed,
    lot,
    row,
)
from tests.books.random_buying import worlds

LATER = date(2025, 6, 1)


def statement(world: BuyingWorld, as_of: date = LATER) -> Statement:
    return statement_of(world.shelf, CONTRACT, as_of)


def test_a_delivery_has_its_weights_and_papers() -> None:
    world = certified()
    world.contract(fixed("2000.00"), franchise_percent="0.5")
    world.ship("S-1", "2025-01-20")
    world.receive(
        "S-1",
        "2025-02-01",
        [
            lot("L-1", "1000", "990"),
            lot("L-2", "500", decision="rejected", rejected_because="mould"),
        ],
    )

    [found] = statement(world).deliveries

    assert (found.shipment, found.bill_of_lading) == ("S-1", "BL-S-1")
    assert (str(found.shipped_on), str(found.received_on)) == (
        "2025-01-20",
        "2025-02-01",
    )
    assert (found.taken, found.rejected) == (("L-1",), (("L-2", "mould"),))
    assert (found.shipped_g, found.landed_g) == (1_000_000, 990_000)
    assert Fraction(995_000) == found.payable_g


def test_a_delivery_that_was_rejected_whole_is_listed_too() -> None:
    world = certified()
    world.contract(fixed("2000.00"))
    bad = lot("L-1", "500", decision="rejected", rejected_because="mould")
    world.receive("S-1", "2025-02-01", [bad])

    [found] = statement(world).deliveries

    assert not found.taken
    assert not found.payable_g
    assert (found.bill_of_lading, found.shipped_on) == (None, None)


def test_a_cooperative_has_a_statement_of_each_of_its_contracts() -> None:
    world = bought(fixed("2000.00"))
    world.contract(fixed("2100.00"), contract="C-0", on="2025-06-02")
    world.contract(fixed("2100.00"), contract="C-2", on="2025-06-01")

    found = statements_for(world.shelf, SELLER, LATER)

    assert [one.contract.contract for one in found] == ["C-1", "C-2"]
    assert [
        one.contract.contract for one in statements_for(world.shelf, "C-2", LATER)
    ] == ["C-2"]


@pytest.mark.parametrize("name", ["nobody", "coop-beta"])
def test_an_unknown_name_is_said_in_one_sentence(name: str) -> None:
    world = bought(fixed("2000.00"))
    world.party("coop-beta")

    with pytest.raises(NotFoundError, match=f"{name} is no contract, and no seller"):
        statements_for(world.shelf, name, LATER)


def test_the_registered_name_stands_for_the_seller() -> None:
    world = certified()
    world.record(
        "party.registered",
        "2000-01-01",
        {
            "party": "coop-beta",
            "roles": ["grower cooperative"],
            "country": "PE",
            "legal_name": "Cooperativa Beta",
        },
    )
    world.contract(fixed("2000.00"), seller="coop-beta")

    assert statement(world).seller == "Cooperativa Beta"
    assert statement(bought(fixed("2000.00"))).seller == SELLER


def test_terms_of_signing_and_of_today_are_both_there() -> None:
    world = bought(fixed("2000.00"))
    world.record(
        "terms.published",
        "2025-05-01",
        {
            **body_of(statement(world).terms[0]),
            "version": "2",
            "valid_from": "2025-05-01",
        },
    )

    found = statement(world)

    assert [
        (one.version, two.version)
        for one, two in zip(found.terms, found.in_force, strict=True)
    ] == [("1", "2")]


def test_the_settling_payment_names_all_it_needs() -> None:
    world = bought(fixed("2000.00"))
    world.pay("P-1", "2025-02-01", "500.00")

    [settling] = statement(world).settling

    assert body_of(settling.payment) == {
        "payment": "C-1-settles-1",
        "contract": "C-1",
        "payee": SELLER,
        "towards": "price",
        "money": {"currency": "USD", "amount": "1500.00"},
        "document": DOCUMENT,
        "shipment": "S-1",
    }


def test_a_name_that_is_taken_is_not_proposed() -> None:
    world = bought(fixed("2000.00"), premiums=[row("240.00")])
    world.pay("C-1-settles-1", "2025-02-01", "500.00")

    names = [settling.payment.payment for settling in statement(world).settling]

    assert names == ["C-1-settles-2", "C-1-settles-3"]


def test_a_long_contract_number_still_gives_a_name() -> None:
    name = "K" * 64
    world = certified()
    world.contract(fixed("2000.00"), contract=name)
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")], contract=name)

    [settling] = statement_of(world.shelf, name, LATER).settling

    assert settling.payment.payment == "K" * 54 + "-settles-1"


@settings(max_examples=40, deadline=None)
@given(world=worlds(), days=st.integers(0, 200))
def test_recording_the_settling_payments_leaves_nothing_short(
    world: BuyingWorld, days: int
) -> None:
    as_of = date.fromordinal(date(2025, 5, 10).toordinal() + days)

    for settling in statement(world, as_of).settling:
        world.record("payment.made", str(as_of), body_of(settling.payment))

    assert shortfalls([world.dues(str(as_of))]) == ()
