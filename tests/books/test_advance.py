"""ledger.books.advance: what may be asked for, what is beyond it, what was not paid."""

import pytest

from ledger.books.effects import warnings_of
from ledger.books.finding import EntryRefusedError
from ledger.trade.words import Duty
from tests.books.buying_world import (
    CONTRACT,
    BuyingWorld,
    certified,
    fixed,
    lot,
    to_be_fixed,
)

TERM = {"percent": "60", "days": 10, "source": "clause 4"}


def signed(term: object = TERM) -> BuyingWorld:
    """Return a contract of ten tonnes at 1,000 dollars: 6,000 may be advanced."""
    world = certified(advance=term)
    world.contract(fixed("1000.00"), quantity_kg="10000")
    return world


def advance(world: BuyingWorld, payment: str, on: str, amount: str) -> list[str]:
    """Pay an advance and return what the books say to it."""
    world.pay(payment, on, amount, "advance")
    recorded = world.shelf.at(world.entries - 1)
    assert recorded is not None
    return [finding.message for finding in warnings_of(world.shelf, recorded)]


def ask(
    world: BuyingWorld,
    request: str,
    on: str,
    amount: str | None,
    currency: str = "USD",
) -> None:
    body = {
        "request": request,
        "contract": CONTRACT,
        "money": amount and {"amount": amount, "currency": currency},
        "document": "letter",
    }
    world.record("advance.requested", on, body)


def said(world: BuyingWorld, rule: str, as_of: str) -> list[str]:
    return [f.message for f in world.dues(as_of).findings if f.rule == rule]


def test_up_to_the_highest_per_cent_nothing_is_said() -> None:
    """Up to 60 per cent of the contract's value on request: from memory."""
    world = signed()

    assert advance(world, "P-1", "2025-01-15", "6000.00") == []
    assert said(world, "advance-beyond-terms", "2025-01-20") == []


def test_a_cent_beyond_the_highest_per_cent_is_a_warning() -> None:
    world = signed()

    warned = advance(world, "P-1", "2025-01-15", "6000.01")

    assert warned == [
        (
            "6000.01 USD was advanced on contract C-1 by 2025-01-15, but the terms of "
            "fair-harvest name 60 % of its value, 6000.00 USD, as the highest (clause 4); "
            "what is beyond bears the maker's own risk, so check that it was meant"
        )
    ]
    assert said(world, "advance-beyond-terms", "2025-01-20") == warned
    assert said(world, "advance-beyond-terms", "2025-01-14") == []


def test_advances_add_up_until_they_are_beyond() -> None:
    world = signed()
    advance(world, "P-1", "2025-01-15", "3000.00")

    assert advance(world, "P-2", "2025-01-16", "3000.00") == []
    assert len(advance(world, "P-3", "2025-01-17", "0.01")) == 1


def test_terms_without_a_highest_advance_say_nothing() -> None:
    assert advance(signed(None), "P-1", "2025-01-15", "99999.00") == []


def test_what_is_not_fixed_is_valued_on_the_day_of_payment() -> None:
    world = certified(advance=TERM)
    world.contract(to_be_fixed("-100.00"), quantity_kg="10000")
    world.fix("F-1", "2025-01-12", "4000", "1600.00")
    world.quotes("NY", {"2025-01-15": "1100.00"})

    # 4 t at 1,500 and 6 t at 1,000 are 12,000; 60 per cent are 7,200
    assert advance(world, "P-1", "2025-01-15", "7200.00") == []
    assert len(advance(world, "P-2", "2025-01-15", "0.01")) == 1


def test_without_a_quote_the_highest_advance_is_not_guessed() -> None:
    world = certified(advance=TERM)
    world.contract(to_be_fixed("0"), quantity_kg="10000")

    [warned] = advance(world, "P-1", "2025-01-15", "1.00")

    assert warned.startswith("NY has no quote on 2025-01-15")


def test_a_reader_without_the_price_gets_no_warning() -> None:
    world = certified(advance=TERM)
    world.contract(None, quantity_kg="10000")

    assert advance(world, "P-1", "2025-01-15", "99999.00") == []
    ask(world, "R-1", "2025-01-15", "1.00")
    assert said(world, "advance-not-paid", "2026-01-01") == []


def test_what_is_sealed_is_not_said_to_be_unpaid() -> None:
    """Neither a request of an unknown amount, nor one that an unknown payment may meet."""
    world = signed()
    ask(world, "R-1", "2025-01-15", None)
    assert said(world, "advance-not-paid", "2026-01-01") == []

    world = signed()
    ask(world, "R-1", "2025-01-15", "1.00")
    assert said(world, "advance-not-paid", "2026-01-01") != []
    world.pay("P-1", "2025-01-20", None, "advance")
    assert said(world, "advance-not-paid", "2026-01-01") == []


def test_an_advance_beyond_the_highest_is_not_seen_where_one_is_sealed() -> None:
    world = signed()
    world.pay("P-1", "2025-01-15", None, "advance")

    assert advance(world, "P-2", "2025-01-15", "99999.00") == []


def test_an_advance_is_set_off_against_the_price_before_other_payments() -> None:
    world = signed()
    world.pay("P-0", "2025-01-12", "500.00")
    advance(world, "P-1", "2025-01-15", "1200.00")
    before = world.dues("2025-01-31").settlements
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])
    world.receive("S-2", "2025-02-10", [lot("L-2", "500")])

    [first, second] = world.lines(Duty.PRICE)

    assert [(p.duty, p.advanced_minor, p.overpaid_minor) for p in before] == [
        (Duty.PRICE, 120_000, 170_000)
    ]
    assert [(p.payment, p.amount_minor, p.is_advance) for p in first.paid] == [
        ("P-1", 100_000, True)
    ]
    assert [(p.payment, p.amount_minor, p.is_advance) for p in second.paid] == [
        ("P-1", 20_000, True),
        ("P-0", 30_000, False),
    ]
    assert [p.overpaid_minor for p in world.dues().settlements] == [20_000]


def test_an_advance_leaves_less_to_bear_interest() -> None:
    rate = {
        "valid_from": "2000-01-01",
        "percent_per_year": "7.3",
        "day_count": "actual/365",
        "source": "clause 8",
    }
    world = certified(advance=TERM, late_interest=[rate])
    world.contract(fixed("1000.00"), quantity_kg="1000")
    advance(world, "P-1", "2025-01-15", "600.00")
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    # 400.00 from 2025-03-03 on, at 0.0002 a day
    assert world.line(Duty.INTEREST, "2025-03-13").amount_minor == 80


@pytest.mark.parametrize(
    ("as_of", "missing"), [("2025-01-25", None), ("2025-01-26", "6000.00")]
)
def test_a_request_is_to_be_met_in_time_up_to_the_highest(
    as_of: str, missing: str | None
) -> None:
    world = signed()
    ask(world, "R-1", "2025-01-15", "8000.00")

    found = said(world, "advance-not-paid", as_of)

    assert found == (
        []
        if missing is None
        else [
            (
                f"{missing} USD of the advance that coop-alto asked for with R-1 on "
                "2025-01-15 was not paid by 2025-01-25, as the terms of fair-harvest ask "
                "(clause 4); pay it, and record it with payment.made towards advance"
            )
        ]
    )


def test_requests_are_met_by_advances_and_by_paying_the_price() -> None:
    world = signed()
    ask(world, "R-1", "2025-01-15", "2000.00")
    ask(world, "R-2", "2025-01-20", "1000.00")
    advance(world, "P-1", "2025-01-21", "2500.00")
    short = said(world, "advance-not-paid", "2025-02-01")
    world.pay("P-2", "2025-01-30", "500.00")

    assert [sentence.partition(" USD")[0] for sentence in short] == ["500.00"]
    assert said(world, "advance-not-paid", "2025-02-01") == []


def test_terms_without_an_advance_leave_a_request_to_the_contract() -> None:
    world = signed(None)
    ask(world, "R-1", "2025-01-15", "2000.00")

    assert said(world, "advance-not-paid", "2026-01-01") == []


def test_a_request_in_another_currency_is_refused() -> None:
    with pytest.raises(EntryRefusedError, match="money is in EUR, but contract C-1"):
        ask(signed(), "R-1", "2025-01-15", "2000.00", "EUR")


def test_of_two_schemes_the_one_that_allows_most_counts() -> None:
    world = certified(advance={"percent": "10", "source": "clause 1"})
    world.terms(scheme="other", advance=TERM)
    world.certificate("other")
    claims = [
        {"scheme": s, "custody": "mass balance"} for s in ("fair-harvest", "other")
    ]
    world.contract(fixed("1000.00"), quantity_kg="10000", claims=claims)

    assert advance(world, "P-1", "2025-01-15", "6000.00") == []


def test_a_contract_that_is_worth_less_than_nothing_allows_nothing() -> None:
    world = certified(advance=TERM)
    world.contract(to_be_fixed("-2000.00"), quantity_kg="10000")
    world.quotes("NY", {"2025-01-15": "1100.00"})

    assert "0.00 USD, as the highest" in advance(world, "P-1", "2025-01-15", "0.01")[0]


def test_a_contract_that_is_fixed_whole_needs_no_quote() -> None:
    world = certified(advance=TERM)
    world.contract(to_be_fixed("0"), quantity_kg="10000")
    world.fix("F-1", "2025-01-12", "10000", "1000.00")

    assert advance(world, "P-1", "2025-01-15", "6000.00") == []
