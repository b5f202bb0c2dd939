"""ledger.books.interest: simple interest on what was paid late, as a duty of its own."""

from datetime import date
from fractions import Fraction
from math import ceil

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.books.due_line import DueLine
from ledger.books.dues import dues_of
from ledger.books.owing import contract_totals, shortfalls
from ledger.trade.words import Duty
from tests.books.buying_world import (
    BuyingWorld,
    certified,
    fixed,
    lot,
    row,
    to_be_fixed,
)
from tests.books.test_day_count import published


def rate(
    percent: str = "7.3",
    valid_from: str = "2000-01-01",
    day_count: str = "actual/365",
) -> dict[str, object]:
    return {
        "valid_from": valid_from,
        "percent_per_year": percent,
        "day_count": day_count,
        "source": "clause 8",
    }


def owing(*rates: dict[str, object], **more: object) -> BuyingWorld:
    """Return a world in which 1,000.00 dollars fall due on 2025-03-03."""
    world = certified(late_interest=list(rates or [rate()]), **more)
    world.contract(fixed("1000.00"))
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])
    return world


def interest(world: BuyingWorld, as_of: str = "2030-01-01") -> list[DueLine]:
    return world.lines(Duty.INTEREST, as_of)


@pytest.mark.parametrize(
    ("paid_on", "cents"),
    [("2025-03-03", None), ("2025-03-04", 20), ("2025-03-08", 100)],
)
def test_interest_runs_from_the_day_after_the_due_date(
    paid_on: str, cents: int | None
) -> None:
    """7.3 per cent of 1,000.00 over 365 days are 0.20 a day.

    Source: 2006 ISDA Definitions, section 4.16 (d), Actual/365 (Fixed).
    """
    world = owing()
    world.pay("P-1", paid_on, "1000.00")

    found = [(line.amount_minor, str(line.standing)) for line in interest(world)]

    assert found == ([] if cents is None else [(cents, "final")])


def test_each_part_runs_until_its_own_payment() -> None:
    world = owing()
    world.pay("P-1", "2025-03-01", "100.00")
    world.pay("P-2", "2025-03-13", "400.00")

    # 400.00 for 10 days and 500.00 for 20, at 0.0002 a day
    [line] = interest(world, "2025-03-23")

    assert line.amount_minor == 80 + 200
    assert (str(line.standing), line.because) == (
        "provisional",
        "it grows until the rest is paid",
    )
    assert (line.purpose, line.payee, line.scheme) == (
        "interest on price",
        "coop-alto",
        "fair-harvest",
    )
    assert str(line.due_on) == "2025-03-23"


def test_the_rate_is_that_of_the_due_date_for_the_whole_time() -> None:
    for changes, cents in (("2025-03-03", 200), ("2025-03-04", 100)):
        world = owing(rate("3.65"), rate("7.3", changes))
        world.pay("P-1", "2025-03-13", "1000.00")

        assert [line.amount_minor for line in interest(world)] == [cents]


def test_before_the_first_rate_there_is_no_interest() -> None:
    world = owing(rate(valid_from="2025-03-04"))
    world.pay("P-1", "2025-03-13", "1000.00")

    assert interest(world) == []


@pytest.mark.parametrize("rates", [[rate("0")], []])
def test_a_rate_of_nothing_and_no_rate_ask_for_nothing(
    rates: list[dict[str, object]],
) -> None:
    world = certified(late_interest=rates)
    world.contract(fixed("1000.00"))
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    assert interest(world) == []


def test_interest_on_a_premium_goes_to_its_payees() -> None:
    payees = [
        {"payee": "seller", "share": "0.6"},
        {"payee": "farmers", "share": "0.4"},
    ]
    world = owing(premiums=[row("100.00", payees=payees)])
    world.pay("P-1", "2025-03-03", "1000.00")

    found = {
        (line.purpose, line.payee): line.amount_minor
        for line in interest(world, "2025-03-13")
    }

    # 60.00 and 40.00 for ten days at 0.0002 a day
    assert found == {
        ("interest on premium", "coop-alto"): 12,
        ("interest on premium", "farmers"): 8,
    }


def test_of_two_schemes_the_higher_interest_on_the_price_is_owed() -> None:
    world = owing(rate("3.65"))
    world.terms(scheme="other", late_interest=[rate()])
    world.certificate("other")
    claims = [
        {"scheme": s, "custody": "mass balance"} for s in ("fair-harvest", "other")
    ]
    world.contract(fixed("1000.00"), contract="C-2", claims=claims)
    world.receive("S-2", "2025-02-01", [lot("L-2", "1000")], contract="C-2")
    dues = dues_of(world.shelf, "C-2", date(2025, 3, 13))

    [line] = [line for line in dues.lines if line.duty is Duty.INTEREST]
    assert (line.scheme, line.amount_minor) == ("other", 200)


def test_interest_on_a_provisional_price_is_provisional() -> None:
    world = certified(late_interest=[rate()])
    world.quotes("NY", {"2025-03-13": "1000.00"})
    world.contract(to_be_fixed("0"))
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    [line] = interest(world, "2025-03-13")

    assert (line.amount_minor, line.because) == (200, "it is on a provisional price")


def test_paying_interest_settles_it_and_bears_none() -> None:
    world = owing()
    world.pay("P-1", "2025-03-13", "1000.00")
    world.pay("P-2", "2025-04-01", "1.50", "interest")
    before = shortfalls([world.dues("2025-06-01")])
    world.pay("P-3", "2025-06-01", "0.50", "interest")

    assert [(s.duty, s.outstanding_minor, str(s.due_on)) for s in before] == [
        (Duty.INTEREST, 50, "2025-03-13")
    ]
    assert shortfalls([world.dues("2025-06-01")]) == ()
    [total] = contract_totals(world.dues("2025-06-01"))
    assert (total.owed_minor, total.paid_minor) == (100_200, 100_200)


def test_interest_that_runs_is_short_today() -> None:
    [price, running] = shortfalls([owing().dues("2025-03-13")])

    assert (price.duty, price.late_days) == (Duty.PRICE, 10)
    assert (running.duty, running.outstanding_minor, running.late_days) == (
        Duty.INTEREST,
        200,
        0,
    )


def test_the_arithmetic_of_interest_can_be_done_again_by_hand() -> None:
    world = owing(rate("8", day_count="30/360"))
    world.pay("P-1", "2025-03-31", "400.00")

    [line] = interest(world, "2025-04-03")

    assert [(w.text, w.figure, w.reckoning, w.rule) for w in line.workings] == [
        (
            "part of price due on 2025-03-03 that payment P-1 brought on 2025-03-31",
            "400.00 USD",
            "",
            "",
        ),
        (
            "interest on it for 28 days at 8.00 % a year, 30/360",
            "2.488888888… USD",
            "400.00 * 8.00 / 100 * (28 / 360)",
            "fair-harvest 1: clause 8",
        ),
        (
            "part of price due on 2025-03-03 that is open on 2025-04-03",
            "600.00 USD",
            "1000.00 - 400.00",
            "",
        ),
        (
            "interest on it for 31 days at 8.00 % a year, 30/360",
            "4.00 USD",
            "600.00 * 8.00 / 100 * (30 / 360)",
            "fair-harvest 1: clause 8",
        ),
        (
            "amount due",
            "6.49 USD",
            "2.488888888… + 4.00",
            "rounded up to the smallest unit of the currency",
        ),
    ]


@given(
    percent=st.decimals(min_value=0, max_value=100, places=4),
    day_count=st.sampled_from(["actual/365", "actual/360", "actual/actual", "30/360"]),
    due_days=st.integers(0, 366),
    paid=st.lists(
        st.tuples(st.dates(date(2025, 1, 2), date(2029, 1, 1)), st.integers(1, 60_000)),
        max_size=4,
    ),
)
def test_interest_is_the_published_formula_to_the_cent(
    percent: object,
    day_count: str,
    due_days: int,
    paid: list[tuple[date, int]],
) -> None:
    """Each part times rate times year fraction, by 2006 ISDA Definitions, 4.16."""
    world = owing(rate(str(percent), day_count=day_count), price_due={"days": due_days})
    for number, (on, cents) in enumerate(paid):
        world.pay(f"P-{number}", str(on), f"{cents // 100}.{cents % 100:02}")
    [price] = world.lines(Duty.PRICE, "2029-06-01")
    assert price.due_on is not None

    exact, left = Fraction(0), 100_000
    for on, cents in sorted(paid):
        part = min(left, cents)
        left -= part
        if on > price.due_on:
            years = published(price.due_on, on, day_count)  # type: ignore[arg-type]
            exact += part * Fraction(str(percent)) / 100 * years
    years = published(price.due_on, date(2029, 6, 1), day_count)  # type: ignore[arg-type]
    exact += left * Fraction(str(percent)) / 100 * years

    found = interest(world, "2029-06-01")
    assert sum(line.amount_minor or 0 for line in found) == ceil(exact)


def test_each_late_part_is_told_with_the_entry_that_paid_it() -> None:
    """600.00 came five days late, 400.00 are open for ten: 0.60 and 0.80."""
    world = owing()
    world.pay("P-1", "2025-03-08", "600.00")
    paid = world.entries - 1

    [found] = interest(world, "2025-03-13")
    lines = {line.text: (line.figure, line.entry) for line in found.workings}
    assert lines[
        "part of price due on 2025-03-03 that payment P-1 brought on 2025-03-08"
    ] == ("600.00 USD", paid)
    assert lines["part of price due on 2025-03-03 that is open on 2025-03-13"] == (
        "400.00 USD",
        None,
    )
    assert lines["amount due"][0] == "1.40 USD"
    assert (found.because, found.amount_minor) == (
        "it grows until the rest is paid",
        140,
    )


def test_interest_on_what_is_paid_is_final_for_no_reason_left() -> None:
    world = owing()
    world.pay("P-1", "2025-03-08", "1000.00")

    [found] = interest(world)
    assert (str(found.standing), found.because) == ("final", "")
