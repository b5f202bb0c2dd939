"""ledger.books.judge: an entry is let in or refused, and what it changes is told."""

from datetime import UTC, date, datetime
from typing import Any

import pytest

from ledger.books.balance import breaches
from ledger.books.effect import Recorded
from ledger.books.finding import EntryRefusedError, Severity
from ledger.books.judge import judge
from ledger.books.opening import parse_body
from tests.world import World, certified, claim, opened, refused

DAY = "2025-02-01"


@pytest.mark.parametrize(
    ("on", "taken"), [("2025-05-01", True), ("2025-05-02", True), ("2025-05-03", False)]
)
def test_an_entry_says_what_has_happened(on: str, *, taken: bool) -> None:
    """A day ahead is allowed, since it may be tomorrow where the goods are."""
    world = opened()
    body = {"party": "new", "roles": ["payee"], "country": "NL"}
    seq = len(world.raws)
    recorded = Recorded(
        seq,
        seq,
        date.fromisoformat(on),
        datetime(2025, 5, 1, 23, tzinfo=UTC),
        "clerk",
        parse_body("party.registered", body),
    )
    if taken:
        judge(world.shelf, recorded)
        assert world.shelf.at(seq) == recorded
    else:
        with refused("date-in-future"):
            judge(world.shelf, recorded)


def test_a_day_that_has_not_come_is_a_matter_of_the_entrys_own_date() -> None:
    world = opened()
    world.recorded_at = datetime(2025, 5, 1, 23, tzinfo=UTC)

    with refused("date-in-future") as caught:
        world.record(
            "party.registered",
            "2025-05-03",
            party="new",
            roles=["payee"],
            country="NL",
        )
    [finding] = caught.value.findings
    assert finding.field == "occurred_on"


def both_on_one_day(within_day: str) -> World:
    """An account of nothing, goods to claim on, and the rule for movements of one day."""
    world = certified(account={"within_day": within_day})
    world.receive({"P": "100"}, contract="PLAIN")
    return world


@pytest.mark.parametrize("within_day", ["as recorded", "receipts first"])
def test_a_claim_recorded_after_the_receipt_of_its_day_is_covered(
    within_day: str,
) -> None:
    world = both_on_one_day(within_day)
    world.receive({"L": "10"}, DAY)
    world.sell("X", {"P": "10"}, DAY, claim())

    assert world.account() == 0


def sold_before_the_receipt(within_day: str) -> World:
    world = both_on_one_day(within_day)
    world.receive({"L0": "10"}, "2025-01-15")
    receipt = len(world.raws) - 1
    world.sell("X", {"P": "10"}, DAY, claim())
    world.receive({"L": "10"}, DAY)
    world.void(receipt, accept_breach=within_day == "as recorded")
    return world


def test_as_recorded_a_claim_before_the_receipt_of_its_day_is_short() -> None:
    """Netting by day would hide that it was not covered when it was made."""
    world = sold_before_the_receipt("as recorded")

    [short] = breaches(world.shelf)
    assert (short.lowest_g, str(short.lowest_on), short.closing_g) == (-10_000, DAY, 0)


def test_receipts_first_a_claim_before_the_receipt_of_its_day_is_covered() -> None:
    world = sold_before_the_receipt("receipts first")

    assert not list(breaches(world.shelf))
    assert not world.rules


def test_the_order_within_a_day_is_that_of_the_terms_of_the_day() -> None:
    world = both_on_one_day("as recorded")
    world.terms(valid_from=DAY, account={"within_day": "receipts first"})
    for day in ("2025-01-31", DAY):
        world.receive({f"L{day}": "10"}, day)
    world.sell("X", {"P": "10"}, "2025-01-31", claim())
    receipt = next(r["seq"] for r in world.raws if r["occurred_on"] == DAY)
    world.sell("Y", {"P": "10"}, DAY, claim())
    world.void(receipt, accept_breach=True)
    world.receive({"K": "10"}, DAY)

    assert not list(breaches(world.shelf))


def test_an_overdraft_within_a_day_is_not_hidden_by_an_earlier_one() -> None:
    """A breach in the morning, made good at noon, is no leave to oversell at night."""
    world = both_on_one_day("as recorded")
    world.receive({"L": "50"}, "2025-01-15")
    world.sell("X", {"P": "50"}, "2025-01-20", claim())
    world.stop("alder/fairfield", "2025-01-21", from_on="2025-01-10")
    world.stop("alder/fairfield", "2025-01-22", "reinstated")
    assert world.account() == -50_000
    world.receive({"K": "10"}, DAY)
    world.receive({"K2": "100"}, DAY)

    with pytest.raises(
        EntryRefusedError, match=r"1\.000 kg .* below zero on 2025-02-01"
    ):
        world.sell("Y", {"K2": "61"}, DAY, claim())
    world.sell("Y", {"K2": "60"}, DAY, claim())


def test_a_suspension_is_recorded_though_it_leaves_an_account_short() -> None:
    world = certified()
    world.receive({"L": "100"})
    world.sell("X", {"L": "60"}, DAY, claim())
    receipt = next(r["seq"] for r in world.raws if r["kind"] == "shipment.received")
    world.stop("alder/fairfield", "2025-03-01", from_on="2025-01-10")

    [finding] = world.warnings
    assert finding.severity is Severity.WARNING
    assert "is 60.000 kg of bean equivalent below zero on 2025-02-01" in finding.message
    assert world.judgements[-1].restated == (receipt,)


@pytest.mark.parametrize(
    ("from_on", "account_g"), [("2025-01-10", -60_000), ("2025-01-11", 40_000)]
)
def test_receipts_from_the_day_of_a_suspension_on_do_not_count(
    from_on: str, account_g: int
) -> None:
    world = certified()
    world.receive({"L": "100"}, "2025-01-10")
    world.sell("X", {"L": "60"}, DAY, claim())
    world.stop("alder/fairfield", "2025-03-01", from_on=from_on)

    assert world.account() == account_g


def test_a_breach_is_made_good_by_a_later_receipt_and_forbids_claims_until_then() -> (
    None
):
    world = certified()
    world.sign("D", "birch", claim())
    world.receive({"L": "100"})
    world.sell("X", {"L": "60"}, DAY, claim())
    world.stop("alder/fairfield", "2025-03-01", from_on="2025-01-10")
    world.receive({"K": "70"}, "2025-03-05", contract="D")

    with refused("account-below-zero"):
        world.sell("Y", {"L": "1"}, "2025-03-04", claim())
    with refused("account-below-zero"):
        world.sell("Y", {"L": "10.001"}, "2025-03-06", claim())
    world.sell("Y", {"L": "10"}, "2025-03-06", claim())
    assert world.account() == 0


def test_a_new_certificate_credits_what_was_received_under_it() -> None:
    world = opened()
    world.terms()
    world.sign("C", "alder", claim())
    world.receive({"L": "100"}, "2025-01-10")
    assert world.account() == 0
    world.certify("alder")

    assert world.account("2025-01-09") == 0
    assert world.account("2025-01-10") == 100_000


def test_what_is_refused_says_all_that_is_wrong() -> None:
    world = certified()
    world.receive({"L": "100"})

    with pytest.raises(EntryRefusedError) as caught:
        world.sell("X", {"L": "100.001"}, DAY, claim())

    assert sorted(f.rule for f in caught.value.findings) == [
        "account-below-zero",
        "stock-below-zero",
    ]
    assert {f.severity for f in caught.value.findings} == {Severity.REFUSAL}


def test_what_is_refused_changes_nothing() -> None:
    world = certified()
    world.receive({"L": "100"})
    before = world.shelf

    with refused("stock-below-zero"):
        world.sell("X", {"L": "100.001"}, DAY)

    assert world.shelf is before
    assert world.rebuilt_alike()


def account_by_order(order: tuple[str, ...]) -> int:
    """Record the same facts in some order; return what the account holds."""
    world = certified()
    world.void(next(r["seq"] for r in world.raws if r["body"].get("holder") == "alder"))
    acts: dict[str, Any] = {
        "certificate": lambda: world.certify("alder", certificate="n"),
        "suspension": lambda: world.stop("birch/fairfield", "2025-01-05"),
        "receipt": lambda: world.receive({"L": "100"}, shipment="S"),
        "dispatch": lambda: world.record(
            "shipment.dispatched",
            "2025-01-02",
            shipment="S",
            contract="C",
            carriage={"bill_of_lading": "BL"},
            net_shipped_kg="100",
        ),
        "loss": lambda: world.write_off("L", "1", DAY),
    }
    for act in order:
        acts[act]()
    assert world.rebuilt_alike()
    return world.account()


@pytest.mark.parametrize(
    "order",
    [
        ("certificate", "dispatch", "receipt", "loss", "suspension"),
        ("receipt", "loss", "certificate", "dispatch", "suspension"),
        ("receipt", "dispatch", "suspension", "loss", "certificate"),
        ("dispatch", "receipt", "certificate", "loss", "suspension"),
    ],
)
def test_the_order_in_which_facts_are_learnt_does_not_matter(
    order: tuple[str, ...],
) -> None:
    assert account_by_order(order) == 99_000


@pytest.mark.parametrize(("on", "may"), [("2025-01-31", False), ("2025-02-01", True)])
def test_what_moves_a_total_is_dated_after_the_last_close(
    on: str, *, may: bool
) -> None:
    world = certified()
    world.receive({"L": "10"}, "2025-01-10")
    world.close("2025-01-01", "2025-01-31", on="2025-02-01")
    if may:
        world.receive({"M": "10"}, on)
        return
    with refused("period-closed") as caught:
        world.receive({"M": "10"}, on)
    [finding] = caught.value.findings
    assert finding.field == "occurred_on"
    assert finding.message.startswith(
        "occurred_on is 2025-01-31, but the books are closed up to 2025-01-31"
    )


@pytest.mark.parametrize(("recorded", "may"), [(28, True), (1, False)])
def test_a_period_is_over_on_the_day_after_its_last(
    recorded: int, *, may: bool
) -> None:
    world = certified(account={"below_zero_kg": "50"}, reconciliation_months=1)
    world.receive({"P": "100"}, "2025-02-01", contract="PLAIN")
    month = 2 if may else 3
    world.recorded_at = datetime(2025, month, recorded, 12, tzinfo=UTC)
    if may:
        world.sell("X", {"P": "1"}, "2025-02-28", claim())
        return
    with refused("account-below-zero"):
        world.sell("X", {"P": "1"}, "2025-02-28", claim())
