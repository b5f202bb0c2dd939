"""Breaches: why an account fell short, what that touches, and what makes it good."""

from datetime import date

import pytest

from ledger.books.breach import Breach, find_breaches
from ledger.books.stopped import stopped_lots
from ledger.trade.words import Custody
from tests.world import SCHEME, World, certified, claim, lot, weighed

AS_OF = date(2025, 12, 31)


def sold_on(*claims: dict[str, str]) -> World:
    """100 kg bought from alder, made into 80 kg of liquor, 40 kg of it sold.

    At 1.25 kg of beans a kilogram the sale draws 50 kg, and 50 kg are left.
    """
    world = certified(*claims)
    world.receive({"L": "100"}, "2025-01-10", shipment="SH")
    world.make({"L": "100"}, {"Q": "80"}, "2025-01-20", losses={"shell": "20"})
    world.sell("V", {"Q": "40"}, "2025-02-01", claims[0] if claims else claim())
    return world


def suspended(
    world: World, on: str = "2025-03-01", *, from_on: str = "2025-01-01"
) -> int:
    certificate = next(
        raw["body"]["certificate"]
        for raw in world.raws
        if raw["kind"] == "certificate.recorded" and raw["body"]["holder"] == "alder"
    )
    return world.stop(certificate, on, from_on=from_on)


def only(world: World, as_of: date = AS_OF) -> Breach:
    [breach] = find_breaches(world.shelf, as_of).accounts
    return breach


def test_a_world_in_order_has_no_breach() -> None:
    found = find_breaches(sold_on().shelf, AS_OF)

    assert (found.accounts, found.claims, found.is_open) == ((), (), False)


def test_a_suspension_with_effect_in_the_past_opens_one_that_says_why_and_since_when() -> (
    None
):
    world = sold_on()
    seq = suspended(world)

    breach = only(world)

    assert breach.is_open
    assert [one.seq for one in breach.opened_by] == [seq]
    assert breach.shortfall is not None
    assert breach.shortfall.first.day == date(2025, 2, 1)
    assert breach.needed_g == 50_000
    assert [(one.lot.lot, one.because.seq) for one in breach.stopped] == [("L", seq)]
    assert "suspended from 2025-01-01 on: audit" in breach.stopped[0].sentence


def test_it_names_every_lot_downstream_with_what_is_left_of_it() -> None:
    world = sold_on()
    suspended(world)

    lots = only(world).lots

    assert {one.lot: int(one.part_g) for one in lots} == {"L": 100_000, "Q": 80_000}
    assert [one.left.grams for one in lots if one.left] == [40_000]


def test_it_names_every_sale_and_customer_and_what_taking_its_claim_back_would_give() -> (
    None
):
    world = sold_on()
    suspended(world)

    [drawn] = only(world).draws
    [touched] = only(world).claims

    assert (drawn.drawn_g, drawn.still_g, drawn.is_uncovered) == (50_000, 50_000, True)
    assert (touched.sale.sale, touched.sale.customer, touched.lot) == ("V", "shop", "Q")
    assert (touched.sold_g, touched.still_g) == (40_000, 40_000)


def test_goods_that_came_back_count_from_their_own_day_on() -> None:
    """10 kg of liquor came back on 5 March, and gave 12.5 kg to the account."""
    world = sold_on()
    suspended(world)
    world.take_back("R", "V", {"Q": "10"}, "2025-03-05")

    left = {
        day: [one.still_g for one in only(world, date(2025, 3, day)).draws]
        for day in (4, 5)
    }

    assert left == {4: [50_000], 5: [37_500]}


def test_a_lot_received_on_the_day_itself_is_among_those_that_stopped_counting() -> (
    None
):
    world = sold_on()
    world.receive({"L2": "10"}, "2025-03-01")
    world.receive({"L3": "10"}, "2025-03-02")
    suspended(world, "2025-03-01")

    breach = only(world, date(2025, 3, 1))

    assert breach.is_open
    assert [one.lot.lot for one in breach.stopped] == ["L", "L2"]


def test_a_new_receipt_closes_it_and_it_stays_listed_with_that_receipt() -> None:
    world = sold_on()
    opener = suspended(world)
    world.sign("D", "birch", claim(), on="2025-03-02")
    closer = world.receive({"M": "50"}, "2025-03-10", contract="D")

    breach = only(world)

    assert not breach.is_open
    assert breach.needed_g == 0
    assert [one.seq for one in breach.opened_by] == [opener]
    assert breach.closed_by is not None
    assert breach.closed_by.seq == closer


def test_a_receipt_of_less_leaves_it_open_with_the_rest_still_needed() -> None:
    world = sold_on()
    suspended(world)
    world.sign("D", "birch", claim(), on="2025-03-02")
    world.receive({"M": "49.999"}, "2025-03-10", contract="D")

    assert only(world).needed_g == 1


def test_withdrawn_claims_and_returned_goods_close_it_too() -> None:
    world = sold_on()
    suspended(world)
    world.take_back("R", "V", {"Q": "10"}, "2025-03-05")
    assert only(world).needed_g == 37_500

    closer = world.record(
        "claim.withdrawn",
        "2025-03-06",
        withdrawal="W",
        sale="V",
        document="note",
        reason="no cover",
        lines=[{"lot": "Q", "mass_kg": "30", "scheme": SCHEME}],
    )

    breach = only(world)
    assert breach.closed_by is not None
    assert breach.closed_by.seq == closer


def test_a_reinstatement_takes_it_out_of_the_past_but_it_stays_listed() -> None:
    world = sold_on()
    opener = suspended(world)
    closer = world.stop(
        world.raws[opener]["body"]["certificate"],
        "2025-04-01",
        "reinstated",
        from_on="2025-01-01",
    )

    breach = only(world)

    assert breach.shortfall is None
    assert [one.seq for one in breach.opened_by] == [opener]
    assert breach.closed_by is not None
    assert breach.closed_by.seq == closer


def test_a_suspension_made_void_is_named_by_the_correction_that_did_it() -> None:
    world = sold_on()
    closer = world.void(suspended(world))

    breach = only(world)

    assert (breach.shortfall, breach.opened_by) == (None, ())
    assert breach.closed_by is not None
    assert breach.closed_by.seq == closer


def test_as_of_a_day_before_it_was_learnt_there_is_none() -> None:
    world = sold_on()
    suspended(world, "2025-03-01")

    assert find_breaches(world.shelf, date(2025, 1, 31)).accounts == ()


def test_a_rejection_after_use_opens_one_from_its_own_day() -> None:
    world = sold_on()
    seq = world.record(
        "lot.rejected",
        "2025-05-01",
        lot="L",
        from_on="2025-04-20",
        hold="H",
        reason="x",
    )

    breach = only(world)

    assert [one.seq for one in breach.opened_by] == [seq]
    assert breach.shortfall is not None
    assert breach.shortfall.first.day == date(2025, 4, 20)
    assert "rejected from 2025-04-20" in breach.stopped[0].sentence


def test_a_correction_that_accepts_a_breach_is_what_opened_it() -> None:
    world = certified()
    receipt = world.receive({"L": "100"}, "2025-01-10", shipment="SH")
    world.sell("V", {"L": "90"}, "2025-02-01", claim())
    seq = world.replace(
        receipt,
        lots=[{"lot": "L", "net_shipped_kg": "80", "net_landed_kg": "95"}],
        accept_breach=True,
    )

    breach = only(world)

    assert [one.seq for one in breach.opened_by] == [seq]
    assert breach.needed_g == 10_000
    assert [one.lot for one in breach.lots] == ["L"]


def test_a_certificate_corrected_to_an_earlier_end_stops_lots_traded_after_it() -> None:
    world = sold_on()
    target = next(
        raw["seq"]
        for raw in world.raws
        if raw["kind"] == "certificate.recorded" and raw["body"]["holder"] == "alder"
    )
    seq = world.replace(target, valid_until="2024-12-31", accept_breach=True)

    breach = only(world)

    assert [one.because.seq for one in breach.stopped] == [seq]
    assert "valid from 2023-01-01 to 2024-12-31" in breach.stopped[0].sentence


def test_a_bill_of_lading_recorded_late_can_open_one() -> None:
    world = sold_on()
    seq = world.record(
        "shipment.dispatched",
        "2022-12-20",
        shipment="SH",
        contract="C",
        carriage={"bill_of_lading": "BL 9"},
        net_shipped_kg="100",
    )

    breach = only(world)

    assert [one.seq for one in breach.opened_by] == [seq]
    assert (
        "bill of lading of shipment SH is of 2022-12-20" in breach.stopped[0].sentence
    )


@pytest.mark.parametrize("custody", [Custody.SEGREGATED, Custody.IDENTITY_PRESERVED])
def test_a_physical_claim_is_broken_even_where_the_account_is_whole(
    custody: Custody,
) -> None:
    world = certified(claim(custody))
    world.sign("D", "birch", claim(), on="2025-01-02")
    world.receive({"L": "100"}, "2025-01-10")
    world.receive({"M": "1000"}, "2025-01-10", contract="D")
    world.sell("V", {"L": "40"}, "2025-02-01", claim(custody))
    suspended(world)

    found = find_breaches(world.shelf, AS_OF)

    assert found.accounts == ()
    [broken] = found.claims
    assert broken.is_open
    assert broken.touched.still_g == 40_000
    assert f"claims lot L as {custody}" in broken.touched.unsupported
    assert [one.lot.lot for one in broken.stopped] == ["L"]


def test_a_broken_claim_is_closed_by_taking_it_back_and_stays_listed() -> None:
    world = sold_on(claim("segregated"))
    suspended(world)
    closer = world.record(
        "claim.withdrawn",
        "2025-03-06",
        withdrawal="W",
        sale="V",
        document="note",
        reason="no cover",
        lines=[{"lot": "Q", "mass_kg": "40", "scheme": SCHEME}],
    )

    found = find_breaches(world.shelf, AS_OF)

    [broken] = found.claims
    assert not found.is_open
    assert not broken.is_open
    assert broken.touched.given_back_by == (closer,)


def test_a_mass_balance_claim_asks_nothing_of_the_goods() -> None:
    world = sold_on()
    suspended(world)

    assert find_breaches(world.shelf, AS_OF).claims == ()


def test_lots_known_not_to_count_when_they_came_are_not_among_the_stopped() -> None:
    world = certified()
    suspended(world, "2025-01-05")
    world.receive({"L": "100"}, "2025-01-10")

    assert stopped_lots(world.shelf) == ()


def test_an_account_short_twice_is_listed_twice_open_first() -> None:
    world = sold_on()
    suspended(world)
    world.sign("D", "birch", claim(), on="2025-03-02")
    world.receive({"M": "60"}, "2025-03-10", contract="D")
    world.sell("U", {"M": "10"}, "2025-03-11", claim())
    world.record(
        "lot.rejected",
        "2025-05-01",
        lot="M",
        from_on="2025-05-01",
        hold="H",
        reason="x",
    )

    first, second = find_breaches(world.shelf, AS_OF).accounts

    assert (first.is_open, second.is_open) == (True, False)
    assert first.needed_g == 60_000
    assert first.shortfall is not None
    assert first.shortfall.first.day == date(2025, 5, 1)
    assert [one.record.kind for one in second.opened_by] == ["certificate.suspended"]


def test_the_mass_of_two_lines_of_one_sale_is_told_line_by_line() -> None:
    world = certified(claim("segregated"))
    world.receive({"L": "100"}, "2025-01-10")
    lines = [*weighed({"L": "10"}), {"lot": "L", "mass_kg": "20"}]
    world.sell("V", lines, "2025-02-01", claim("segregated"))
    suspended(world)

    found = find_breaches(world.shelf, AS_OF)

    assert [broken.touched.sold_g for broken in found.claims] == [10_000, 20_000]


def covered(custody: str = "mass balance") -> World:
    """The world of `sold_on` with 5 kg from birch as well, so that 55 kg are left."""
    world = sold_on(claim(custody))
    world.sign("D", "birch", claim(custody), on="2025-01-02")
    world.receive({"M": "5"}, "2025-01-12", contract="D")
    return world


def test_a_return_made_void_opens_one_and_has_no_lot_to_name() -> None:
    world = certified()
    world.receive({"L": "100"}, "2025-01-10")
    world.receive({"P": "100"}, "2025-01-10", contract="PLAIN")
    world.sell("V", {"L": "50"}, "2025-02-01", claim())
    back = world.take_back("R", "V", {"L": "50"}, "2025-02-02")
    world.sell("W", {"P": "100"}, "2025-02-03", claim())
    seq = world.void(back, accept_breach=True)

    breach = only(world)

    assert breach.needed_g == 50_000
    assert [one.seq for one in breach.opened_by] == [seq]
    assert breach.lots == ()
    assert [one.recorded.occurred_on.day for one in breach.draws] == [3]


def test_a_batch_corrected_to_another_recipe_names_what_it_gave() -> None:
    """80 kg of bars draw 50 kg of beans at half liquor and 100 kg at all liquor."""
    world = certified()
    for name, share in (("half", "0.5"), ("all", "1")):
        rest = [{"commodity": "sugar", "form": "ingredient", "share": "0.5"}]
        world.record(
            "recipe.published",
            recipe=name,
            product=name,
            valid_from="2024-01-01",
            ingredients=[
                {"commodity": "cocoa", "form": "liquor", "share": share},
                *(rest if name == "half" else []),
            ],
        )
    world.receive({"L": "90"}, "2025-01-10")
    batch = world.make({"L": "80"}, {"B": "80"}, form="bar", recipe="half")
    world.sell("V", {"B": "80"}, "2025-02-01", claim())
    seq = world.replace(
        batch,
        "2025-03-01",
        outputs=[{"lot": "B", "mass_kg": "80", "form": "bar", "recipe": "all"}],
        accept_breach=True,
    )

    breach = only(world)

    assert breach.needed_g == 10_000
    assert [one.seq for one in breach.opened_by] == [seq]
    assert [one.lot for one in breach.lots] == ["B"]
    assert [one.sale.sale for one in breach.claims] == ["V"]


def test_a_certificate_withdrawn_for_good_is_told_as_such() -> None:
    world = sold_on()
    certificate = next(
        raw["body"]["certificate"]
        for raw in world.raws
        if raw["kind"] == "certificate.recorded" and raw["body"]["holder"] == "alder"
    )
    world.stop(certificate, "2025-03-01", "withdrawn", from_on="2025-01-01")

    [stopped] = only(world).stopped
    assert "withdrawn from 2025-01-01 on" in stopped.sentence


def test_goods_traded_before_the_day_of_a_suspension_still_count() -> None:
    world = sold_on()
    suspended(world, from_on="2025-01-11")

    assert stopped_lots(world.shelf) == ()
    assert find_breaches(world.shelf, AS_OF).accounts == ()


def test_a_certificate_without_the_scope_never_counted_so_nothing_stopped() -> None:
    world = certified(organic=True)
    world.certify("alder", certificate="narrow", organic=False, number="2")
    world.receive({"L": "100"}, "2025-01-10")
    world.stop("narrow", "2025-03-01", from_on="2025-01-01")

    assert stopped_lots(world.shelf) == ()


def test_a_physical_claim_that_other_goods_support_is_not_broken() -> None:
    """What was made of M alone is untouched by the suspension of the seller of L."""
    world = covered("segregated")
    world.sell("W", {"M": "5"}, "2025-02-02", claim("segregated"))
    suspended(world)

    broken = find_breaches(world.shelf, AS_OF).claims

    assert [one.touched.sale.sale for one in broken] == ["V"]


def test_a_line_without_a_claim_makes_none() -> None:
    world = covered("segregated")
    world.sell("W", {"Q": "1"}, "2025-02-02")
    suspended(world)

    broken = find_breaches(world.shelf, AS_OF).claims

    assert [one.touched.sale.sale for one in broken] == ["V"]


def test_a_correction_of_a_correction_is_followed_to_what_counts() -> None:
    world = sold_on()
    target = next(
        raw["seq"]
        for raw in world.raws
        if raw["kind"] == "certificate.recorded" and raw["body"]["holder"] == "alder"
    )
    first = world.replace(target, "2025-06-01", number="2")
    second = world.replace(
        first,
        "2025-06-02",
        was=target,
        valid_until="2024-12-31",
        accept_breach=True,
    )

    [stopped] = only(world).stopped

    assert [one.seq for one in only(world).opened_by] == [second]
    assert "valid from 2023-01-01 to 2024-12-31" in stopped.sentence


def test_one_learnt_of_when_later_receipts_had_covered_it_is_closed_by_them() -> None:
    """From February to the receipt in March claims were not covered, and then they were."""
    world = sold_on()
    world.sign("D", "birch", claim(), on="2025-01-02")
    closer = world.receive({"M": "60"}, "2025-03-10", contract="D")
    opener = suspended(world, "2025-06-01")

    breach = only(world)

    assert not breach.is_open
    assert [one.seq for one in breach.opened_by] == [opener]
    assert breach.closed_by is not None
    assert breach.closed_by.seq == closer


def test_of_a_sale_only_the_lines_that_hold_the_goods_are_touched() -> None:
    world = covered("segregated")
    lines = [*weighed({"M": "5"}), *weighed({"Q": "1"})]
    world.sell("W", lines, "2025-02-02", claim("segregated"))
    suspended(world)

    broken = find_breaches(world.shelf, AS_OF).claims

    assert [(one.touched.sale.sale, one.touched.lot) for one in broken] == [
        ("W", "Q"),
        ("V", "Q"),
    ]


WAYS = ["between sites", "to a lower grade"]


def by_site_and_grade(transfers: list[str]) -> World:
    """50 kg of the second grade are sold at the mill, and other accounts hold some."""
    rule = {"grades": ["first", "second"], "transfers": transfers}
    world = certified(account=rule)
    world.sign("B", "birch", claim())
    world.receive([lot("L", "60", grade="second")], "2025-01-10")
    for site, grade in (("mill", "first"), ("annex", "second"), ("annex", "first")):
        parts = [lot(f"{site} {grade}".replace(" ", "-"), "7", grade=grade)]
        world.receive(parts, "2025-01-10", contract="B", site=site)
    world.sell("V", {"L": "50"}, "2025-02-01", claim())
    suspended(world)
    return world


def test_accounts_that_the_terms_let_give_to_it_are_named_with_what_they_hold() -> None:
    givers = only(by_site_and_grade(WAYS)).givers

    assert {(one.site, one.grade): held_g for one, held_g in givers} == {
        ("mill", "first"): 7_000,
        ("annex", "first"): 7_000,
        ("annex", "second"): 7_000,
    }


def test_no_account_gives_in_a_way_that_the_terms_do_not_name() -> None:
    [(giver, _)] = only(by_site_and_grade(["to a lower grade"])).givers

    assert (giver.site, giver.grade) == ("mill", "first")
    assert only(by_site_and_grade([])).givers == ()


def test_a_better_grade_is_never_filled_from_a_worse_one() -> None:
    world = certified(account={"grades": ["first", "second"], "transfers": WAYS})
    world.sign("B", "birch", claim())
    world.receive([lot("L", "60", grade="first")], "2025-01-10")
    world.receive([lot("M", "60", grade="second")], "2025-01-10", contract="B")
    world.sell("V", {"L": "50"}, "2025-02-01", claim())
    suspended(world)

    assert only(world).givers == ()


def test_lots_of_other_grades_and_sites_are_no_reason_for_it() -> None:
    """They stopped counting too, but in accounts of their own."""
    world = certified(account={"grades": ["first", "second"]})
    for number, site in enumerate(("mill", "mill", "annex")):
        parts = [lot(f"L{number}", "60", grade=("first", "second", "first")[number])]
        world.receive(parts, "2025-01-10", site=site)
    world.sell("V", {"L0": "50"}, "2025-02-01", claim())
    suspended(world)

    assert [one.lot.lot for one in only(world).stopped] == ["L0"]


def test_a_correction_opens_one_on_the_day_of_what_it_corrects() -> None:
    """It was made good in March; the sale of February was corrected in June."""
    world = certified()
    world.receive({"L": "100"}, "2025-01-10")
    world.receive({"P": "500"}, "2025-01-10", contract="PLAIN")
    sale = world.sell("V", {"P": "50"}, "2025-02-01", claim())
    world.receive({"N": "100"}, "2025-03-01")
    lines = [{"lot": "P", "mass_kg": "120", "claims": [claim()]}]
    seq = world.replace(sale, lines=lines, accept_breach=True)

    breach = only(world)

    assert breach.shortfall is not None
    assert (breach.is_open, breach.shortfall.lowest_g) == (False, -20_000)
    assert [one.seq for one in breach.opened_by] == [seq]
