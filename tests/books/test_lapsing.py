"""ledger.books.lapsing: what lapses with closed periods, also when more is known later."""

from ledger.books.effect import Book
from ledger.books.lapsing import closed_periods, lapses_by_end
from tests.books.random_ledger import sugar_factor
from tests.books.test_closing import quarters
from tests.world import (
    OTHER_SCHEME,
    SCHEME,
    World,
    certified,
    claim,
    conversions,
    reject,
)


def emptied(carry: int = 0) -> World:
    """Of the first quarter's 100 kg 10 are claimed, the rest lapses; 100 more come."""
    world = certified(reconciliation_months=3, carry_over_periods=carry)
    world.sign("B", "birch", claim())
    world.receive({"P": "1000"}, "2025-01-02", contract="PLAIN")
    world.receive({"X": "100"}, "2025-01-10")
    world.sell("S1", {"P": "10"}, "2025-02-01", claim())
    world.close("2025-01-01", "2025-03-31", "2025-04-02")
    world.receive({"Y": "100"}, "2025-04-10", contract="B")
    world.sell("S2", {"P": "50"}, "2025-04-20", claim())
    return world


def test_what_had_lapsed_is_not_taken_off_a_second_time() -> None:
    """Without the first 100 kg only the 10 that were claimed of them are uncovered."""
    world = emptied()
    world.stop(f"alder/{SCHEME}", "2025-05-01", from_on="2025-01-01")

    assert world.account("2025-04-30") == 50_000
    assert world.account() == 40_000


def test_a_lot_rejected_when_its_credit_had_lapsed_takes_what_was_claimed() -> None:
    world = emptied()
    reject(world, "X", "2025-05-01")

    assert world.account() == 40_000


def test_what_a_void_sale_gives_back_lapses_with_the_receipt_it_drew_on() -> None:
    world = emptied()
    [sold] = [r["seq"] for r in world.raws if r["body"].get("sale") == "S1"]
    world.void(sold, "2025-05-01")

    assert world.account() == 50_000


def test_a_receipt_that_was_more_than_recorded_brings_nothing_that_would_have_lapsed() -> (
    None
):
    world = emptied(carry=1)
    [receipt] = [r["seq"] for r in world.raws if "X" in str(r["body"].get("lots"))]
    more = {"lot": "X", "net_shipped_kg": "130", "net_landed_kg": "130"}
    world.replace(receipt, "2025-05-01", lots=[more])

    assert world.account() == 170_000
    world.close("2025-04-01", "2025-06-30", "2025-07-01")
    assert world.account() == 100_000


def test_a_correction_moves_what_lapsed_with_every_period_closed_since() -> None:
    """Of 100 kg 70 lapsed with the second quarter; 60 less came, so 10 of them did."""
    world = quarters()
    world.close("2025-01-01", "2025-06-30", "2025-07-10")
    world.close("2025-07-01", "2025-09-30", "2025-10-10")
    [receipt] = [r["seq"] for r in world.raws if "L1" in str(r["body"].get("lots"))]
    less = {"lot": "L1", "net_shipped_kg": "40", "net_landed_kg": "40"}
    world.replace(receipt, "2025-10-20", lots=[less])
    first, second = world.shelf.of_kind("period.closed")

    lapsed = {
        one.seq: sum(p.grams for p in world.shelf.effects(one.slot).postings)
        for one in (first, second)
    }
    assert lapsed == {first.seq: -10_000, second.seq: -100_000}
    assert world.account() == 0


def test_what_came_before_the_first_period_lapses_with_it() -> None:
    """The first close covers all that came before, though it names a later start."""
    world = certified(reconciliation_months=3, carry_over_periods=0)
    world.receive({"X": "100"}, "2025-01-10")
    world.close("2025-04-10", "2025-05-31", "2025-06-02")

    assert world.account("2025-03-30") == 100_000
    assert world.account("2025-03-31") == 0


def test_so_it_does_when_it_is_worked_out_again() -> None:
    world = certified(reconciliation_months=3, carry_over_periods=0)
    receipt = world.receive({"X": "100"}, "2025-01-10")
    world.close("2025-04-10", "2025-05-31", "2025-06-02")
    more = {"lot": "X", "net_shipped_kg": "130", "net_landed_kg": "130"}
    world.replace(receipt, "2025-06-10", lots=[more])

    assert world.account() == 0


def test_what_came_on_the_last_day_of_a_period_is_looked_at_again() -> None:
    world = certified(reconciliation_months=3, carry_over_periods=0)
    receipt = world.receive({"X": "100"}, "2025-03-31")
    world.close("2025-01-01", "2025-03-31", "2025-04-02")
    world.void(receipt, "2025-04-10")

    assert world.account() == 0


def test_a_receipt_that_counts_under_another_scheme_after_all_has_lapsed_there() -> (
    None
):
    world = certified(reconciliation_months=3, carry_over_periods=0)
    world.terms(OTHER_SCHEME, reconciliation_months=3, carry_over_periods=0)
    world.certify("alder", OTHER_SCHEME)
    world.sign("D", "alder", claim(scheme=OTHER_SCHEME))
    receipt = world.receive({"X": "100"}, "2025-01-10")
    world.close("2025-01-01", "2025-03-31", "2025-04-02")
    world.replace(receipt, "2025-04-10", contract="D")

    assert (world.account(), world.account(scheme=OTHER_SCHEME)) == (0, 0)


def test_one_certificate_lets_several_commodities_count_anew() -> None:
    world = certified(
        commodities=["cocoa", "sugar"],
        conversions=[*conversions(), sugar_factor()],
        reconciliation_months=3,
        carry_over_periods=0,
    )
    world.sign("S", "alder", claim(), commodity="sugar", form="ingredient")
    world.receive({"X": "100"}, "2025-01-10")
    world.receive({"SUGAR": "10"}, "2025-01-11", contract="S")
    world.close("2025-01-01", "2025-03-31", "2025-04-02")
    world.stop(f"alder/{SCHEME}", "2025-05-01", from_on="2025-01-01")

    assert (world.account(), world.account(commodity="sugar")) == (0, 0)


def test_terms_corrected_afterwards_decide_what_lapses_too() -> None:
    world = emptied()
    [terms] = [r["seq"] for r in world.raws if r["kind"] == "terms.published"]
    world.replace(terms, "2025-05-01", carry_over_periods=1)

    assert world.account("2025-04-30") == 50_000
    assert world.account() == 140_000


def test_a_change_of_one_commodity_or_of_open_days_lets_nothing_else_lapse() -> None:
    world = emptied()
    [close] = world.shelf.of_kind("period.closed")
    before = world.shelf.effects(close.slot)
    receipt = world.receive({"Z": "5"}, "2025-04-12", contract="B")
    world.void(receipt, "2025-04-20")

    assert world.shelf.effects(close.slot) == before


def test_every_end_is_told_with_what_stood_and_what_still_counted() -> None:
    world = quarters()
    world.close("2025-01-01", "2025-06-30", "2025-07-10")
    tallies = world.shelf.tallies(Book.ACCOUNT)

    found = lapses_by_end(world.shelf, tallies, closed_periods(world.shelf))

    assert [(str(x.end), x.standing_g, x.recent_g, x.grams) for x in found] == [
        ("2025-03-31", 100_000, 100_000, 0),
        ("2025-06-30", 170_000, 100_000, 70_000),
    ]
