"""ledger.books.minimum: the guaranteed minimum, with a seasonal differential beside it."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from ledger.trade.dues_terms import SeasonalDifferential
from ledger.trade.words import Duty
from tests.books.buying_world import (
    BuyingWorld,
    certified,
    fixed,
    lot,
    minimum,
    opened,
    to_be_fixed,
    usd,
)


def season(
    amount: str,
    season_from: str,
    season_until: str,
    unit: str = "USD/t",
    **more: object,
) -> dict[str, object]:
    return {
        "season_from": season_from,
        "season_until": season_until,
        "origins": ["PE"],
        "reference": usd(amount, unit),
        "source": "gazette",
        **more,
    }


MAIN = ("2024-10-01", "2025-03-31")
MID = ("2025-04-01", "2025-09-30")
"""The two seasons of a year, as a published minimum-price table defines them."""
TWO = [season("2100.00", *MAIN), season("2300.00", *MID)]


def delivered(
    on: str = "2025-02-01",
    agreed: str = "2100.00",
    seasons: list[dict[str, object]] | None = None,
    **more: object,
) -> BuyingWorld:
    """Return a tonne delivered under a minimum of 2,400 with seasons."""
    world = certified(
        minimum_prices=[minimum("2400.00")],
        seasonal_differential={"seasons": seasons or TWO},
        **more,
    )
    world.contract(fixed(agreed), on="2024-10-01")
    world.receive("S-1", on, [lot("L-1", "1000")])
    return world


@pytest.mark.parametrize(
    ("on", "differential"),
    [
        ("2024-10-01", 30_000),
        ("2025-03-31", 30_000),
        ("2025-04-01", 10_000),
        ("2025-09-30", 10_000),
        ("2025-10-01", None),
    ],
)
def test_the_day_of_delivery_picks_the_season(
    on: str, differential: int | None
) -> None:
    """Minimum less national reference price, for deliveries of the season.

    Source: a published minimum-price table for cocoa, definition of its differential,
    with seasons of 1 October to 31 March and 1 April to 30 September.
    """
    assert delivered(on).line(Duty.SEASONAL).amount_minor == differential


@pytest.mark.parametrize(
    ("reference", "differential"),
    [("2399.99", 1), ("2400.00", 0), ("2400.01", 0), ("0.00", 240_000)],
)
def test_the_differential_is_never_below_zero(
    reference: str, differential: int
) -> None:
    world = delivered(seasons=[season(reference, *MAIN)])

    assert world.line(Duty.SEASONAL).amount_minor == differential


@pytest.mark.parametrize(
    ("agreed", "price"),
    [("2099.99", 210_000), ("2100.00", 210_000), ("2100.01", 210_001)],
)
def test_price_and_differential_together_reach_the_minimum(
    agreed: str, price: int
) -> None:
    amounts = delivered(agreed=agreed).amounts()

    assert amounts == {Duty.PRICE: price, Duty.SEASONAL: 30_000}


def test_the_market_still_binds_the_price() -> None:
    world = delivered(market={"market": "NY"})
    world.quotes("NY", {"2024-10-01": "2500.00"})

    assert world.amounts() == {Duty.PRICE: 250_000, Duty.SEASONAL: 30_000}


def test_an_origin_without_seasons_has_the_plain_minimum() -> None:
    world = delivered(seasons=[season("2100.00", *MAIN, origins=["EC"])])

    assert world.amounts() == {Duty.PRICE: 240_000}


def test_a_scheme_without_a_minimum_has_no_differential() -> None:
    world = certified(seasonal_differential={"seasons": TWO})
    world.contract(fixed("2000.00"), on="2024-10-01")
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])
    world.receive("S-2", "2026-02-01", [lot("L-2", "1000")])

    found = [(line.duty, line.amount_minor) for line in world.dues().lines]

    assert found == [(Duty.PRICE, 200_000)] * 2


def test_outside_every_season_nothing_is_guessed() -> None:
    world = delivered("2025-10-01")

    assert world.amounts() == {Duty.PRICE: None, Duty.SEASONAL: None}
    assert {finding.message for finding in world.dues().findings} == {
        (
            "the terms of fair-harvest have seasons for cocoa bean from PE, but none on "
            "2025-10-01; publish terms with the national reference price of that season"
        )
    }


def test_the_terms_say_which_date_picks_the_season() -> None:
    world = certified(
        minimum_prices=[minimum("2400.00")],
        seasonal_differential={"governed_by": "contract", "seasons": TWO},
    )
    world.contract(fixed("2100.00"), on="2025-03-31")
    world.receive("S-1", "2025-04-15", [lot("L-1", "1000")])

    assert world.line(Duty.SEASONAL).amount_minor == 30_000


def test_a_reference_in_the_national_currency_is_converted() -> None:
    world = certified(
        minimum_prices=[minimum("2400.00")],
        seasonal_differential={"seasons": [season("7.50", *MAIN, unit="PEN/kg")]},
    )
    world.rates("USD", "PEN", {"2025-02-01": "3.75"})
    world.contract(fixed("2000.00"), on="2024-10-01")
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    # 7.50 PEN/kg are 7,500 PEN/t, at 3.75 PEN a dollar 2,000 USD/t
    assert world.amounts() == {Duty.PRICE: 200_000, Duty.SEASONAL: 40_000}


def test_of_two_schemes_each_is_paid_what_it_asks_of_either() -> None:
    world = certified(
        minimum_prices=[minimum("2400.00")], seasonal_differential={"seasons": TWO}
    )
    world.terms(
        scheme="other",
        minimum_prices=[minimum("2350.00")],
        seasonal_differential={"seasons": [season("1950.00", *MAIN)]},
    )
    world.certificate("other")
    claims = [
        {"scheme": s, "custody": "mass balance"} for s in ("fair-harvest", "other")
    ]
    world.contract(fixed("1900.00"), on="2024-10-01", claims=claims)
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    assert world.amounts() == {Duty.PRICE: 210_000, Duty.SEASONAL: 40_000}
    assert world.line(Duty.SEASONAL).workings[-3].reckoning == (
        "highest of (300.00, 400.00)"
    )


def test_a_season_by_fixation_is_provisional_until_then() -> None:
    world = certified(
        minimum_prices=[minimum("2400.00")],
        seasonal_differential={"governed_by": "fixation", "seasons": TWO},
    )
    world.quotes("NY", {"2025-03-31": "2000.00", "2025-04-01": "2000.00"})
    world.contract(to_be_fixed("0"), on="2024-10-01")
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    lines = [world.line(Duty.SEASONAL, day) for day in ("2025-03-31", "2025-04-01")]

    assert [(line.amount_minor, str(line.standing)) for line in lines] == [
        (30_000, "provisional"),
        (10_000, "provisional"),
    ]


def test_lots_without_a_valid_claim_are_owed_no_differential() -> None:
    world = opened()
    world.terms(
        minimum_prices=[minimum("2400.00")], seasonal_differential={"seasons": TWO}
    )
    world.contract(fixed("2000.00"), on="2024-10-01")
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    assert world.amounts() == {Duty.PRICE: 200_000}


@pytest.mark.parametrize(
    ("second", "said"),
    [
        (("2025-03-31", "2025-09-30"), "overlap for cocoa bean"),
        (("2025-04-01", "2025-03-31"), "ends on 2025-03-31, before it begins"),
    ],
)
def test_seasons_that_contradict_one_another_are_refused(
    second: tuple[str, str], said: str
) -> None:
    body = {"seasons": [season("1.00", *MAIN), season("1.00", *second)]}

    with pytest.raises(ValidationError, match=said):
        SeasonalDifferential.model_validate(body)


Price = st.decimals(min_value=1, max_value=5000, places=2).map(str)


@given(floor=Price, reference=Price, agreed=Price)
def test_price_and_differential_are_never_less_than_the_minimum(
    floor: str, reference: str, agreed: str
) -> None:
    world = certified(
        minimum_prices=[minimum(floor)],
        seasonal_differential={"seasons": [season(reference, *MAIN)]},
    )
    world.contract(fixed(agreed), on="2024-10-01")
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    amounts = world.amounts()

    owed = (amounts[Duty.PRICE] or 0) + (amounts[Duty.SEASONAL] or 0)
    assert Decimal(floor) * 100 <= owed


def test_the_differential_and_what_it_leaves_are_told_line_by_line() -> None:
    world = delivered()
    price = [w.reckoning for w in world.line().workings if w.reckoning]
    seasonal = [w.reckoning for w in world.line(Duty.SEASONAL).workings if w.reckoning]

    assert "2400.00 - 300.00" in price
    assert "highest of (2400.00 - 2100.00, 0)" in price
    assert "highest of (2400.00 - 2100.00, 0)" in seasonal


def test_a_day_outside_every_season_is_named_by_its_rule() -> None:
    found = delivered("2025-10-01").dues().findings

    assert {one.rule for one in found} == {"no-row"}


def test_a_reference_may_be_as_old_as_its_own_terms_say() -> None:
    """The rate is three days old when the lot is delivered; five are allowed elsewhere."""
    seasons = [season("2000.00", *MAIN, unit="EUR/t")]
    amounts = []
    for days in (3, 2):
        market = {"market": "NY", "fall_back_days": days}
        world = delivered(seasons=seasons, market=market)
        world.quotes("NY", {"2025-02-01": "1.00", "2024-10-01": "1.00"})
        world.rates("EUR", "USD", {"2025-01-29": "1.10"})
        amounts.append(world.amounts()[Duty.SEASONAL])

    assert amounts == [20_000, None]


def test_a_season_by_the_day_of_delivery_is_final_before_any_fixation() -> None:
    world = certified(
        minimum_prices=[minimum("2400.00")], seasonal_differential={"seasons": TWO}
    )
    world.contract(to_be_fixed("0.00"), on="2024-10-01")
    world.quotes("NY", {"2025-02-01": "2100.00"})
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    [line] = world.lines(Duty.SEASONAL, "2025-02-01")
    assert (str(line.standing), line.amount_minor) == ("final", 30_000)


def test_a_sealed_price_leaves_the_differential_in_the_currency_of_the_table() -> None:
    """It is owed whatever was agreed, so a reader without the price sees it, too."""
    world = certified(
        minimum_prices=[minimum("2400.00")], seasonal_differential={"seasons": TWO}
    )
    world.contract(None, on="2024-10-01")
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    line = world.line(Duty.SEASONAL)
    assert (line.amount_minor, line.currency) == (30_000, "USD")
