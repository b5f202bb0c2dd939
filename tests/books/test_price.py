"""ledger.books.price: the higher of minimum and market, and never less than agreed."""

import pytest

from ledger.books import bargain
from ledger.books.due_line import DueLine, Standing
from ledger.trade.terms import MarketReference
from ledger.trade.words import Duty
from tests.books.buying_world import (
    BuyingWorld,
    bought,
    certified,
    claims_under,
    fixed,
    lot,
    minimum,
    opened,
    row,
    to_be_fixed,
)

MARKET = {"market": "NY"}


@pytest.mark.parametrize(
    ("minimum_price", "market", "agreed", "owed_minor"),
    [
        ("2400.00", "2399.99", "1.00", 240_000),
        ("2400.00", "2400.00", "1.00", 240_000),
        ("2400.00", "2400.01", "1.00", 240_001),
        ("2400.00", "2399.99", "2399.99", 240_000),
        ("2400.00", "2399.99", "2400.01", 240_001),
        ("2400.00", "2400.02", "2400.01", 240_002),
        ("2400.00", "2400.02", "2400.03", 240_003),
        ("0.00", "1.00", "0.50", 100),
    ],
)
def test_the_highest_of_minimum_market_and_agreed_is_owed(
    minimum_price: str, market: str, agreed: str, owed_minor: int
) -> None:
    world = bought(
        fixed(agreed),
        minimum_prices=[minimum(minimum_price)],
        market=MARKET,
        quotes={"2025-01-10": market},
    )

    assert owed_minor == world.line().amount_minor


@pytest.mark.parametrize(
    ("differential", "owed_minor"),
    [
        ("-100.01", 240_000),
        ("-100.00", 240_000),
        ("-99.99", 240_001),
        ("0.00", 250_000),
        ("125.00", 262_500),
    ],
)
def test_a_differential_can_bring_the_market_to_the_minimum_or_over_it(
    differential: str, owed_minor: int
) -> None:
    world = certified(
        minimum_prices=[minimum("2400.00")],
        market=MARKET,
        market_governed_by="fixation",
    )
    world.quotes("NY", {"2025-01-20": "2500.00"})
    world.contract(to_be_fixed(differential))
    world.fix("F-1", "2025-01-20", "1000", "2500.00")
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    assert owed_minor == world.line().amount_minor


@pytest.mark.parametrize(
    ("on", "market", "organic", "price", "on_top", "premium"),
    [
        ("2010-06-01", "2000.00", False, "2000.00", None, "150.00"),
        ("2010-06-01", "2000.00", True, "2000.00", "200.00", "150.00"),
        ("2010-06-01", "1500.00", False, "1600.00", None, "150.00"),
        ("2010-06-01", "1500.00", True, "1600.00", "200.00", "150.00"),
        ("2015-06-01", "1850.00", False, "2000.00", None, "200.00"),
        ("2015-06-01", "1850.00", True, "2000.00", "300.00", "200.00"),
        ("2019-10-01", "2389.62", False, "2400.00", None, "240.00"),
        ("2019-10-01", "2389.62", True, "2400.00", "300.00", "240.00"),
        ("2023-10-02", "3555.54", False, "3555.54", None, "240.00"),
        ("2023-10-02", "3555.54", True, "3555.54", "300.00", "240.00"),
    ],
)
def test_published_price_tables_are_met(
    on: str,
    market: str,
    organic: bool,  # noqa: FBT001 - a column of the table
    price: str,
    on_top: str | None,
    premium: str,
) -> None:
    """A published minimum-price-and-premium table for cocoa, FOB, USD per tonne.

    Sources, by date:
        before 2011: theobroma-cacao.de, minimum 1,750 with the premium of 150 in it, and
            its worked example: at a world price of 2,000 a tonne costs 2,150, and 2,350
            organic; at a low world price 1,750, and 1,950 organic.
        2011-01-01 (day from memory): ausfoodnews, 2010-10-13, minimum 2,000 and premium
            200. organic-market.info, "Fall in the price of cocoa but not of organic
            cocoa": with 300 for organic a tonne makes 2,500 at least, at a market of
            1,800 to 1,900.
        2019-10-01: candyusa.com and 3blmedia, 2019-06-11: minimum 2,400, premium 240,
            organic 300 over the higher of market and minimum. The market is the ICCO
            daily price of the day.
    """
    world = bought(
        fixed("1.00"),
        on=on,
        organic=organic,
        market=MARKET,
        quotes={on: market},
        minimum_prices=[
            minimum("1600.00"),
            minimum("2000.00", "2011-01-01"),
            minimum("2400.00", "2019-10-01"),
        ],
        organic_differentials=[row("200.00"), row("300.00", "2011-01-01")],
        premiums=[
            row("150.00"),
            row("200.00", "2011-01-01"),
            row("240.00", "2019-10-01"),
        ],
    )
    expected = {Duty.PRICE: price, Duty.ORGANIC: on_top, Duty.PREMIUM: premium}

    assert {
        duty: int(figure.replace(".", ""))
        for duty, figure in expected.items()
        if figure is not None
    } == world.amounts()


@pytest.mark.parametrize(
    ("on", "organic", "per_tonne_minor"),
    [
        ("2010-06-01", False, 215_000),
        ("2010-06-01", True, 235_000),
        ("2019-10-01", False, 264_000),
        ("2019-10-01", True, 294_000),
        ("2023-10-02", False, 379_554),
        ("2023-10-02", True, 409_554),
    ],
)
def test_a_tonne_costs_what_the_worked_examples_say(
    on: str,
    organic: bool,  # noqa: FBT001 - a column of the table
    per_tonne_minor: int,
) -> None:
    """2,150 and 2,350 at a world price of 2,000: theobroma-cacao.de, table before 2011.

    2,640.00 / 2,940.00 and 3,795.54 / 4,095.54: the table in force from 2019-10-01
    (candyusa.com) on the ICCO daily prices of 2019-10-01 and 2023-10-02, added up here.
    """
    world = bought(
        fixed("1.00"),
        on=on,
        organic=organic,
        market=MARKET,
        quotes={
            "2010-06-01": "2000.00",
            "2019-10-01": "2389.62",
            "2023-10-02": "3555.54",
        },
        minimum_prices=[minimum("1600.00"), minimum("2400.00", "2019-10-01")],
        organic_differentials=[row("200.00"), row("300.00", "2019-10-01")],
        premiums=[row("150.00"), row("240.00", "2019-10-01")],
    )

    assert per_tonne_minor == sum(amount or 0 for amount in world.amounts().values())


def test_a_price_to_be_fixed_is_the_level_with_the_differential() -> None:
    """1,760 less 125 pounds is 1,635 a tonne.

    Source: International Trade Centre, The Coffee Guide: price to be fixed is the
    fixation of a named month with the differential. The discount of 125 pounds:
    marketscreener.com, origin differentials of June 2022 (year from memory).
    """
    world = certified(minimum_prices=[minimum("1.00", unit="GBP/t")])
    world.contract(to_be_fixed("-125.00", "GBP/t", market="LDN"))
    world.fix("F-1", "2025-01-20", "10000", "1760.00", "GBP/t")
    world.receive("S-1", "2025-02-01", [lot("L-1", "10000")])

    line = world.line()

    assert (line.currency, line.amount_minor) == ("GBP", 1_635_000)
    assert Standing.FINAL is line.standing
    assert [working.figure for working in line.workings[3:6]] == [
        "1760.00 GBP/t",
        "-125.00 GBP/t",
        "1635.00 GBP/t",
    ]


def test_a_minimum_in_another_currency_is_converted_on_its_own_date() -> None:
    world = certified(
        minimum_prices=[minimum("3200.00", unit="EUR/t")],
        minimum_governed_by="shipment",
    )
    world.rates("EUR", "USD", {"2025-01-10": "1.00", "2025-01-24": "1.10"})
    world.contract(fixed("3000.00"))
    world.ship("S-1", "2025-01-26")
    world.receive("S-1", "2025-02-20", [lot("L-1", "1000")])

    line = world.line()

    assert (line.currency, line.amount_minor) == ("USD", 352_000)
    assert "rate of 2025-01-24, USD for 1 EUR, the last rate before 2025-01-26" in [
        w.text for w in line.workings
    ]


def test_rows_change_with_their_dates_and_origins() -> None:
    """3,500 and 240 in 2025, 275 from 2026-06-11, EUR 3,200 and 250 from 2026-10-01.

    Source: national pages of the publisher of the table, as seen in 2026; the last row is
    for one origin only. The day in 2025 was not seen: the first of January stands in.
    """
    table = {
        "minimum_prices": [
            minimum("3500.00", "2025-01-01"),
            minimum("3200.00", "2026-10-01", unit="EUR/t", origins=["CI"]),
        ],
        "premiums": [
            row("240.00", "2025-01-01"),
            row("275.00", "2026-06-11"),
            row("250.00", "2026-10-01", unit="EUR/t", origins=["CI"]),
        ],
        "minimum_governed_by": "delivery",
    }
    found = {}
    for on in ("2026-06-10", "2026-06-11", "2026-09-30", "2026-10-01"):
        for origin in ("CI", "PE"):
            world = certified(**table)
            world.rates("EUR", "USD", {on: "1.20"})
            world.contract(fixed("1.00"), on="2026-01-02", origin=origin)
            world.receive("S-1", on, [lot("L-1", "1000")])
            amounts = world.amounts()
            found[on, origin] = (amounts[Duty.PRICE], amounts[Duty.PREMIUM])

    assert found == {
        ("2026-06-10", "CI"): (350_000, 24_000),
        ("2026-06-10", "PE"): (350_000, 24_000),
        ("2026-06-11", "CI"): (350_000, 27_500),
        ("2026-06-11", "PE"): (350_000, 27_500),
        ("2026-09-30", "CI"): (350_000, 27_500),
        ("2026-09-30", "PE"): (350_000, 27_500),
        ("2026-10-01", "CI"): (384_000, 30_000),
        ("2026-10-01", "PE"): (350_000, 27_500),
    }


@pytest.mark.parametrize(
    ("governing", "owed_minor"),
    [
        ("contract", 210_000),
        ("fixation", 220_000),
        ("shipment", 230_000),
        ("delivery", 240_000),
    ],
)
@pytest.mark.parametrize("what", ["minimum", "market"])
def test_the_terms_say_which_date_governs(
    governing: str, owed_minor: int, what: str
) -> None:
    days = ("2025-01-10", "2025-02-10", "2025-03-10", "2025-04-10")
    figures = ("2100.00", "2200.00", "2300.00", "2400.00")
    if what == "minimum":
        world = certified(
            minimum_prices=[minimum(f, d) for d, f in zip(days, figures, strict=True)],
            minimum_governed_by=governing,
        )
    else:
        world = certified(market=MARKET, market_governed_by=governing)
        world.quotes("NY", dict(zip(days, figures, strict=True)))
    world.contract(to_be_fixed("0"), on=days[0])
    world.fix("F-1", days[1], "1000", "1.00")
    world.ship("S-1", days[2])
    world.receive("S-1", days[3], [lot("L-1", "1000")])

    assert owed_minor == world.line().amount_minor


def test_an_outright_price_was_fixed_when_the_contract_was_signed() -> None:
    world = certified(market=MARKET, market_governed_by="fixation")
    world.quotes("NY", {"2025-01-10": "2500.00", "2025-02-01": "9000.00"})
    world.contract(fixed("2000.00"), on="2025-01-10")
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    assert world.line().amount_minor == 250_000


def test_a_new_version_brings_its_figures_but_not_its_settings_to_an_open_contract() -> (
    None
):
    """Which date governs was agreed on signing; what the table says then is the new one."""
    world = certified(
        minimum_prices=[minimum("2400.00")], minimum_governed_by="delivery"
    )
    world.terms(
        version="2",
        valid_from="2025-02-01",
        minimum_prices=[minimum("3500.00", "2025-02-01")],
        minimum_governed_by="contract",
        price_due={"days": 90},
    )
    world.contract(fixed("2000.00"), on="2025-01-10")
    world.receive("S-1", "2025-01-31", [lot("L-1", "1000")])
    world.receive("S-2", "2025-02-01", [lot("L-2", "1000")])

    assert [
        (str(line.due_on), line.amount_minor) for line in world.lines(Duty.PRICE)
    ] == [("2025-03-02", 240_000), ("2025-03-03", 350_000)]


def two_schemes(first: dict[str, object], second: dict[str, object]) -> BuyingWorld:
    world = certified(**first)
    world.terms(scheme="other", **second)
    world.certificate("other")
    claims = claims_under("fair-harvest", "other")
    world.contract(fixed("2000.00"), claims=claims, organic=True)
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])
    return world


def test_of_two_schemes_the_higher_price_and_organic_are_owed_and_both_premiums() -> (
    None
):
    world = two_schemes(
        {
            "minimum_prices": [minimum("2400.00")],
            "organic_differentials": [row("300.00")],
            "premiums": [row("240.00")],
            "price_due": {"days": 40},
        },
        {
            "minimum_prices": [minimum("2500.00")],
            "organic_differentials": [row("200.00")],
            "premiums": [row("70.00")],
            "price_due": {"days": 15},
        },
    )

    assert [
        (d.duty, d.scheme, d.amount_minor, str(d.due_on)) for d in world.dues().lines
    ] == [
        ("price", None, 250_000, "2025-02-16"),
        ("organic differential", None, 30_000, "2025-02-16"),
        ("premium", "fair-harvest", 24_000, "2025-03-03"),
        ("premium", "other", 7_000, "2025-03-03"),
    ]


def test_a_scheme_without_a_minimum_asks_for_its_premium_only() -> None:
    """Some published rule sets have no minimum price, only a cash differential on top."""
    world = bought(fixed("2000.00"), premiums=[row("70.00")])

    assert world.amounts() == {Duty.PRICE: 200_000, Duty.PREMIUM: 7_000}
    assert "asked for these lots by fair-harvest: it has no minimum and no market" in [
        working.text for working in world.line().workings
    ]


@pytest.mark.parametrize(
    "gap",
    [
        minimum("2400.00", delivery="CIF"),
        minimum("2400.00", origins=["EC"]),
        minimum("2400.00", "2025-01-11"),
    ],
)
def test_a_gap_in_the_table_is_no_zero(gap: dict[str, object]) -> None:
    world = bought(fixed("2000.00"), minimum_prices=[gap], premiums=[row("240.00")])

    line = world.line()

    assert (line.amount_minor, line.standing) == (None, Standing.NOT_COMPUTABLE)
    assert line.because == (
        "the terms of fair-harvest have rows for cocoa, but no minimum price FOB for bean "
        "from PE on 2025-01-10; publish terms with the row, at 0.00 if nothing is owed"
    )
    assert world.amounts()[Duty.PREMIUM] == 24_000
    assert [finding.rule for finding in world.dues().findings] == ["no-row"]


def test_a_date_before_the_first_terms_has_no_figure_and_says_so() -> None:
    world = certified(valid_from="2025-01-01", minimum_governed_by="shipment")
    world.contract(fixed("2000.00"))
    world.ship("S-1", "2024-12-31")
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    line = world.line()

    assert line.standing is Standing.NOT_COMPUTABLE
    assert "no terms of it govern on 2024-12-31" in line.because


def test_a_form_that_the_table_does_not_know_has_no_minimum() -> None:
    world = certified(minimum_prices=[minimum("2400.00", form="liquor")])
    world.contract(fixed("2000.00"))
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    assert world.line().amount_minor == 200_000


@pytest.mark.parametrize(
    ("market", "goods", "owed_minor"),
    [
        (MARKET, {}, 900_000),
        (MARKET, {"form": "powder"}, 50_000),
        (MARKET, {"commodity": "sugar", "form": "ingredient"}, 50_000),
        ({**MARKET, "form": "powder"}, {}, 50_000),
        ({**MARKET, "form": "powder"}, {"form": "powder"}, 900_000),
        (
            {**MARKET, "commodity": "sugar", "form": "ingredient"},
            {"commodity": "sugar", "form": "ingredient"},
            900_000,
        ),
    ],
)
def test_a_market_is_compared_with_goods_that_it_is_of_alone(
    market: dict[str, object], goods: dict[str, object], owed_minor: int
) -> None:
    """A tonne of sugar at 500 is not owed what a tonne of cocoa beans costs."""
    itself = {"factor": "1", "valid_from": "2000-01-01", "source": "an annex"}
    world = opened()
    world.terms(
        market=market,
        commodities=["cocoa", "sugar"],
        conversions=[
            {"form": "bean", **itself},
            {"form": "powder", **itself},
            {"commodity": "sugar", "form": "ingredient", **itself},
        ],
    )
    world.certificate(commodities=("cocoa", "sugar"))
    world.quotes("NY", {"2025-01-10": "9000.00"})
    world.contract(fixed("500.00"), on="2025-01-10", **goods)
    world.receive("S-1", "2025-01-10", [lot("L-1", "1000")])

    assert world.line().amount_minor == owed_minor


def test_without_a_quote_the_due_says_so_and_the_report_goes_on() -> None:
    world = bought(
        fixed("2000.00"),
        market={"market": "NY", "fall_back_days": 3},
        quotes={"2025-01-06": "2500.00"},
        premiums=[row("240.00")],
    )

    [finding] = world.dues().findings

    assert world.amounts() == {Duty.PRICE: None, Duty.PREMIUM: 24_000}
    assert ("no-quote", world.line().because) == (finding.rule, finding.message)
    assert "no quote on 2025-01-10 or within 3 days" in finding.message


@pytest.mark.parametrize(
    ("first", "second", "is_known"), [(9, 3, False), (3, 9, False), (9, 9, True)]
)
def test_the_contracts_market_falls_back_as_far_as_every_scheme_allows(
    first: int,
    second: int,
    is_known: bool,  # noqa: FBT001 - a column of the table
) -> None:
    world = certified(market={"market": "A", "fall_back_days": first})
    other = {"market": "A", "fall_back_days": second}
    world.terms(scheme="other", market=other)
    world.certificate("other")
    world.quotes("A", {"2025-01-10": "1000.00"})
    world.quotes("NY", {"2025-03-01": "2000.00"})
    world.contract(to_be_fixed("0"), claims=claims_under("fair-harvest", "other"))
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    assert world.line(as_of="2025-03-09").amount_minor == (
        200_000 if is_known else None
    )


def test_a_scheme_converts_with_its_own_days() -> None:
    world = certified(
        minimum_prices=[minimum("3000.00", unit="EUR/t")],
        market={"market": "A", "fall_back_days": 9},
    )
    world.terms(scheme="other", market={"market": "A", "fall_back_days": 0})
    world.certificate("other")
    world.quotes("A", {"2025-01-10": "1000.00"})
    world.rates("EUR", "USD", {"2025-01-02": "1.10"})
    world.contract(fixed("2000.00"), claims=claims_under("fair-harvest", "other"))
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    assert world.line().amount_minor == 330_000


def test_without_a_rate_the_due_says_so() -> None:
    world = bought(fixed("2000.00"), minimum_prices=[minimum("3200.00", unit="EUR/t")])

    assert Standing.NOT_COMPUTABLE is world.line().standing
    assert "EUR has no rate against USD on 2025-01-10" in world.line().because


def test_a_lapsed_certificate_leaves_the_agreed_price_and_nothing_of_the_scheme() -> (
    None
):
    world = certified(
        minimum_prices=[minimum("2400.00")],
        organic_differentials=[row("300.00")],
        premiums=[row("240.00")],
    )
    world.record(
        "certificate.suspended",
        "2025-01-20",
        {
            "certificate": "coop-alto/fair-harvest",
            "from_on": "2025-01-20",
            "reason": "-",
        },
    )
    world.contract(fixed("2000.00"), organic=True)
    world.ship("S-1", "2025-01-19")
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])
    world.ship("S-2", "2025-01-20")
    world.receive("S-2", "2025-02-01", [lot("L-2", "1000")])

    dues = world.dues()

    assert [(line.duty, line.shipment, line.amount_minor) for line in dues.lines] == [
        ("price", "S-1", 240_000),
        ("price", "S-2", 200_000),
        ("organic differential", "S-1", 30_000),
        ("premium", "S-1", 24_000),
    ]
    assert [finding.message.partition(",")[0] for finding in dues.findings] == [
        "the claim under fair-harvest does not count for L-2 of shipment S-2"
    ]
    assert (
        "asked for these lots by fair-harvest: the claim does not count for them"
        in [working.text for working in dues.lines[1].workings]
    )


def test_uncertified_goods_are_owed_their_price_on_no_stated_day() -> None:
    world = certified()
    world.contract(fixed("2000.00"), claims=[])
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    assert (world.line().amount_minor, world.line().due_on) == (200_000, None)


@pytest.mark.parametrize("basis", ["fixed", "to be fixed", "level"])
def test_a_sealed_price_is_not_disclosed_and_the_premium_stands(basis: str) -> None:
    world = certified(minimum_prices=[minimum("2400.00")], premiums=[row("240.00")])
    if basis == "level":
        world.contract(to_be_fixed("-125.00"))
        world.fix("F-1", "2025-01-15", "1000", None)
    else:
        world.contract(None)
        if basis == "to be fixed":
            world.fix("F-1", "2025-01-15", "1000", None)
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    line = world.line()

    assert (line.amount_minor, line.standing) == (None, Standing.NOT_DISCLOSED)
    assert "is not disclosed to this reader" in line.because
    assert world.amounts()[Duty.PREMIUM] == 24_000


def test_a_market_far_below_a_discount_owes_nothing_rather_than_less() -> None:
    world = certified()
    world.contract(to_be_fixed("-100.00"))
    world.fix("F-1", "2025-01-15", "1000", "99.00")
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    assert world.line().amount_minor == 0


def test_holidays_bridged_without_a_market_are_as_many_as_where_terms_do_not_say() -> (
    None
):
    usual = MarketReference.model_fields["fall_back_days"].default

    assert usual == bargain._USUAL_FALL_BACK_DAYS


def told(line: DueLine) -> list[tuple[str, str, int | None, str]]:
    """Return figure, rule, entry and reckoning of each line of arithmetic."""
    return [(one.figure, one.rule, one.entry, one.reckoning) for one in line.workings]


HIGHEST = "the highest of the price agreed, the guaranteed minimum and the market"


def test_a_fixed_price_is_told_line_by_line_with_its_entries() -> None:
    world = certified(
        minimum_prices=[minimum("3000.00")],
        market=MARKET,
        market_governed_by="fixation",
    )
    world.quotes("NY", {"2025-01-20": "3100.00"})
    world.contract(to_be_fixed("-50.00"))
    signed = world.entries - 1
    world.fix("F", "2025-01-20", "1000", "2950.00")
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    assert told(world.line())[3:-2] == [
        ("2950.00 USD/t", "", signed + 1, ""),
        ("-50.00 USD/t", "", signed, ""),
        ("2900.00 USD/t", "", None, "2950.00 + -50.00"),
        ("3000.00 USD/t", "fair-harvest 1: table 1", 2, ""),
        ("2025-01-20", "fair-harvest 1", None, ""),
        ("3100.00 USD/t", "exchange page", signed - 1, ""),
        ("-50.00 USD/t", "", signed, ""),
        ("3050.00 USD/t", "", None, "3100.00 + -50.00"),
        ("3050.00 USD/t", HIGHEST, None, "highest of (2900.00, 3000.00, 3050.00, 0)"),
    ]


def test_a_scheme_that_asks_nothing_is_told_and_hides_none_after_it() -> None:
    """The first scheme has neither minimum nor market, the second a minimum."""
    world = opened()
    for scheme, more in (
        ("first", {}),
        ("second", {"minimum_prices": [minimum("3000")]}),
    ):
        world.terms(scheme=scheme, **more)
        world.certificate(scheme)
    world.contract(fixed("2900.00"), claims=claims_under("first", "second"))
    signed = world.entries - 1
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    assert told(world.line())[1:-2] == [
        ("2900.00 USD/t", "", signed, ""),
        ("none", "", None, ""),
        ("3000.00 USD/t", "second 1: table 1", 4, ""),
        ("3000.00 USD/t", HIGHEST, None, "highest of (2900.00, 3000.00, 0)"),
    ]


def test_where_no_scheme_counts_nothing_is_compared() -> None:
    world = opened()
    world.contract(fixed("2900.00"), claims=[])
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    assert told(world.line())[-3] == (
        "2900.00 USD/t",
        "",
        None,
        "highest of (2900.00, 0)",
    )


def test_a_scheme_whose_claim_does_not_count_hides_none_after_it() -> None:
    world = opened()
    for scheme, until in (("first", "2024-12-31"), ("second", "2030-12-31")):
        world.terms(scheme=scheme, minimum_prices=[minimum("3000")])
        world.certificate(scheme, valid_until=until)
    world.contract(fixed("2900.00"), claims=claims_under("first", "second"))
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    assert world.line().amount_minor == 300_000


def test_each_figure_of_a_scheme_may_be_as_old_as_its_own_terms_say() -> None:
    """The rate is three days old: the first scheme takes it, the other has no market."""
    world = opened()
    market = {"market": "NY", "fall_back_days": 3}
    world.terms(
        scheme="first", minimum_prices=[minimum("3000", unit="EUR/t")], market=market
    )
    world.certificate("first")
    world.terms(scheme="second", market={"market": "NY", "fall_back_days": 0})
    world.certificate("second")
    world.quotes("NY", {"2025-01-10": "1.00"})
    world.rates("EUR", "USD", {"2025-01-07": "1.10"})
    world.contract(fixed("2900.00"), claims=claims_under("first", "second"))
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    assert world.line().amount_minor == 330_000
