"""ledger.books.price_today: what is foretold is what a receipt on that day is owed."""

from datetime import date
from typing import Any

import pytest

from ledger.books.effect import Subject, SubjectKind
from ledger.books.price_today import PriceToday, price_today
from ledger.trade.words import Duty
from tests.books.buying_world import (
    CONTRACT,
    Body,
    BuyingWorld,
    certified,
    fixed,
    lot,
    minimum,
    row,
    to_be_fixed,
)

DAY = "2025-02-20"
MARKET = {"market": "NY"}


def today(world: BuyingWorld, on: str = DAY) -> PriceToday:
    signed = world.shelf.introducer(Subject(SubjectKind.CONTRACT, CONTRACT))
    assert signed is not None
    return price_today(world.shelf, signed, date.fromisoformat(on))


def signed_world(price: Body, **more: Any) -> BuyingWorld:  # noqa: ANN401 - passed on
    world = certified(
        minimum_prices=[minimum("2400.00")],
        premiums=[row("240.00")],
        organic_differentials=[row("300.00")],
        market=MARKET,
        market_governed_by="delivery",
    )
    world.quotes("NY", {DAY: "2450.00"})
    world.contract(price, **more)
    return world


@pytest.mark.parametrize(
    ("agreed", "decided_by", "owed"),
    [
        ("2399.00", "market", "2450.00 USD/t"),
        ("2450.00", "price agreed", "2450.00 USD/t"),
        ("2600.00", "price agreed", "2600.00 USD/t"),
    ],
)
def test_the_highest_decides(agreed: str, decided_by: str, owed: str) -> None:
    found = today(signed_world(fixed(agreed)))

    assert found.decided_by == decided_by
    assert found.owed is not None
    assert found.owed.shown == owed
    assert found.minimum is not None
    assert found.minimum.shown == "2400.00 USD/t"
    assert [(scheme, price.shown) for scheme, price in found.premiums] == [
        ("fair-harvest", "240.00 USD/t")
    ]


@pytest.mark.parametrize(
    "price", [fixed("2399.00"), fixed("2600.00"), to_be_fixed("-20.00")]
)
def test_a_tonne_received_that_day_is_owed_what_was_foretold(price: Body) -> None:
    world = signed_world(price, organic=True)
    found = today(world)
    world.receive("S-1", DAY, [lot("L-1", "1000")])

    amounts = world.amounts(DAY)

    assert found.owed is not None
    assert found.organic is not None
    assert amounts == {
        Duty.PRICE: found.owed.amount * 100,
        Duty.ORGANIC: found.organic.amount * 100,
        Duty.PREMIUM: found.premiums[0][1].amount * 100,
    }


def test_what_was_fixed_prices_goods_to_come_once_nothing_is_open() -> None:
    world = signed_world(to_be_fixed("100.00"), quantity_kg="1000")
    assert today(world).decided_by == "price agreed"

    world.fix("F-1", "2025-02-01", "1000", "2700.00")

    found = today(world)
    assert found.agreed is not None
    assert found.agreed.shown == "2800.00 USD/t"


def test_a_missing_quote_is_told_and_the_minimum_still_shown() -> None:
    found = today(signed_world(fixed("2500.00")), on="2025-06-01")

    assert found.owed is None
    assert found.market is None
    assert found.minimum is not None
    assert found.decided_by == ""
    assert len(found.missing) == 1
    assert "NY has no quote on 2025-06-01" in found.missing[0]


def test_a_sealed_price_gives_no_figure() -> None:
    world = certified(minimum_prices=[minimum("2400.00")])
    world.contract(None)

    found = today(world)

    assert (found.owed, found.agreed, found.minimum) == (None, None, None)
    [why] = found.missing
    assert "is not disclosed to this reader" in why


def test_the_minimum_is_that_of_the_contracts_origin() -> None:
    world = certified(
        minimum_prices=[minimum("2400.00"), minimum("2700.00", origins=["PE"])]
    )
    world.contract(fixed("2000.00"), origin="PE")

    found = today(world).minimum
    assert found is not None
    assert found.amount == 2700
