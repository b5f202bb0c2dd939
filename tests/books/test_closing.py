"""ledger.books.closing: a signed-off period stays, and old receipts lapse at its end."""

from datetime import UTC, date, datetime

import pytest

from ledger.books.closing import closed_until
from ledger.books.effect import Cause
from ledger.books.floor import is_period_end
from ledger.books.lapsing import window_start
from ledger.trade.record import parse
from ledger.trade.terms import TermsPublished
from tests.world import OTHER_SCHEME, World, certified, claim, opened, refused, reject


def terms(months: int, starts: int = 1, carry: int = 1) -> TermsPublished:
    return parse(
        TermsPublished,
        {
            "scheme": "s",
            "version": "1",
            "valid_from": "2023-01-01",
            "source": "invented",
            "custody": ["mass balance"],
            "conversions": [],
            "reconciliation_months": months,
            "reconciliation_starts": starts,
            "carry_over_periods": carry,
        },
    )


@pytest.mark.parametrize(
    ("months", "starts", "ends"),
    [
        (12, 1, ["2025-12-31"]),
        (12, 10, ["2025-09-30"]),
        (6, 3, ["2025-02-28", "2025-08-31"]),
        (3, 2, ["2025-01-31", "2025-04-30", "2025-07-31", "2025-10-31"]),
        (1, 7, [f"2025-{n:02}-{d}" for n, d in enumerate(
            (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31), 1)]),
    ],
)  # fmt: skip
def test_periods_end_as_the_terms_say(
    months: int, starts: int, ends: list[str]
) -> None:
    first = date(2025, 1, 1).toordinal()
    days = [date.fromordinal(first + n) for n in range(365)]

    assert [str(d) for d in days if is_period_end(terms(months, starts), d)] == ends


@pytest.mark.parametrize(
    ("months", "carry", "end", "first"),
    [
        (12, 1, "2025-12-31", "2025-01-01"),
        (12, 0, "2025-12-31", "2026-01-01"),
        (12, 2, "2025-12-31", "2024-01-01"),
        (3, 1, "2025-03-31", "2025-01-01"),
        (1, 1, "2024-02-29", "2024-02-01"),
        (6, 3, "2025-02-28", "2023-09-01"),
    ],
)
def test_receipts_may_be_claimed_for_as_many_periods_as_are_carried_over(
    months: int, carry: int, end: str, first: str
) -> None:
    found = window_start(terms(months, carry=carry), date.fromisoformat(end))

    assert str(found) == first


def quarters(carry: int = 1) -> World:
    """Quarterly periods: 100 kg received in each of the first two, 30 kg claimed in May."""
    world = certified(reconciliation_months=3, carry_over_periods=carry)
    world.receive({"P": "1000"}, "2025-01-02", contract="PLAIN")
    world.receive({"L1": "100"}, "2025-02-10")
    world.receive({"L2": "100"}, "2025-05-10")
    world.sell("X", {"P": "30"}, "2025-05-20", claim())
    return world


@pytest.mark.parametrize(("carry", "left_g"), [(0, 0), (1, 100_000), (2, 170_000)])
def test_what_is_older_than_the_terms_carry_over_lapses(
    carry: int, left_g: int
) -> None:
    """Oldest receipts are used first, so what lapses is the rest of the first 100 kg."""
    world = quarters(carry)
    world.close("2025-01-01", "2025-06-30", "2025-07-10")

    assert world.account("2025-06-30") == left_g


def test_what_lapses_is_posted_on_the_last_day_of_the_period() -> None:
    world = quarters()
    close = world.close("2025-01-01", "2025-06-30", "2025-07-10")

    [lapsed] = world.shelf.effects(close).postings
    assert (str(lapsed.day), lapsed.grams) == ("2025-06-30", -70_000)
    assert lapsed.cause is Cause.LAPSED
    assert world.account("2025-06-29") == 170_000


@pytest.mark.parametrize(
    ("mass", "lapsed_g"), [("99.999", 1), ("100", 0), ("100.001", 0)]
)
def test_claims_of_the_period_use_the_oldest_receipts_up_first(
    mass: str, lapsed_g: int
) -> None:
    world = certified(reconciliation_months=3)
    world.receive({"P": "1000"}, "2025-01-02", contract="PLAIN")
    world.receive({"L1": "100"}, "2025-02-10")
    world.receive({"L2": "50"}, "2025-04-01")
    world.sell("X", {"P": mass}, "2025-06-30", claim())
    before = world.account()
    world.close("2025-01-01", "2025-06-30", "2025-07-01")

    assert before - world.account() == lapsed_g


def test_the_first_day_of_the_window_is_kept_and_the_day_before_lapses() -> None:
    world = certified(reconciliation_months=3)
    world.receive({"L1": "1"}, "2025-03-31")
    world.receive({"L2": "10"}, "2025-04-01")
    world.close("2025-01-01", "2025-06-30", "2025-07-01")

    assert world.account() == 10_000


def test_closing_on_another_day_than_a_period_end_lapses_nothing_yet() -> None:
    world = quarters()
    world.close("2025-01-01", "2025-06-29", "2025-07-10")

    assert world.account() == 170_000


def test_closing_over_a_period_end_lets_what_is_old_lapse_there() -> None:
    """Otherwise a maker who closes on other days would never lose a claim."""
    world = quarters()
    world.close("2025-01-01", "2025-06-29", "2025-07-10")
    world.close("2025-06-30", "2025-07-15", "2025-07-20")

    assert (world.account("2025-06-29"), world.account("2025-06-30")) == (
        170_000,
        100_000,
    )


def test_every_period_end_that_is_closed_over_counts() -> None:
    """The rest of the first receipt lapses in June, and the second in September."""
    world = quarters()
    world.close("2025-01-01", "2025-10-05", "2025-10-05")

    assert world.account("2025-06-30") == 100_000
    assert world.account("2025-09-29") == 100_000
    assert world.account("2025-09-30") == 0


def test_what_lapsed_once_does_not_lapse_again() -> None:
    world = quarters()
    world.close("2025-01-01", "2025-06-30", "2025-07-10")
    close = world.close("2025-07-01", "2025-07-31", "2025-08-01")

    assert not world.shelf.effects(close).postings
    assert world.account() == 100_000


def test_a_return_brings_back_the_oldest_receipt_which_lapses() -> None:
    world = quarters()
    world.take_back("R", "X", {"P": "30"}, "2025-06-01")
    world.close("2025-01-01", "2025-06-30", "2025-07-10")

    assert world.account() == 100_000


def test_a_receipt_that_was_rejected_after_all_keeps_nothing_older_from_lapsing() -> (
    None
):
    world = certified(reconciliation_months=3)
    world.receive({"OLD": "50"}, "2025-02-10")
    world.receive({"NEW": "100"}, "2025-05-10")
    reject(world, "NEW", "2025-06-01")
    world.close("2025-01-01", "2025-06-30", "2025-07-01")

    assert world.account() == 0


def test_a_receipt_made_void_after_its_close_keeps_nothing_older_from_lapsing() -> None:
    """Its place keeps the signed-off figure, and the difference lands after it."""
    world = certified(reconciliation_months=3, carry_over_periods=2)
    world.receive({"OLD": "50"}, "2025-02-10")
    receipt = world.receive({"NEW": "100"}, "2025-05-10")
    world.close("2025-01-01", "2025-06-30", "2025-07-01")
    world.void(receipt, "2025-07-10")
    world.close("2025-07-01", "2025-09-30", "2025-10-01")

    assert world.account() == 0


def test_a_receipt_corrected_after_its_close_keeps_its_age_in_another_account() -> None:
    """It was received in the quarter, though the organic account got it in June."""
    world = certified(reconciliation_months=3)
    world.sign("O", "alder", claim(), organic=True)
    receipt = world.receive({"L": "100"}, "2025-05-10")
    world.close("2025-01-01", "2025-05-31", "2025-06-01")
    world.replace(receipt, "2025-06-10", contract="O")
    world.close("2025-06-01", "2025-06-30", "2025-07-01")

    assert world.account("2025-06-30") == 0
    assert world.account("2025-06-30", production="organic") == 100_000


@pytest.mark.parametrize(("received", "left_g"), [("05-10", 100_000), ("02-10", 0)])
def test_a_receipt_that_counts_only_since_its_close_is_as_old_as_it_is(
    received: str, left_g: int
) -> None:
    """The certificate is recorded in June: of May's receipt the credit stays."""
    world = certified(reconciliation_months=3)
    [certificate] = [
        raw
        for raw in world.raws
        if raw["kind"] == "certificate.recorded" and raw["body"]["holder"] == "alder"
    ]
    world.void(certificate["seq"], "2025-01-02")
    world.receive({"L": "100"}, f"2025-{received}")
    world.close("2025-01-01", "2025-05-31", "2025-06-01")
    world.record("certificate.recorded", "2025-06-10", **certificate["body"])
    world.close("2025-06-01", "2025-06-30", "2025-07-01")

    assert world.account() == left_g


def test_each_scheme_ends_its_periods_by_its_own_terms() -> None:
    world = quarters()
    world.terms(OTHER_SCHEME, reconciliation_starts=2, carry_over_periods=0)
    world.certify("birch", OTHER_SCHEME)
    world.sign("D", "birch", claim(scheme=OTHER_SCHEME))
    world.receive({"K": "10"}, "2025-02-10", contract="D")
    world.close("2025-01-01", "2025-06-30", "2025-07-10")

    assert world.account(scheme=OTHER_SCHEME) == 10_000
    assert world.account() == 100_000


def test_a_period_before_the_terms_of_a_scheme_can_be_closed() -> None:
    """Nothing moved under a scheme that had no terms yet, so there nothing lapses."""
    world = opened()
    world.terms(valid_from="2025-01-01")
    world.certify("alder")
    world.sign("C", "alder", claim(), on="2025-01-02")
    world.receive({"L": "10"}, "2025-02-01")
    world.close("2024-01-01", "2024-12-31", "2025-02-02")

    assert world.account() == 10_000


def test_a_close_that_takes_what_was_claimed_since_is_refused() -> None:
    """A claim of July on what lapsed in June was no claim; the sale must be corrected."""
    world = certified(reconciliation_months=3, carry_over_periods=0)
    world.receive({"L": "100"}, "2025-05-10")
    world.sell("X", {"L": "40"}, "2025-07-05", claim())

    with refused("account-below-zero"):
        world.close("2025-01-01", "2025-06-30", "2025-07-10")


def test_periods_follow_each_other_without_a_gap() -> None:
    world = quarters()
    world.close("2025-01-01", "2025-06-30", "2025-07-10")

    for start in ("2025-06-30", "2025-07-02"):
        with refused("period-gap") as caught:
            world.close(start, "2025-07-31", "2025-08-10")
        [finding] = caught.value.findings
        assert finding.field == "start"
        assert "ends on 2025-06-30; start on 2025-07-01" in finding.message
    world.close("2025-07-01", "2025-07-31", "2025-08-10")
    assert closed_until(world.shelf) == date(2025, 7, 31)


@pytest.mark.parametrize("on", ["2025-06-29", "2025-06-28"])
def test_a_period_is_closed_once_it_is_over(on: str) -> None:
    world = quarters()

    with refused("period-not-over") as caught:
        world.close("2025-01-01", "2025-06-30", on)
    [finding] = caught.value.findings
    assert (finding.field, on in finding.message) == ("end", True)
    world.close("2025-01-01", "2025-06-30", "2025-06-30")


def test_nothing_is_closed_at_first() -> None:
    assert closed_until(quarters().shelf) is None


@pytest.mark.parametrize(("on", "taken"), [("2025-06-30", False), ("2025-07-01", True)])
def test_nothing_moves_in_a_closed_period(on: str, *, taken: bool) -> None:
    world = quarters()
    world.close("2025-01-01", "2025-06-30", "2025-07-10")

    if taken:
        world.write_off("P", "1", on)
    else:
        with refused("period-closed"):
            world.write_off("P", "1", on)


def test_what_moves_nothing_may_still_be_dated_into_a_closed_period() -> None:
    world = quarters()
    world.close("2025-01-01", "2025-06-30", "2025-07-10")
    world.record("lot.counted", "2025-06-30", lot="P", found_kg="970", counted_by="me")

    assert not world.rules


def test_a_close_looks_only_at_period_ends_since_the_one_before() -> None:
    """What lapsed with the first close, and what came after, is not asked again."""
    world = certified(reconciliation_months=1, carry_over_periods=0)
    world.receive({"L": "10"}, "2025-01-10")
    world.close("2025-01-01", "2025-01-31", on="2025-02-01")
    late = world.receive({"M": "5"}, "2025-02-10")
    world.close("2025-02-01", "2025-02-28", on="2025-03-01")

    assert world.account() == 0
    lapsed = [posting.day for posting in world.shelf.effects(late + 1).postings]
    assert lapsed == [date(2025, 2, 28)]


def test_lapses_of_several_periods_in_one_close_add_up() -> None:
    world = certified(reconciliation_months=1, carry_over_periods=0)
    for month, mass in ((1, "10"), (2, "20"), (3, "40")):
        world.receive({f"L{month}": mass}, f"2025-0{month}-10")
    closed = world.close("2025-01-01", "2025-04-30", on="2025-05-01")

    assert [
        (str(posting.day), posting.grams)
        for posting in world.shelf.effects(closed).postings
    ] == [("2025-01-31", -10_000), ("2025-02-28", -20_000), ("2025-03-31", -40_000)]
    assert world.account() == 0


def test_an_account_below_zero_at_a_period_end_is_told_and_may_be_accepted() -> None:
    world = certified(account={"below_zero_kg": "50"}, reconciliation_months=1)
    world.recorded_at = datetime(2025, 1, 20, tzinfo=UTC)
    world.receive({"P": "100"}, "2025-01-02", contract="PLAIN")
    world.sell("X", {"P": "50"}, "2025-01-15", claim())
    world.recorded_at = datetime(2025, 2, 1, tzinfo=UTC)

    with refused("period-unsettled") as caught:
        world.close("2025-01-01", "2025-01-31", on="2025-02-01")
    [finding] = caught.value.findings
    assert finding.field == "end"
    assert "is 50.000 kg of bean equivalent below zero on 2025-01-31" in finding.message


def test_a_period_has_a_name_of_its_own() -> None:
    world = quarters()
    world.close("2025-01-01", "2025-06-30", "2025-07-10")
    again = {"start": "2025-07-01", "end": "2025-07-31", "signed_off_by": "officer"}

    with refused("name-taken"):
        world.record("period.closed", "2025-08-10", period="until-2025-06-30", **again)


def test_only_period_ends_since_the_last_close_must_be_settled() -> None:
    """An accepted breach of January is no reason to refuse the close of February."""
    world = certified(account={"below_zero_kg": "50"}, reconciliation_months=1)
    world.recorded_at = datetime(2025, 1, 20, tzinfo=UTC)
    world.receive({"P": "100"}, "2025-01-02", contract="PLAIN")
    world.sell("X", {"P": "50"}, "2025-01-15", claim())
    world.recorded_at = datetime(2025, 3, 20, tzinfo=UTC)
    january = {"period": "Q", "start": "2025-01-01", "end": "2025-01-31"}
    about = {"signed_off_by": "officer", "accept_breach": True}
    world.record("period.closed", "2025-02-01", **january, **about)
    world.receive({"M": "60"}, "2025-02-28")
    world.sell("Y", {"P": "20"}, "2025-03-02", claim())

    world.close("2025-02-01", "2025-02-28", on="2025-03-01")
    assert closed_until(world.shelf) == date(2025, 2, 28)
