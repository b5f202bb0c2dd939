"""ledger.books.price_table: a recorded price is read as the terms of its scheme say."""

import pytest

from ledger.trade.words import Duty
from tests.books.buying_world import (
    BuyingWorld,
    certified,
    claims_under,
    fixed,
    lot,
    minimum,
    usd,
)

SEASON = {
    "season_from": "2024-10-01",
    "season_until": "2025-03-31",
    "origins": ["PE"],
    "reference": usd("2000.00", "EUR/t"),
    "source": "gazette",
}


def with_a_stricter_scheme(days: int, **terms: object) -> BuyingWorld:
    """Return a tonne bought under two schemes when the rate of EUR was three days old.

    The first scheme bridges some days as given, the other none; the other reads a market
    in the contract's own currency, so that it needs no rate.
    """
    world = certified(market={"market": "NY", "fall_back_days": days}, **terms)
    world.terms(scheme="other", market={"market": "A", "fall_back_days": 0})
    world.certificate("other")
    world.quotes("A", {"2025-01-10": "1.00"})
    world.rates("EUR", "USD", {"2025-01-07": "1.10"})
    world.contract(fixed("2000.00"), claims=claims_under("fair-harvest", "other"))
    world.receive("S-1", "2025-01-10", [lot("L-1", "1000")])
    return world


@pytest.mark.parametrize(("days", "owed"), [(3, 330_000), (2, None)])
def test_a_market_in_another_currency_takes_a_rate_as_old_as_its_own_terms_say(
    days: int, owed: int | None
) -> None:
    """Of 3000 EUR, at 1.10 USD each; the other scheme would take no old rate."""
    world = with_a_stricter_scheme(days)
    world.quotes("NY", {"2025-01-10": "3000.00"}, unit="EUR/t")

    assert world.line().amount_minor == owed


@pytest.mark.parametrize(("days", "owed"), [(3, 20_000), (2, None)])
def test_a_season_takes_a_rate_as_old_as_its_own_terms_say(
    days: int, owed: int | None
) -> None:
    """2400 USD less 2000 EUR at 1.10 USD each; the other scheme would take no old rate."""
    world = with_a_stricter_scheme(
        days,
        minimum_prices=[minimum("2400.00")],
        seasonal_differential={"seasons": [SEASON]},
    )
    world.quotes("NY", {"2025-01-10": "1.00"})

    assert world.line(Duty.SEASONAL).amount_minor == owed
