"""ledger.books.correcting: what was wrong is void or replaced, and all that rests on it."""

from datetime import date

import pytest

from ledger.books.correcting import Change, restate
from ledger.books.effect import Cause, Subject, SubjectKind
from ledger.books.finding import EntryRefusedError
from ledger.books.making import held_by
from tests.world import (
    OTHER_SCHEME,
    World,
    certified,
    claim,
    conversions,
    lot,
    refused,
    sale_body,
)

SOLD = "2025-02-01"
LATER = "2025-06-01"


@pytest.fixture
def world() -> World:
    """100 kg certified beans, of it 48 kg of liquor, of it 8 kg sold under the claim."""
    world = certified()
    world.receive({"L": "100"}, "2025-01-10")
    world.make({"L": "60"}, {"M": "48"}, losses={"shell": "12"}, batch="B")
    world.sell("X", {"M": "8"}, SOLD, claim())
    return world


def seq(world: World, kind: str) -> int:
    """The last entry of a kind."""
    return max(int(raw["seq"]) for raw in world.raws if raw["kind"] == kind)


# Void and replaced


def test_a_void_entry_moves_nothing_any_more(world: World) -> None:
    sale = seq(world, "sale.dispatched")
    world.void(sale)

    assert (world.stock("M"), world.account()) == (48_000, 100_000)
    assert world.shelf.at(sale) is None
    assert world.shelf.introducer(Subject(SubjectKind.SALE, "X")) is None


def test_the_name_of_a_void_entry_may_be_used_again(world: World) -> None:
    world.void(seq(world, "sale.dispatched"))
    world.sell("X", {"M": "10"}, SOLD, claim())

    assert world.account() == 87_500


def test_a_replacement_counts_in_the_place_and_on_the_date_of_what_it_replaces(
    world: World,
) -> None:
    sale = seq(world, "sale.dispatched")
    correction = world.replace(sale, lines=sale_body("X", {"M": "4"}, claim())["lines"])

    assert (world.stock("M", SOLD), world.account(SOLD)) == (44_000, 95_000)
    counting = world.shelf.at(sale)
    assert counting is not None
    assert (counting.slot, counting.seq) == (sale, correction)
    assert not world.shelf.effects(correction).postings


def test_a_replacement_may_have_happened_on_another_day(world: World) -> None:
    world.replace(seq(world, "sale.dispatched"), day="2025-02-20")

    assert (world.stock("M", "2025-02-19"), world.stock("M")) == (48_000, 40_000)


def test_a_replacement_keeps_its_place_among_the_entries_of_its_date() -> None:
    """A receipt and a sale of one date, in that order; correcting it changes no order."""
    world = certified()
    receipt = world.receive({"L": "100"}, SOLD)
    world.sell("X", {"L": "100"}, SOLD, claim())
    world.replace(receipt, lots=[lot("L", "101")])

    assert (world.stock("L"), world.account()) == (1000, 1000)


def test_a_correction_may_be_corrected(world: World) -> None:
    sale = seq(world, "sale.dispatched")
    first = world.replace(
        sale,
        lines=sale_body("X", {"M": "4"}, claim())["lines"],
    )
    world.replace(first, was=sale, lines=sale_body("X", {"M": "5"}, claim())["lines"])

    assert world.stock("M") == 43_000


def test_a_correction_of_a_correction_may_be_corrected_again(world: World) -> None:
    sale = target = seq(world, "sale.dispatched")
    for mass in ("4", "5", "6", "7"):
        lines = sale_body("X", {"M": mass}, claim())["lines"]
        target = world.replace(target, was=sale, lines=lines)

        assert world.stock("M") == 48_000 - int(mass) * 1000
    world.void(target)

    assert world.stock("M") == 48_000


def test_what_was_replaced_is_corrected_where_it_stands_now(world: World) -> None:
    sale = seq(world, "sale.dispatched")
    first = world.replace(sale)

    with pytest.raises(EntryRefusedError, match=f"entry {first} stands in its place"):
        world.void(sale)
    with pytest.raises(EntryRefusedError, match="target is 999"):
        world.void(999)


def test_what_is_void_is_recorded_anew_and_not_corrected(world: World) -> None:
    sale = seq(world, "sale.dispatched")
    correction = world.void(sale)

    for target in (sale, correction):
        with pytest.raises(EntryRefusedError, match="void or not recorded"):
            world.void(target)


@pytest.mark.parametrize("again", ["target", "correction"])
def test_what_is_void_in_a_closed_period_is_not_corrected_either(
    world: World, again: str
) -> None:
    """Its place is taken by what keeps the signed-off figures, which is no entry."""
    sale = seq(world, "sale.dispatched")
    world.close("2024-01-01", "2025-02-28", "2025-03-01")
    correction = world.void(sale)

    with pytest.raises(EntryRefusedError, match="void or not recorded"):
        world.void(sale if again == "target" else correction)


# What may be corrected


@pytest.mark.parametrize(
    ("kind", "rule"),
    [
        ("none", "nothing-to-correct"),
        ("ledger.opened", "opening-not-void"),
        ("period.closed", "not-correctable"),
        ("batch.made", "still-used"),
    ],
)
def test_what_cannot_be_made_void_is_said_of_the_target(
    world: World, kind: str, rule: str
) -> None:
    world.close("2024-01-01", "2024-12-31", "2025-03-01")
    target = 999 if kind == "none" else seq(world, kind)

    with pytest.raises(EntryRefusedError) as refusal:
        world.void(target)

    assert [(one.rule, one.field) for one in refusal.value.findings] == [
        (rule, "target")
    ]


def test_the_opening_is_replaced_and_not_made_void(world: World) -> None:
    with refused("opening-not-void"):
        world.void(0)
    world.replace(0, organisation_name="Weirside Chocolate Works")

    assert world.stock("M") == 40_000


def test_another_kind_does_not_stand_in_place_of_an_entry(world: World) -> None:
    replacement = {
        "entry_kind": "lot.moved",
        "occurred_on": SOLD,
        "body": {"lot": "M", "to_place": "rack"},
    }

    with refused("kind-differs"):
        world.void(seq(world, "sale.dispatched"), replacement=replacement)


def test_a_period_once_signed_off_is_not_corrected(world: World) -> None:
    close = world.close("2024-01-01", "2025-02-28", "2025-03-01")

    with pytest.raises(EntryRefusedError, match=r"which is period\.closed; it stays"):
        world.void(close)


@pytest.mark.parametrize(
    ("day", "taken"),
    [("2031-01-01", True), ("2031-01-02", False), ("2033-01-01", False)],
)
def test_a_replacement_says_what_has_happened(
    world: World, day: str, *, taken: bool
) -> None:
    """Recorded on 1 January 2031."""
    sale = seq(world, "sale.dispatched")
    lines = sale_body("X", {"M": "8"})["lines"]
    if taken:
        world.replace(sale, day=day, lines=lines)
        assert world.stock("M", "2030-12-31") == 48_000
    else:
        with refused("date-in-future"):
            world.replace(sale, day=day, lines=lines)


def test_a_replacement_is_judged_as_any_entry_is(world: World) -> None:
    sale = seq(world, "sale.dispatched")

    with refused("unknown-lot"):
        world.replace(sale, lines=sale_body("X", {"none": "1"})["lines"])
    with refused("stock-below-zero"):
        world.replace(sale, lines=sale_body("X", {"M": "48.001"})["lines"])
    with refused("custody-not-allowed"):
        lines = sale_body("X", {"M": "1"}, claim("controlled blending"))["lines"]
        world.replace(sale, lines=lines)


def test_a_replacement_does_not_take_a_name_that_is_used(world: World) -> None:
    world.sell("Y", {"M": "1"}, SOLD)

    with refused("name-taken"):
        world.replace(seq(world, "sale.dispatched"), sale="X")


def test_a_replacement_is_flagged_as_any_entry_is(world: World) -> None:
    world.record("lot.counted", SOLD, lot="M", found_kg="40", counted_by="me")
    world.replace(seq(world, "lot.counted"), found_kg="39")

    assert world.rules == ["count-differs"]


# What rests on it


def test_what_is_still_used_is_not_taken_away(world: World) -> None:
    for kind in ("shipment.received", "batch.made", "contract.signed"):
        target = min(raw["seq"] for raw in world.raws if raw["kind"] == kind)
        with refused("still-used"):
            world.void(target)


def test_a_lot_that_was_used_may_not_change_its_name(world: World) -> None:
    with pytest.raises(EntryRefusedError, match=r"lot M .* entry \d+ still names it"):
        world.replace(
            seq(world, "batch.made"),
            outputs=[{"lot": "N", "form": "liquor", "mass_kg": "48"}],
        )


@pytest.mark.parametrize(("landed", "taken"), [("60", True), ("59.999", False)])
def test_a_receipt_may_shrink_to_what_was_used(
    world: World, landed: str, *, taken: bool
) -> None:
    receipt = seq(world, "shipment.received")
    if taken:
        world.replace(receipt, lots=[lot("L", "100", landed)])
        assert (world.stock("L"), world.account()) == (0, 50_000)
    else:
        with refused("stock-below-zero"):
            world.replace(receipt, lots=[lot("L", "100", landed)])


def test_an_account_may_not_be_left_short_unless_the_breach_is_accepted(
    world: World,
) -> None:
    world.receive({"P": "100"}, contract="PLAIN")
    world.sell("Y", {"P": "85"}, "2025-03-01", claim())
    receipt = seq(world, "shipment.received") - 3
    assert world.raws[receipt]["body"]["lots"][0]["lot"] == "L"
    shrunk = [lot("L", "100", "90")]

    with refused("account-below-zero"):
        world.replace(receipt, lots=shrunk)
    world.replace(receipt, lots=shrunk, accept_breach=True)

    assert world.rules == ["breach-opened"]
    assert world.account() == -5000


def test_accepting_a_breach_does_not_let_a_lot_give_more_than_it_has(
    world: World,
) -> None:
    with refused("stock-below-zero"):
        world.replace(
            seq(world, "shipment.received"),
            lots=[lot("L", "100", "59")],
            accept_breach=True,
        )


def test_another_recipe_counts_sales_of_what_was_made_to_it_again() -> None:
    world = certified()
    world.receive({"L": "100"})
    liquor = [{"commodity": "cocoa", "form": "liquor", "share": "1"}]
    recipe = world.record(
        "recipe.published",
        recipe="pure",
        product="Pure",
        valid_from="2024-01-01",
        ingredients=liquor,
    )
    world.make({"L": "10"}, {"M": "10"}, form="bar", recipe="pure")
    world.sell("X", {"M": "10"}, SOLD, claim())
    world.replace(recipe, ingredients=[{**liquor[0], "form": "butter"}])

    assert world.account() == 86_700
    with refused("later-entry-breaks"):
        world.replace(
            len(world.raws) - 1,
            was=recipe,
            ingredients=[{**liquor[0], "commodity": "sugar"}],
        )


def test_another_contract_counts_its_lots_and_what_was_sold_of_them_again() -> None:
    world = certified(claim("segregated"))
    world.receive({"L": "100"})
    world.sell("X", {"L": "10"}, SOLD, claim("segregated"))
    contract = min(r["seq"] for r in world.raws if r["kind"] == "contract.signed")

    with pytest.raises(
        EntryRefusedError, match="rests on this and would no longer hold"
    ):
        world.replace(contract, claims=[claim()])
    world.replace(contract, organic=True)

    assert world.account(production="organic") == 90_000
    assert world.account() == 0


def test_other_terms_count_receipts_sales_losses_and_returns_again(
    world: World,
) -> None:
    """A factor was misread: 1.25 for 1.2."""
    world.take_back("R", "X", {"M": "1"}, "2025-02-03")
    world.write_off("M", "2", "2025-02-04")
    assert world.account() == 100_000 - 7 * 1250 - 2 * 1250
    world.replace(seq(world, "terms.published"), conversions=conversions(liquor="1.2"))

    assert world.account() == 100_000 - 7 * 1200 - 2 * 1200
    assert world.rebuilt_alike()


def test_terms_that_others_rest_on_are_not_made_void(world: World) -> None:
    with refused("later-entry-breaks"):
        world.void(seq(world, "terms.published"))


def test_unused_terms_may_be_made_void(world: World) -> None:
    unused = world.terms(OTHER_SCHEME)
    world.void(unused)

    with refused("no-terms"):
        world.sell("Y", {"M": "1"}, SOLD, claim(scheme=OTHER_SCHEME))


def test_a_certificate_made_void_takes_its_credits_away(world: World) -> None:
    """It was recorded for the wrong cooperative: nothing was certified at all."""
    certificate = next(
        raw["seq"] for raw in world.raws if raw["body"].get("holder") == "alder"
    )

    with refused("account-below-zero"):
        world.void(certificate)
    world.void(certificate, accept_breach=True)

    assert world.account() == -10_000


def test_a_certificate_replaced_counts_for_both_holders_again(world: World) -> None:
    world.void(seq(world, "sale.dispatched"))
    world.sign("D", "birch", claim())
    world.receive({"K": "10"}, contract="D")
    holders = {raw["body"].get("holder"): raw["seq"] for raw in world.raws}
    world.void(holders["birch"])
    assert world.account() == 100_000

    world.replace(holders["alder"], holder="birch")

    assert world.account() == 10_000
    assert world.rebuilt_alike()


def test_a_suspension_that_was_a_mistake_gives_its_credits_back(world: World) -> None:
    suspension = world.stop("alder/fairfield", "2025-01-05")
    assert world.account() == -10_000

    world.replace(suspension, from_on="2025-01-11")
    assert world.account() == 90_000

    world.void(len(world.raws) - 1)
    assert world.account() == 90_000


def test_what_was_written_off_draws_again_once_it_is_certified() -> None:
    world = certified()
    world.sign("D", "birch", claim())
    stopped = world.stop("birch/fairfield", "2025-01-01")
    world.receive({"K": "100"}, contract="D")
    world.make({"K": "50"}, {"M": "40"}, losses={"shell": "10"})
    world.write_off("M", "4", "2025-02-01")
    assert world.account() == 0
    world.void(stopped)

    assert world.account() == 95_000
    assert world.rebuilt_alike()


def test_a_bill_of_lading_corrected_decides_again() -> None:
    world = certified()
    world.void(next(r["seq"] for r in world.raws if r["body"].get("holder") == "alder"))
    world.certify("alder", certificate="n", valid_from="2025-01-01")
    dispatched = world.record(
        "shipment.dispatched",
        "2024-12-31",
        shipment="S",
        contract="C",
        carriage={"bill_of_lading": "BL"},
        net_shipped_kg="100",
    )
    world.receive({"L": "100"}, shipment="S")
    assert world.account() == 0
    world.replace(dispatched, day="2025-01-01")
    assert world.account() == 100_000

    world.void(len(world.raws) - 1)
    assert world.account() == 100_000


def test_a_release_of_a_hold_is_not_made_void_under_what_moved_since(
    world: World,
) -> None:
    world.record("hold.placed", "2025-02-02", hold="H", lots=["M"], reason="query")
    release = world.record("hold.released", "2025-02-03", hold="H", reason="cleared")
    world.sell("Y", {"M": "1"}, "2025-02-04")

    with refused("later-entry-breaks"):
        world.void(release)
    world.void(seq(world, "sale.dispatched"))
    world.void(release)
    assert held_by(world.shelf, "M", date(2025, 2, 4)) == "H"


def test_a_hold_is_not_stretched_over_what_moved_since(world: World) -> None:
    hold = world.record("hold.placed", "2025-02-10", hold="H", lots=["M"], reason="?")
    world.sell("Y", {"M": "1"}, "2025-02-05")

    with refused("later-entry-breaks"):
        world.replace(hold, day="2025-02-05")
    world.replace(hold, day="2025-02-06")


def test_a_hold_with_a_release_is_not_made_void(world: World) -> None:
    hold = world.record("hold.placed", "2025-02-10", hold="H", lots=["M"], reason="?")
    world.record("hold.released", "2025-02-12", hold="H", reason="cleared")

    with refused("still-used"):
        world.void(hold)


def test_a_site_that_is_used_is_not_taken_out_of_the_opening(world: World) -> None:
    world.receive({"K": "1"}, site="annex")
    mill = world.raws[0]["body"]["sites"][0]

    with refused("later-entry-breaks"):
        world.replace(0, sites=[mill])


def test_another_first_site_moves_what_names_none(world: World) -> None:
    sites = world.raws[0]["body"]["sites"]
    world.replace(0, sites=sites[::-1])

    assert (world.account(), world.account(site="annex")) == (0, 90_000)
    assert world.rebuilt_alike()


def test_signed_off_figures_stay_when_what_they_rest_on_is_counted_again(
    world: World,
) -> None:
    close = world.close("2024-01-01", "2024-12-31", "2025-03-01")
    before = world.shelf.effects(close)
    shelf = world.shelf.copy()
    change: Change = {}
    restate(shelf, [close], change, closed=None, on=date(2025, 6, 1))

    assert shelf.effects(close) == before
    assert not change


# Closed periods


@pytest.fixture
def closed(world: World) -> World:
    """The books are closed up to the end of February."""
    world.close("2024-01-01", "2025-02-28", "2025-03-01")
    return world


def test_a_correction_in_a_closed_period_lands_in_the_open_one(closed: World) -> None:
    sale = seq(closed, "sale.dispatched")
    before = {on: closed.account(on) for on in (SOLD, "2025-02-28", "2025-05-31")}
    closed.replace(sale, lines=sale_body("X", {"M": "4"}, claim())["lines"])

    assert {on: closed.account(on) for on in before} == before
    assert (closed.stock("M", "2025-05-31"), closed.stock("M", LATER)) == (
        40_000,
        44_000,
    )
    assert closed.account(LATER) == 95_000


def test_the_difference_stands_under_the_entry_it_corrects(closed: World) -> None:
    sale = seq(closed, "sale.dispatched")
    closed.replace(sale, lines=sale_body("X", {"M": "4"}, claim())["lines"])

    found = [
        (str(p.day), p.tally.book.value, p.grams, p.cause)
        for p in closed.shelf.effects(sale).postings
    ]
    assert found == [
        (SOLD, "stock", -8000, Cause.SOLD),
        (SOLD, "account", -10_000, Cause.SOLD),
        (LATER, "account", 5000, Cause.CORRECTED),
        (LATER, "stock", 4000, Cause.CORRECTED),
    ]


def test_a_void_entry_of_a_closed_period_is_undone_in_the_open_one(
    closed: World,
) -> None:
    closed.void(seq(closed, "sale.dispatched"))

    assert (closed.stock("M", SOLD), closed.stock("M", LATER)) == (40_000, 48_000)
    assert (closed.account(SOLD), closed.account(LATER)) == (90_000, 100_000)
    assert closed.rebuilt_alike()


def test_corrected_twice_the_differences_land_where_each_was_found(
    closed: World,
) -> None:
    sale = seq(closed, "sale.dispatched")
    first = closed.replace(sale, lines=sale_body("X", {"M": "4"}, claim())["lines"])
    lines = sale_body("X", {"M": "5"}, claim())["lines"]
    closed.replace(first, "2025-06-10", was=sale, lines=lines)

    assert closed.stock("M", SOLD) == 40_000
    assert closed.stock("M", LATER) == 44_000
    assert closed.stock("M", "2025-06-10") == 43_000


def test_another_day_within_closed_periods_changes_nothing_that_was_signed_off(
    closed: World,
) -> None:
    closed.replace(seq(closed, "sale.dispatched"), day="2025-02-20")

    assert closed.stock("M", SOLD) == 40_000
    assert closed.rebuilt_alike()


def test_what_is_moved_out_of_a_closed_period_stays_there_by_mass(
    closed: World,
) -> None:
    closed.replace(seq(closed, "sale.dispatched"), day="2025-03-20")

    assert (closed.stock("M", SOLD), closed.stock("M")) == (40_000, 40_000)


def test_a_correction_itself_is_not_dated_into_a_closed_period(closed: World) -> None:
    with refused("period-closed"):
        closed.void(seq(closed, "sale.dispatched"), "2025-02-28")
    closed.void(seq(closed, "sale.dispatched"), "2025-03-01")


def test_what_rests_on_it_lands_in_the_open_period_too(closed: World) -> None:
    terms = seq(closed, "terms.published")
    closed.replace(terms, conversions=conversions(liquor="1.2"))

    assert (closed.account("2025-05-31"), closed.account(LATER)) == (90_000, 90_400)


def test_more_than_is_left_is_not_taken_from_a_lot_of_a_closed_period(
    closed: World,
) -> None:
    with refused("stock-below-zero"):
        closed.replace(seq(closed, "shipment.received"), lots=[lot("L", "100", "59")])
    closed.replace(seq(closed, "shipment.received"), lots=[lot("L", "100", "60")])

    assert (closed.stock("L", "2025-05-31"), closed.stock("L", LATER)) == (40_000, 0)


def test_a_suspension_dated_back_over_a_close_lands_on_the_day_it_was_learnt(
    closed: World,
) -> None:
    closed.stop("alder/fairfield", "2025-03-15", from_on="2025-01-01")

    assert closed.rules == ["breach-opened"]
    assert closed.account("2025-03-14") == 90_000
    assert closed.account("2025-03-15") == -10_000


def test_a_suspension_is_not_learnt_in_a_closed_period(closed: World) -> None:
    """Its difference would land among figures that are signed off."""
    with refused("period-closed"):
        closed.stop("alder/fairfield", "2025-02-28", from_on="2025-01-01")
    closed.stop("alder/fairfield", "2025-02-28", from_on="2025-01-11")

    assert closed.account() == 90_000
