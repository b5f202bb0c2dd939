"""ledger.books.futures: a reference that is the average of futures months."""

from collections.abc import Mapping
from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from ledger.books.finding import EntryRefusedError
from ledger.books.futures import average_on, nearest_months
from ledger.books.market import PerTonne, quote_on
from ledger.books.working import NotComputableError
from ledger.trade.dues_terms import FuturesAverage, FuturesMarket
from ledger.trade.words import Duty
from tests.books.buying_world import (
    BuyingWorld,
    bought,
    certified,
    fixed,
    lot,
    opened,
    to_be_fixed,
)

MONTHS = [3, 5, 7, 9, 12]
"""Months in which cocoa is traded on both markets.

Source: the exchanges' contract specifications, "Contract Series": March, May, July,
September, December.
"""
AVERAGE: dict[str, object] = {
    "markets": [
        {"market": "LDN", "months": MONTHS},
        {"market": "NY", "months": MONTHS},
    ],
    "nearest": 3,
    "currency": "USD",
    "forward_months": 6,
    "source": "definition of the daily price",
}
DAY = "2026-01-15"
LONDON = {"2026-03": "1700.00", "2026-05": "1690.00", "2026-07": "1680.00"}
NEW_YORK = {"2026-03": "2290.00", "2026-05": "2300.00", "2026-07": "2310.00"}


def quoted(
    world: BuyingWorld,
    *,
    london: Mapping[str, str] = LONDON,
    new_york: Mapping[str, str] = NEW_YORK,
    on: str = DAY,
    new_york_unit: str = "USD/t",
) -> BuyingWorld:
    """Quote months of both markets on one day."""
    for month, level in london.items():
        world.quotes("LDN", {on: level}, "GBP/t", month)
    for month, level in new_york.items():
        world.quotes("NY", {on: level}, new_york_unit, month)
    return world


def average(
    world: BuyingWorld, on: str = DAY, days: int = 5, **more: object
) -> PerTonne:
    return average_on(
        world.shelf,
        "daily",
        FuturesAverage.model_validate({**AVERAGE, **more}),
        date.fromisoformat(on),
        fall_back_days=days,
    )


def refused(world: BuyingWorld, on: str = DAY, days: int = 5) -> str:
    with pytest.raises(NotComputableError) as refusal:
        average(world, on, days)
    return refusal.value.finding.message


def test_two_markets_are_averaged_as_the_daily_price_is_described() -> None:
    """1,690 pounds at 1.32 are 2,230.80 dollars; with 2,300 the average is 2,265.40.

    Source: International Cocoa Organization, definition of its daily price (average of
    the nearest three active futures months of London and New York, London converted at
    the six-month forward rate). The figures are made up for the example.
    """
    world = quoted(opened())
    world.rates("GBP", "USD", {DAY: "1.32"}, forward_months=6)

    found = average(world)

    assert (Fraction("2265.40"), "USD") == (found.amount, found.currency)
    assert [(w.text, w.figure, w.reckoning) for w in found.workings] == [
        ("LDN 2026-03 on 2026-01-15", "1700.00 GBP/t", ""),
        ("LDN 2026-05 on 2026-01-15", "1690.00 GBP/t", ""),
        ("LDN 2026-07 on 2026-01-15", "1680.00 GBP/t", ""),
        (
            "LDN: average of 3 months on 2026-01-15",
            "1690.00 GBP/t",
            "(1700.00 + 1690.00 + 1680.00) / 3",
        ),
        ("rate of 2026-01-15, USD for 1 GBP, 6 months ahead", "1.32", ""),
        ("the same in USD", "2230.80 USD/t", "1690.00 * 1.32"),
        ("NY 2026-03 on 2026-01-15", "2290.00 USD/t", ""),
        ("NY 2026-05 on 2026-01-15", "2300.00 USD/t", ""),
        ("NY 2026-07 on 2026-01-15", "2310.00 USD/t", ""),
        (
            "NY: average of 3 months on 2026-01-15",
            "2300.00 USD/t",
            "(2290.00 + 2300.00 + 2310.00) / 3",
        ),
        ("daily: average of 2 markets", "2265.40 USD/t", "(2230.80 + 2300.00) / 2"),
    ]


def test_the_spot_rate_is_not_taken_for_the_forward_rate() -> None:
    world = quoted(opened())
    world.rates("GBP", "USD", {DAY: "1.30"})

    assert refused(world) == (
        "GBP has no rate 6 months ahead against USD on 2026-01-15 or within 5 days before "
        "it; record it with rate.recorded, and what is due can be computed"
    )


def test_without_a_forward_rate_in_the_terms_the_spot_rate_converts() -> None:
    world = quoted(opened())
    world.rates("GBP", "USD", {DAY: "1.30"})
    world.rates("GBP", "USD", {DAY: "1.32"}, forward_months=6)

    assert Fraction(1690 * 13, 20) + 1150 == average(world, forward_months=None).amount


def test_cents_per_pound_go_into_the_average_by_the_tonne() -> None:
    """A pound is 0.453 592 37 kg: NIST SP 811 (2008), appendix B.9, exact."""
    world = quoted(
        opened(),
        new_york={"2026-03": "104.00", "2026-05": "105.00", "2026-07": "106.00"},
        new_york_unit="USc/lb",
    )
    new_york = [{"market": "NY", "months": MONTHS}]

    found = average(world, markets=new_york)

    assert Fraction("1.05") * 1000 / Fraction("0.45359237") == found.amount
    assert found.workings[1].reckoning == "104.00 / 100 * 1000 / 0.45359237"


@pytest.mark.parametrize(
    ("on", "leaves_days", "nearest"),
    [
        ("2026-02-28", 0, ["2026-03", "2026-05", "2026-07"]),
        ("2026-03-01", 0, ["2026-05", "2026-07", "2026-09"]),
        ("2026-02-13", 15, ["2026-03", "2026-05", "2026-07"]),
        ("2026-02-14", 15, ["2026-05", "2026-07", "2026-09"]),
        ("2026-09-30", 0, ["2026-12", "2027-03", "2027-05"]),
        ("2026-12-01", 0, ["2027-03", "2027-05", "2027-07"]),
    ],
)
def test_a_month_leaves_as_it_begins_or_so_many_days_before(
    on: str, leaves_days: int, nearest: list[str]
) -> None:
    market = FuturesMarket(market="NY", months=tuple(MONTHS), leaves_days=leaves_days)

    assert list(nearest_months(market, 3, date.fromisoformat(on))) == nearest


def test_a_month_of_the_year_is_named_once() -> None:
    with pytest.raises(ValidationError, match="a month stands more than once"):
        FuturesMarket(market="NY", months=(3, 5, 3))


@pytest.mark.parametrize("month", ["2026-13", "2026-3", "March 2026", "26-03"])
def test_a_futures_month_is_a_year_and_a_month(month: str) -> None:
    with pytest.raises(ValidationError, match="is not a futures month; write year and"):
        opened().quotes("NY", {DAY: "2300.00"}, month=month)


@given(
    on=st.dates(date(2000, 1, 1), date(2100, 1, 1)),
    months=st.sets(st.integers(1, 12), min_size=1),
    nearest=st.integers(1, 12),
    leaves_days=st.integers(0, 92),
)
def test_nearest_months_are_ahead_and_none_is_left_out(
    on: date, months: set[int], nearest: int, leaves_days: int
) -> None:
    market = FuturesMarket(market="X", months=tuple(months), leaves_days=leaves_days)

    found = list(nearest_months(market, nearest, on))

    starts = [date.fromisoformat(f"{month}-01") for month in found]
    active = [
        date(year, month, 1)
        for year in range(on.year, on.year + 15)
        for month in sorted(months)
        if (date(year, month, 1) - on).days > leaves_days
    ]
    assert active[:nearest] == starts


@pytest.mark.parametrize(("days", "is_found"), [(3, True), (2, False)])
def test_a_holiday_of_one_market_falls_back_within_the_stated_days(
    days: int,
    is_found: bool,  # noqa: FBT001 - drawn by name
) -> None:
    world = quoted(opened(), london={}, on="2026-01-19")
    world = quoted(world, new_york={}, on="2026-01-16")
    world.rates("GBP", "USD", {"2026-01-16": "1.32"}, forward_months=6)

    if is_found:
        found = average(world, "2026-01-19", days)
        assert found.amount == Fraction("2265.40")
        assert [w.text for w in found.workings if "average of 3 months" in w.text] == [
            "LDN: average of 3 months on 2026-01-16, the last quotes before 2026-01-19",
            "NY: average of 3 months on 2026-01-19",
        ]
    else:
        assert refused(world, "2026-01-19", days=days) == (
            "LDN has no quotes of its nearest 3 months on 2026-01-19 or within 2 days "
            "before it; record them with quote.recorded and their month, and what is due "
            "can be computed"
        )


def test_a_day_that_was_recorded_in_part_is_not_averaged() -> None:
    world = quoted(opened(), on="2026-01-14")
    world.rates("GBP", "USD", {DAY: "1.32", "2026-01-14": "1.32"}, forward_months=6)
    quoted(world, new_york={"2026-03": "2290.00", "2026-09": "2310.00"})

    assert refused(world) == (
        "NY is quoted on 2026-01-15, but not its month 2026-05 and 2026-07, which is among "
        "the nearest 3; record it with quote.recorded, and what is due can be computed"
    )


def test_months_of_a_market_in_two_currencies_are_not_averaged() -> None:
    world = quoted(opened(), new_york={"2026-03": "2290.00", "2026-05": "2300.00"})
    world.rates("GBP", "USD", {DAY: "1.32"}, forward_months=6)
    world.quotes("NY", {DAY: "2310.00"}, "EUR/t", "2026-07")

    assert "NY is quoted in EUR and USD on 2026-01-15" in refused(world)


@pytest.mark.parametrize(
    ("minimum", "owed"), [("2265.39", 226_540), ("2265.41", 226_541)]
)
def test_the_average_is_the_market_that_the_minimum_is_compared_with(
    minimum: str, owed: int
) -> None:
    row = {
        "valid_from": "2000-01-01",
        "price": {"amount": minimum, "unit": "USD/t"},
        "source": "table 1",
    }
    world = certified(
        minimum_prices=[row], market={"market": "daily", "average": AVERAGE}
    )
    world.contract(fixed("2000.00"), on=DAY)
    world.receive("S-1", "2026-02-01", [lot("L-1", "1000")])

    before = world.line()
    quoted(world).rates("GBP", "USD", {DAY: "1.32"}, forward_months=6)

    assert (before.amount_minor, before.standing) == (None, "not computable")
    assert world.line().amount_minor == owed


def test_an_average_in_another_currency_is_converted_for_the_contract() -> None:
    world = quoted(
        certified(market={"market": "daily", "average": AVERAGE}), on="2026-01-14"
    )
    world.rates("GBP", "USD", {"2026-01-14": "1.32"}, forward_months=6)
    world.rates("EUR", "USD", {DAY: "1.25"})
    world.contract(fixed("1000.00", "EUR/t"), on=DAY)
    world.receive("S-1", "2026-02-01", [lot("L-1", "1000")])

    # 2,265.40 / 1.25
    assert world.line().amount_minor == 181_232


def test_what_is_not_fixed_is_valued_at_the_month_that_the_contract_names() -> None:
    world = certified()
    world.contract(to_be_fixed("-100.00"))
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])
    world.quotes("NY", {"2025-06-02": "3000.00"}, month="2025-09")
    world.quotes("NY", {"2025-06-02": "3100.00", "2025-06-03": "3200.00"})
    world.quotes("NY", {"2025-06-02": "2900.00"}, month="2025-12")

    owed = [
        world.line(Duty.PRICE, day).amount_minor for day in ("2025-06-02", "2025-06-03")
    ]

    assert owed == [280_000, 310_000]


def test_each_month_of_a_market_is_a_series_of_its_own() -> None:
    world = quoted(opened())
    world.quotes("NY", {DAY: "2305.00"})

    with pytest.raises(EntryRefusedError, match="already recorded"):
        world.quotes("NY", {DAY: "2291.00"}, month="2026-03")
    price, _ = quote_on(world.shelf, "NY", date.fromisoformat(DAY), fall_back_days=0)

    assert str(price.amount) == "2305.0000"


def test_a_month_is_not_quoted_when_it_is_over() -> None:
    world = opened()
    world.quotes("NY", {"2026-03-31": "2300.00"}, month="2026-03")

    with pytest.raises(
        EntryRefusedError, match="quoted on 2026-04-01, when that month"
    ):
        world.quotes("NY", {"2026-04-01": "2300.00"}, month="2026-03")


@pytest.mark.parametrize(
    ("day", "first", "second"),
    [
        ("2023-12-15", "4266.00", "4266.00"),
        ("2024-01-09", "4178.00", "4178.00"),
        ("2024-01-30", "4775.17", "10676.42"),
        ("2024-01-31", "4798.20", "10888.05"),
    ],
)
def test_a_day_with_two_figures_is_refused_and_never_averaged(
    day: str, first: str, second: str
) -> None:
    """A public copy of a daily cocoa price has four days twice, two of them at odds.

    Source: a public copy of the International Cocoa Organization's daily prices, 1994 to
    2025. The days and the figures of 2024-01-30 and 2024-01-31 are its; it repeats the
    other two days with one figure, which is made up here.
    """
    world = opened()
    body = {
        "market": "daily",
        "unit": "USD/t",
        "source": "a public copy",
        "quotes": [{"on": day, "level": level} for level in (first, second)],
    }

    with pytest.raises(EntryRefusedError, match=f"quotes give {day} more than once"):
        world.record("quote.recorded", day, body)
    world.quotes("daily", {day: first})
    with pytest.raises(EntryRefusedError, match="already recorded"):
        world.quotes("daily", {day: second})
    price, _ = quote_on(world.shelf, "daily", date.fromisoformat(day), fall_back_days=0)

    assert Fraction(price.amount) == Fraction(first)


def test_the_arithmetic_names_the_published_definition() -> None:
    world = quoted(
        bought(fixed("1.00"), on=DAY, market={"market": "daily", "average": AVERAGE})
    )
    world.rates("GBP", "USD", {DAY: "1.32"}, forward_months=6)

    rules = {w.text: w.rule for w in world.line().workings}

    assert rules["daily: average of 2 markets"] == "definition of the daily price"
