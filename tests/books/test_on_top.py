"""ledger.books.on_top: organic differential and premium, and who gets them."""

from typing import Any

import pytest

from ledger.books.due_line import Standing
from ledger.trade.words import Duty
from tests.books.buying_world import (
    SCHEME,
    SELLER,
    bought,
    certified,
    fixed,
    lot,
    opened,
    row,
    to_be_fixed,
)


@pytest.mark.parametrize(
    ("contract", "received", "owed_minor"),
    [
        (True, None, 30_000),
        (False, None, None),
        (True, False, None),
        (False, True, 30_000),
    ],
)
def test_what_is_received_as_organic_is_owed_as_organic(
    contract: bool,  # noqa: FBT001 - a column of the table
    received: bool | None,  # noqa: FBT001 - a column of the table
    owed_minor: int | None,
) -> None:
    """It is credited as organic then, so it is owed as organic too."""
    world = certified(organic_differentials=[row("300.00")])
    world.contract(fixed("2000.00"), organic=contract)
    stated: dict[str, Any] = {} if received is None else {"organic": received}
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000", **stated)])

    assert owed_minor == world.amounts().get(Duty.ORGANIC)


def test_a_premium_is_split_between_its_payees() -> None:
    """Part of a premium in cash to members: 40 per cent in some origins from 2026-10-01.

    Source: national pages of the publisher of a price table, as seen in 2026.
    """
    world = bought(
        fixed("2000.00"),
        kg="1001",
        premiums=[
            row(
                "275.00",
                payees=[
                    {"payee": "seller", "share": "0.6"},
                    {"payee": "farmers", "share": "0.4"},
                ],
            )
        ],
    )

    # 1.001 t x 275.00 = 275.275: 165.165 and 110.11, the first rounded up by itself
    assert [(line.payee, line.amount_minor) for line in world.lines(Duty.PREMIUM)] == [
        ("coop-alto", 16_517),
        ("farmers", 11_011),
    ]


def test_two_shares_of_one_payee_are_one_line() -> None:
    shares = [{"payee": "seller", "share": "0.5"}, {"payee": SELLER, "share": "0.5"}]
    world = bought(fixed("2000.00"), premiums=[row("240.01", payees=shares)])

    assert world.line(Duty.PREMIUM).amount_minor == 24_001


def test_farmers_are_paid_under_their_own_name() -> None:
    payees = [{"payee": "farmers", "share": "1"}]
    world = bought(fixed("2000.00"), premiums=[row("240.00", payees=payees)])
    world.pay("P-1", "2025-02-01", "240.00", "premium", payee="farmers")

    assert world.line(Duty.PREMIUM).outstanding_minor == 0


@pytest.mark.parametrize(
    ("weight", "owed_minor"),
    [(None, 23_880), ("shipped", 24_000), ("landed", 23_640)],
)
def test_a_premium_is_paid_on_the_weight_that_the_terms_name(
    weight: str | None, owed_minor: int
) -> None:
    """1,000 kg shipped, 985 landed, franchise 1 per cent: 995 kg settle the price."""
    world = certified(
        premiums=[row("240.00")],
        **({} if weight is None else {"premium_weight": weight}),
    )
    world.contract(fixed("2000.00"), weight_basis="landed", franchise_percent="1")
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000", "985")])

    assert owed_minor == world.line(Duty.PREMIUM).amount_minor
    assert world.line(Duty.PRICE).amount_minor == 199_000


@pytest.mark.parametrize("field", ["premiums", "organic_differentials"])
@pytest.mark.parametrize(
    "gap", [row("240.00", "2026-01-01"), row("240.00", origins=["EC"])]
)
def test_a_gap_in_a_table_is_no_zero(field: str, gap: dict[str, object]) -> None:
    table: dict[str, Any] = {field: [gap]}
    world = bought(fixed("2000.00"), organic=True, **table)
    duty = Duty.PREMIUM if field == "premiums" else Duty.ORGANIC

    line = world.line(duty)

    assert (line.amount_minor, line.standing) == (None, Standing.NOT_COMPUTABLE)
    assert f"no {duty} for bean from PE on 2025-01-10" in line.because


def test_rows_of_another_commodity_owe_nothing() -> None:
    sugar = [row("80.00", commodity="sugar")]
    world = bought(
        fixed("2000.00"), organic=True, premiums=sugar, organic_differentials=sugar
    )

    assert world.amounts() == {Duty.PRICE: 200_000}


def test_what_depends_on_a_fixation_to_come_is_provisional() -> None:
    world = certified(
        premiums=[row("240.00"), row("275.00", "2025-06-01")],
        organic_differentials=[row("300.00")],
        premium_governed_by="fixation",
        minimum_governed_by="fixation",
    )
    world.quotes("NY", {"2025-05-31": "2000.00", "2025-06-01": "2000.00"})
    world.contract(to_be_fixed("0"), organic=True)
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    early, late = (world.dues(day).lines for day in ("2025-05-31", "2025-06-01"))

    assert [line.amount_minor for line in early] == [200_000, 30_000, 24_000]
    assert [line.amount_minor for line in late] == [200_000, 30_000, 27_500]
    assert {Standing.PROVISIONAL} == {line.standing for line in (*early, *late)}


@pytest.mark.parametrize("governing", ["fixation", "contract"])
def test_a_sealed_price_hides_when_it_was_fixed(governing: str) -> None:
    world = certified(
        premiums=[row("240.00")],
        organic_differentials=[row("300.00")],
        premium_governed_by=governing,
        minimum_governed_by=governing,
    )
    world.contract(None, organic=True)
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])
    is_known = governing == "contract"

    assert {
        Duty.PRICE: None,
        Duty.ORGANIC: 30_000 if is_known else None,
        Duty.PREMIUM: 24_000 if is_known else None,
    } == world.amounts()


def test_under_a_sealed_price_payments_tell_the_currency() -> None:
    world = certified(premiums=[row("200.00", unit="EUR/t")])
    world.rates("EUR", "USD", {"2025-02-01": "1.10"})
    world.contract(None)
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    unpaid = world.line(Duty.PREMIUM)
    world.pay("P-1", "2025-02-10", "220.00", "premium")
    paid = world.line(Duty.PREMIUM)

    assert (unpaid.currency, unpaid.amount_minor) == ("EUR", 20_000)
    assert (
        paid.currency,
        paid.amount_minor,
        paid.outstanding_minor,
    ) == ("USD", 22_000, 0)


def test_organic_differentials_in_two_currencies_cannot_be_compared_unseen() -> None:
    world = certified(organic_differentials=[row("300.00")])
    world.terms(scheme="other", organic_differentials=[row("300.00", unit="EUR/t")])
    world.certificate("other")
    claims = [{"scheme": s, "custody": "mass balance"} for s in (SCHEME, "other")]
    world.contract(None, claims=claims, organic=True)
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    assert Standing.NOT_DISCLOSED is world.line(Duty.ORGANIC).standing


def test_of_several_differentials_the_highest_is_owed_and_the_others_are_told() -> None:
    world = certified(organic_differentials=[row("300.00")])
    world.terms(scheme="other", organic_differentials=[row("310.00")])
    world.certificate("other")
    claims = [{"scheme": s, "custody": "mass balance"} for s in (SCHEME, "other")]
    world.contract(fixed("2000.00"), claims=claims, organic=True)
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    line = world.line(Duty.ORGANIC)
    told = [(one.figure, one.rule, one.reckoning) for one in line.workings]

    assert line.amount_minor == 31_000
    assert (
        "310.00 USD/t",
        "the highest of these",
        "highest of (300.00, 310.00)",
    ) in told
    assert ("300.00 USD/t", f"{SCHEME} 1: table 1", "") in told


def test_a_premium_is_converted_at_a_rate_as_old_as_its_own_terms_allow() -> None:
    """The rate is three days old: the first scheme takes it, the second would not."""
    world = opened()
    for scheme, days, premium in (("first", 3, ["240.00"]), ("second", 0, [])):
        world.terms(
            scheme=scheme,
            market={"market": "NY", "fall_back_days": days},
            premiums=[row(amount, unit="EUR/t") for amount in premium],
        )
        world.certificate(scheme)
    world.quotes("NY", {"2025-01-10": "1.00"})
    world.rates("EUR", "USD", {"2025-01-29": "1.10"})
    claims = [{"scheme": s, "custody": "mass balance"} for s in ("first", "second")]
    world.contract(fixed("2900.00"), claims=claims)
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    assert world.line(Duty.PREMIUM).amount_minor == 26_400


def test_a_differential_is_provisional_if_any_scheme_awaits_the_fixation() -> None:
    world = certified(organic_differentials=[row("300.00")])
    world.terms(
        scheme="other",
        organic_differentials=[row("200.00")],
        minimum_governed_by="fixation",
    )
    world.certificate("other")
    world.quotes("NY", {"2025-03-01": "2000.00"})
    claims = [{"scheme": s, "custody": "mass balance"} for s in (SCHEME, "other")]
    world.contract(to_be_fixed("0"), claims=claims, organic=True)
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])

    line = world.line(Duty.ORGANIC, "2025-03-01")

    assert (line.amount_minor, line.standing) == (30_000, Standing.PROVISIONAL)
