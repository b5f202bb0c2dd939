"""ledger.books.bargain: which terms and prices a contract's dues are read from."""

import pytest

from ledger.books.due_line import Standing
from ledger.trade.words import Duty
from tests.books.buying_world import (
    certified,
    fixed,
    lot,
    minimum,
    row,
    terms,
    to_be_fixed,
)
from tests.world import claim, opened, refused


def test_a_figure_of_a_day_before_any_terms_is_missing_and_the_report_goes_on() -> None:
    """The goods left a day before the terms begin, and the minimum is of that day."""
    world = certified(
        valid_from="2025-01-10",
        minimum_prices=[minimum("2400.00")],
        minimum_governed_by="shipment",
        premiums=[row("240.00")],
    )
    world.contract(fixed("2000.00"), on="2025-01-10")
    world.ship("S-1", "2025-01-09")
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    line = world.line()
    [finding] = world.dues().findings

    assert (line.amount_minor, line.standing) == (None, Standing.NOT_COMPUTABLE)
    assert (finding.rule, finding.message) == ("no-terms", line.because)
    assert finding.message == (
        "claims names scheme fair-harvest, but no terms of it govern on 2025-01-09 (the "
        "first governs from 2025-01-10); record them with terms.published first"
    )
    assert world.line(Duty.PREMIUM).amount_minor == 24_000


def test_settings_are_of_the_day_of_the_contract_and_figures_of_the_day_that_governs() -> (
    None
):
    world = certified(
        minimum_prices=[minimum("2400.00")], minimum_governed_by="delivery"
    )
    later = terms(
        version="2",
        valid_from="2025-01-15",
        minimum_prices=[minimum("2500.00")],
        minimum_governed_by="contract",
    )
    world.record("terms.published", "2000-01-01", later)
    world.contract(fixed("2000.00"), on="2025-01-10")
    world.receive("S-1", "2025-01-15", [lot("L-1", "1000")])

    assert world.line().amount_minor == 250_000


def test_a_price_to_be_fixed_is_open_and_a_sealed_one_is_hidden() -> None:
    """Nobody can tell whether a sealed price was fixed; of an open one anybody can."""
    found = {}
    for name, price in (("open", to_be_fixed("0")), ("sealed", None)):
        world = certified()
        world.quotes("NY", {"2029-12-31": "2000.00"})
        world.contract(price)
        world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])
        found[name] = (world.line().standing, world.line().amount_minor)

    assert found == {
        "open": (Standing.PROVISIONAL, 200_000),
        "sealed": (Standing.NOT_DISCLOSED, None),
    }


@pytest.mark.parametrize("is_closed", [False, True])
@pytest.mark.parametrize("valid_from", [None, "2024-01-02"])
def test_terms_that_a_contract_was_signed_under_are_not_taken_from_it(
    valid_from: str | None, *, is_closed: bool
) -> None:
    """So the terms of every contract that counts are there to be read."""
    world = opened()
    published = world.terms()
    world.sign("C", "alder", claim(), on="2024-01-01")
    if is_closed:
        world.close("2023-01-01", "2024-12-31", "2025-01-01")

    with refused("later-entry-breaks"):
        if valid_from is None:
            world.void(published)
        else:
            world.replace(published, valid_from=valid_from)


def test_a_sealed_price_is_told_by_a_rule_of_its_own_and_fixes_nothing() -> None:
    world = certified()
    world.contract(None)
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    [finding] = world.dues().findings

    assert finding.rule == "not-disclosed"
    assert world.line().standing is Standing.NOT_DISCLOSED
