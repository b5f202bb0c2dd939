"""ledger.books.below_floor: what stands too low, refused or let stand, and told."""

from datetime import UTC, datetime
from typing import Any

import pytest

from ledger.books.account import Account
from ledger.books.effect import SubjectKind
from ledger.books.finding import EntryRefusedError, Finding
from tests.world import World, certified, claim, refused

MILL = Account("fairfield", "cocoa", "mill", "conventional", "all").key
FIFTY: dict[str, Any] = {"below_zero_kg": "50"}


def noted(world: World, kind: SubjectKind) -> list[str]:
    """Return the accounts that the last entry broke, or made whole."""
    last = len(world.raws) - 1
    slots = [s for s in range(last + 1) if (at := world.shelf.at(s)) and at.seq == last]
    mentions = [one for slot in slots for one in world.shelf.effects(slot).mentions]
    return [one.name for one in mentions if one.kind is kind]


def held(**terms: Any) -> World:  # noqa: ANN401
    """Return a world with a hundred certified kilograms and a thousand others."""
    world = certified(**terms)
    world.receive({"L": "100"}, "2025-01-10")
    world.receive({"P": "1000"}, "2025-01-10", contract="PLAIN")
    return world


def refusal(world: World, mass: str, on: str = "2025-02-01") -> Finding:
    with pytest.raises(EntryRefusedError) as caught:
        world.sell("X", {"P": mass}, on, claim())
    [finding] = caught.value.findings
    return finding


def test_a_lot_that_gives_too_much_is_told_with_date_and_mass() -> None:
    world = held()
    with pytest.raises(EntryRefusedError) as caught:
        world.sell("X", {"L": "100.007"}, "2025-02-01")

    [finding] = caught.value.findings
    assert (finding.rule, finding.field) == ("stock-below-zero", "mass_kg")
    assert finding.message == (
        "lot L would be 0.007 kg below zero on 2025-02-01; a lot cannot give more than it "
        "has on any date, so correct the mass or the date, or record first what brought "
        "it in"
    )


def test_an_account_that_gives_too_much_is_told_with_date_and_mass() -> None:
    finding = refusal(held(), "100.007")

    assert (finding.rule, finding.field) == ("account-below-zero", "claims")
    assert finding.message.startswith(
        "account fairfield, cocoa, mill, conventional would be 0.007 kg of bean "
        "equivalent below zero on 2025-02-01; claims may never exceed"
    )


def test_where_the_terms_allow_some_it_says_how_much() -> None:
    world = held(account=FIFTY)
    world.recorded_at = datetime(2025, 3, 1, tzinfo=UTC)

    assert (
        "would be 50.007 kg of bean equivalent below zero on 2025-02-01, where the terms "
        "allow 50.000 kg within a period; claims" in refusal(world, "150.007").message
    )


def test_a_period_that_is_over_is_told_by_its_end() -> None:
    world = held(account=FIFTY, reconciliation_months=1)

    assert (
        "would be 0.007 kg of bean equivalent below zero on 2025-02-28, when its "
        "reconciliation period ended; claims" in refusal(world, "100.007").message
    )


def test_of_several_ends_the_first_is_told() -> None:
    """It is unsettled at the end of February and of March, and settled in April."""
    world = held(account=FIFTY, reconciliation_months=1)
    world.receive({"M": "50"}, "2025-04-01")

    assert "on 2025-02-28, when" in refusal(world, "101").message


def test_a_period_that_ended_as_low_before_is_not_made_worse_by_other_sales() -> None:
    """The end of February stays as it is: a late end is refused where it sinks."""
    world = held(account=FIFTY, reconciliation_months=1)
    world.recorded_at = datetime(2025, 2, 20, tzinfo=UTC)
    world.sell("X", {"P": "110"}, "2025-02-01", claim())
    world.recorded_at = datetime(2025, 3, 20, tzinfo=UTC)
    world.sell("Y", {"P": "5"}, "2025-03-01", claim())
    assert noted(world, SubjectKind.SHORTFALL) == []

    with refused("account-below-zero"):
        world.sell("Z", {"P": "0.001"}, "2025-02-28", claim())


def test_a_breach_that_may_stand_is_told_and_noted() -> None:
    world = held()
    world.sell("X", {"P": "60"}, "2025-02-01", claim())
    world.stop("alder/fairfield", "2025-03-01", from_on="2025-01-01")

    [finding] = [one for one in world.warnings if one.rule == "breach-opened"]
    assert finding.field == ""
    assert finding.message == (
        "account fairfield, cocoa, mill, conventional is 60.000 kg of bean equivalent "
        "below zero on 2025-02-01; the breach stays open until a receipt, a return or a "
        "correction makes it good, and the certifier will see it"
    )
    assert noted(world, SubjectKind.SHORTFALL) == [MILL]
    assert noted(world, SubjectKind.MADE_GOOD) == []


@pytest.mark.parametrize(
    ("mass", "is_whole"), [("59.999", False), ("60", True), ("60.001", True)]
)
def test_an_account_is_made_good_once_it_is_back_at_zero(
    mass: str, *, is_whole: bool
) -> None:
    world = held()
    world.sell("X", {"P": "60"}, "2025-02-01", claim())
    world.stop("alder/fairfield", "2025-03-01", from_on="2025-01-01")
    world.sign("B", "birch", claim())
    world.receive({"M": mass}, "2025-03-10", contract="B")
    assert noted(world, SubjectKind.MADE_GOOD) == ([MILL] if is_whole else [])

    world.receive({"N": "1"}, "2025-03-11", contract="B")
    assert noted(world, SubjectKind.MADE_GOOD) == ([] if is_whole else [MILL])


def test_what_was_never_short_is_not_made_good() -> None:
    world = held()
    world.receive({"M": "1"}, "2025-03-10")

    assert noted(world, SubjectKind.MADE_GOOD) == []


def test_a_past_that_is_put_right_is_made_good_though_it_ended_whole() -> None:
    """The breach of February ended in March; a late receipt takes it out of the past."""
    world = held()
    world.sell("X", {"P": "60"}, "2025-02-01", claim())
    world.stop("alder/fairfield", "2025-03-01", from_on="2025-01-01")
    world.sign("B", "birch", claim())
    world.receive({"M": "60"}, "2025-03-10", contract="B")
    world.receive({"N": "60"}, "2025-01-31", contract="B")

    assert noted(world, SubjectKind.MADE_GOOD) == [MILL]


def test_a_period_settled_after_all_is_made_good() -> None:
    world = held(account=FIFTY, reconciliation_months=1)
    world.recorded_at = datetime(2025, 2, 20, tzinfo=UTC)
    world.sell("X", {"P": "110"}, "2025-02-01", claim())
    world.recorded_at = datetime(2025, 3, 20, tzinfo=UTC)
    world.receive({"M": "10"}, "2025-02-28")

    assert noted(world, SubjectKind.MADE_GOOD) == [MILL]


def test_within_the_limit_of_a_running_period_nothing_is_short() -> None:
    world = held(account=FIFTY)
    world.recorded_at = datetime(2025, 2, 20, tzinfo=UTC)
    world.sell("X", {"P": "150"}, "2025-02-01", claim())
    world.receive({"M": "50"}, "2025-02-02")

    assert noted(world, SubjectKind.SHORTFALL) == []
    assert noted(world, SubjectKind.MADE_GOOD) == []


def test_every_total_that_is_short_is_told_at_once() -> None:
    """The first account of the three is covered, the last and a lot are not."""
    world = held(account={"match_origin": True})
    world.sign("B", "birch", claim())
    world.receive({"EC": "10"}, "2025-01-10", contract="B")
    with pytest.raises(EntryRefusedError) as caught:
        world.sell("X", {"L": "101", "EC": "9"}, "2025-02-01", claim())

    assert sorted(finding.rule for finding in caught.value.findings) == [
        "account-below-zero",
        "stock-below-zero",
    ]


def test_an_accepted_breach_covers_no_lot() -> None:
    world = held()
    bought = world.receive({"M": "10"}, "2025-01-11")
    world.sell("X", {"M": "10"}, "2025-02-01")

    with refused("stock-below-zero"):
        world.replace(
            bought,
            accept_breach=True,
            lots=[{"lot": "M", "net_shipped_kg": "9", "net_landed_kg": "9"}],
        )


@pytest.mark.parametrize("order", ["receipts first", "as recorded"])
def test_the_order_within_a_day_is_that_of_the_terms(order: str) -> None:
    world = held(account={"within_day": order})
    if order == "as recorded":
        with refused("account-below-zero"):
            world.sell("X", {"P": "101"}, "2025-02-01", claim())
        return
    bought = world.receive({"M": "1"}, "2025-02-01")
    sold = world.sell("X", {"P": "101"}, "2025-02-01", claim())
    world.replace(bought, supplier=None)

    assert noted(world, SubjectKind.SHORTFALL) == []
    world.void(sold)


def test_a_percentage_that_is_exceeded_is_told_with_both() -> None:
    world = held(method="rolling average percentage", window_months=3)
    world.sell("W", {"P": "300"}, "2025-01-20")
    with pytest.raises(EntryRefusedError) as caught:
        world.sell("X", {"P": "100"}, "2025-01-20", claim())

    [finding] = caught.value.findings
    assert (finding.rule, finding.field) == ("percentage-exceeded", "claims")
    assert (
        "would claim 25.00 per cent of what was sold from 2024-10-21 to 2025-01-20, but "
        "9.090909"
    ) in finding.message
    assert "per cent of what came in was certified; sell less" in finding.message


def test_a_percentage_in_breach_is_told_with_both() -> None:
    world = held(method="rolling average percentage", window_months=3)
    world.sell("W", {"P": "950"}, "2025-01-20")
    world.sell("X", {"P": "50"}, "2025-01-20", claim())
    world.stop("alder/fairfield", "2025-03-01", from_on="2025-01-01")

    [finding] = [w for w in world.warnings if w.rule == "percentage-breach-opened"]
    assert finding.field == ""
    assert "claims 5.00 per cent of what was sold" in finding.message
    assert "but 0.00 per cent of what came in was certified" in finding.message


def test_an_account_that_was_whole_already_is_not_made_good_again() -> None:
    """The breach of February ended in March, at zero; a receipt of January is too small."""
    world = held()
    world.sell("X", {"P": "60"}, "2025-02-01", claim())
    world.stop("alder/fairfield", "2025-03-01", from_on="2025-01-01")
    world.sign("B", "birch", claim())
    world.receive({"M": "60"}, "2025-03-10", contract="B")
    world.receive({"N": "10"}, "2025-01-31", contract="B")

    assert noted(world, SubjectKind.MADE_GOOD) == []


def test_a_period_that_is_settled_in_part_is_not_made_good() -> None:
    world = held(account=FIFTY, reconciliation_months=1)
    world.recorded_at = datetime(2025, 2, 20, tzinfo=UTC)
    world.sell("X", {"P": "110"}, "2025-02-01", claim())
    world.recorded_at = datetime(2025, 3, 20, tzinfo=UTC)
    world.receive({"M": "5"}, "2025-02-28")

    assert noted(world, SubjectKind.MADE_GOOD) == []


def test_what_leaves_the_end_of_a_period_as_low_as_it_was_is_no_new_shortfall() -> None:
    world = held(account=FIFTY, reconciliation_months=1)
    world.recorded_at = datetime(2025, 2, 20, tzinfo=UTC)
    sold = world.sell("X", {"P": "110"}, "2025-02-10", claim())
    world.recorded_at = datetime(2025, 3, 20, tzinfo=UTC)
    world.replace(sold, on="2025-03-20", day="2025-02-05")

    assert noted(world, SubjectKind.SHORTFALL) == []
    assert world.account("2025-02-05") == -10_000


def test_receipts_of_a_day_cover_a_sale_recorded_before_them() -> None:
    """In the order recorded the first sale would take a kilogram that is not there yet."""
    world = held(account={"within_day": "receipts first"})
    sold = world.sell("X", {"P": "100"}, "2025-02-01", claim())
    world.receive({"M": "1"}, "2025-02-01")
    world.replace(sold, lines=[{"lot": "P", "mass_kg": "101", "claims": [claim()]}])

    assert noted(world, SubjectKind.SHORTFALL) == []
    world.receive({"N": "1"}, "2025-02-01")
    assert noted(world, SubjectKind.MADE_GOOD) == []
    world.receive({"O": "1"}, "2025-01-31")
    assert noted(world, SubjectKind.MADE_GOOD) == []


def test_a_void_entry_of_a_closed_period_notes_what_it_breaks() -> None:
    """Its figures stay there; the difference, and the note, are of the correction."""
    world = certified()
    bought = world.receive({"L": "100"}, "2025-01-10")
    world.receive({"P": "1000"}, "2025-01-10", contract="PLAIN")
    world.sell("X", {"P": "60"}, "2025-01-20", claim())
    world.close("2025-01-01", "2025-01-31", on="2025-02-01")
    world.void(bought, "2025-02-10", accept_breach=True)

    assert noted(world, SubjectKind.SHORTFALL) == [MILL]
    assert world.account() == -60_000


def test_a_batch_may_not_shrink_below_what_was_taken_from_it() -> None:
    """Each lot is held against what it was itself, not what the batch moved elsewhere."""
    world = held()
    made = world.make({"P": "60"}, {"M": "60"}, "2025-01-20", form="bean")
    world.sell("X", {"M": "55"}, "2025-02-01")

    with refused("stock-below-zero"):
        world.replace(
            made,
            outputs=[{"lot": "M", "mass_kg": "50", "form": "bean"}],
            losses=[{"reason": "waste", "mass_kg": "10"}],
        )
