"""What is printed with --why is enough to do every balance, stock and share again."""

from collections.abc import Callable
from datetime import date
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.books.account import Account
from ledger.books.asked import find_asked
from ledger.books.effect import Book, Subject, SubjectKind
from ledger.books.memory import MemoryShelf
from ledger.books.source import composition
from ledger.books.why_balance import WhyTotal, why_balance, why_stock
from ledger.books.why_share import why_share
from ledger.errors import InputError, NotFoundError, RefusedError
from ledger.reports.account_workings import explained_total, totals_workings_table
from ledger.reports.share_workings import explained_share, share_workings_table
from tests.books import random_ledger as draws
from tests.books.making_world import deep_tank
from tests.books.random_correction import correction
from tests.books.random_making import Floor, floors
from tests.reports.masses_again import share_again, total_again
from tests.world import SCHEME, World, certified, claim, lot

ASKED: tuple[Callable[..., draws.Drawn | None], ...] = (
    *[draws.receipt] * 4,
    *[draws.batch] * 3,
    *[draws.sale] * 4,
    draws.sale_return,
    draws.lot_entry,
    draws.lot_entry,
    draws.certificate_event,
    draws.dispatch,
    draws.terms,
    *[draws.close] * 4,
    *[correction] * 4,
)

FIRST = 8
"""Steps that every ledger begins with, so that there is something to sell."""


@st.composite
def ledgers(draw: st.DrawFn) -> World:
    """Draw a ledger in which anything was recorded that the books let in."""
    world, today = draws.factory(), 0
    for step in range(draw(st.integers(12, 40))):
        today += draw(st.sampled_from((0, 0, 1, 5, 20, 40)))
        back = draw(st.sampled_from((0, 0, 0, 1, 30)))
        ask = ASKED[step] if step < FIRST else draw(st.sampled_from(ASKED))
        drawn = ask(draw, world, draws.day(today - back))
        if drawn is not None:
            kind, on, body = drawn
            try:
                world.record(kind, on, **body)
            except (RefusedError, InputError):
                continue
    return world


def totals(shelf: MemoryShelf, until: date | None = None) -> list[WhyTotal]:
    accounts = [Account.of(tally) for tally in shelf.tallies(Book.ACCOUNT)]
    lots = [tally.key for tally in shelf.tallies(Book.STOCK)]
    return [
        *(why_balance(shelf, account, until=until) for account in accounts),
        *(why_stock(shelf, name, until=until) for name in lots),
    ]


def assert_can_be_done_again(shelf: MemoryShelf, until: date | None = None) -> None:
    for why in totals(shelf, until):
        closing_g = shelf.run(why.tally, until=until).closing_g
        assert total_again(explained_total(why)) * 1000 == closing_g == why.closing_g


@settings(max_examples=40, deadline=None)
@given(world=ledgers(), on=st.integers(0, 200))
def test_every_total_of_a_random_ledger_can_be_done_again(
    world: World, on: int
) -> None:
    assert_can_be_done_again(world.shelf)
    assert_can_be_done_again(world.shelf, date.fromisoformat(draws.day(on)))


@settings(max_examples=40, deadline=None)
@given(world=ledgers())
def test_nothing_is_left_unexplained_but_what_a_closed_period_keeps(
    world: World,
) -> None:
    """Where no period is closed, every figure has its arithmetic or an entry's mass."""
    if any(raw["kind"] == "period.closed" for raw in world.raws):
        return
    for why in totals(world.shelf):
        for movement in why.movements:
            assert "signed off" not in movement.workings[-1].text
            assert all(w.entry is not None or w.reckoning for w in movement.workings)


@settings(max_examples=50, deadline=None)
@given(floor=floors(steps=16), data=st.data())
def test_every_share_of_a_random_floor_can_be_done_again(
    floor: Floor, data: st.DataObject
) -> None:
    shelf = floor.world.shelf
    name = data.draw(st.sampled_from(floor.lots))
    asked = Subject(SubjectKind.LOT, name)
    shares = composition(shelf, name)
    if not floor.whole(name):
        return

    for source, share in shares.items():
        why = why_share(shelf, asked, source)
        assert share_again(explained_share(why)) == (
            share,
            share * Fraction(floor.whole(name), 1000),
        )
        assert why.ways == _ways(floor, source, name)


def _ways(floor: Floor, source: str, target: str) -> int:
    """Count ways from one lot to another by calling oneself."""
    if source == target:
        return 1
    return sum(_ways(floor, source, name) for name in floor.inputs_of(target))


# Rules that a random ledger seldom meets.


def world_of(*claims: dict[str, str], **terms: Any) -> World:  # noqa: ANN401
    world = certified(*claims, **terms)
    world.receive({"L": "1000"}, "2025-01-10")
    world.receive({"P": "1000"}, "2025-01-10", contract="PLAIN")
    return world


def account_text(world: World, number: int = 0, **about: Any) -> str:  # noqa: ANN401
    tally = world.shelf.tallies(Book.ACCOUNT)[number]
    return explained_total(why_balance(world.shelf, Account.of(tally), **about))


def test_a_receipt_names_certificate_weights_factor_and_rounding() -> None:
    world = certified()
    world.receive([lot("L", "1000.5", "999.25")], "2025-01-10")

    text = account_text(world)

    assert total_again(text) == Fraction("999.25")
    assert (
        text
        == """\
Account fairfield, cocoa, mill, conventional, kg bean equivalent
opening: 0.000 kg

2025-01-10, entry 11 (shipment.received S11): received
   1. the claim fairfield, mass balance counts: alder had a certificate on 2025-01-10 \
(shipment date): counts  [entry 7]
       by fairfield from 2023-01-01: certificate on the shipment date
   2. lot L, net shipped: 1000.50 kg  [entry 11]
   3. lot L, net landed: 999.25 kg  [entry 11]
   4. weight that counts: 999.25 kg  [entry 5]
       = lowest of (1000.50, 999.25)
       by fairfield from 2023-01-01: the lesser of shipped and landed weight counts
   5. factor of cocoa as bean, valid from 2023-01-01: 1.00  [entry 5]
       by fairfield from 2023-01-01: a published table
   6. added for lot L: 999.250 kg
       = 999.25 * 1.00
       by rounded down to the gram
  moved: +999.250 kg
  standing: 999.250 kg
       = 0.000 + 999.250

closing: 999.250 kg
"""
    )


def test_a_yield_in_per_cent_is_turned_into_a_factor_that_goes_on() -> None:
    """100 / 82 has no end; 10 kg draw 12.196 kg, rounded up."""
    rows = [
        {
            "form": "bean",
            "factor": "1",
            "valid_from": "2023-01-01",
            "source": "a table",
        },
        {
            "form": "liquor",
            "yield_percent": "82",
            "valid_from": "2023-01-01",
            "source": "a table",
        },
    ]
    world = world_of(conversions=rows)
    world.make({"P": "100"}, {"Q": "100"})
    world.sell("X", {"Q": "10"}, "2025-02-01", claim())

    text = account_text(world)

    assert "valid from 2023-01-01: (50 / 41)\n       = 100 / 82.00\n" in text
    assert total_again(text) == 1000 - Fraction("12.196")


def test_measured_yields_are_told_batch_by_batch() -> None:
    yields = {"forms": ["nib"], "window_months": 2, "source": "clause 9"}
    world = world_of(measured_yields=yields)
    world.make({"P": "100"}, {"R": "97"}, losses={"moisture": "3"}, form="roasted bean")
    world.make({"R": "97"}, {"N": "79"}, losses={"shell": "18"}, form="nib")
    world.sell("X", {"N": "10"}, "2025-02-01", claim())

    text = account_text(world)

    assert "factor of cocoa as nib, as measured" in text
    assert "by fairfield from 2023-01-01: clause 9" in text
    assert total_again(text) == 1000 - Fraction("12.659")


def test_forms_that_come_out_together_are_parted_line_by_line() -> None:
    split = {
        "of": "liquor",
        "outputs": [
            {"form": "butter", "share": "0.5"},
            {"form": "powder", "share": "0.5"},
        ],
        "valid_from": "2018-01-01",
        "source": "a split",
    }
    world = world_of(joint_outputs=[split])
    for form in ("butter", "powder"):
        world.make({"P": "100"}, {form.upper(): "100"}, form=form)
    world.sell("X", {"BUTTER": "10"}, "2025-02-01", claim())
    world.sell("Y", {"POWDER": "13"}, "2025-02-02", claim())
    world.take_back("R", "X", {"BUTTER": "3"}, "2025-02-03")

    texts = [account_text(world, number) for number in range(3)]

    assert_can_be_done_again(world.shelf)
    assert "liquor parted: as much as the scarcest form needs" in texts[0]
    assert any("powder left over from earlier claims" in text for text in texts)


def test_a_write_off_is_told_source_by_source() -> None:
    world = world_of()
    world.receive({"M": "7"}, "2025-01-11")
    world.make({"L": "3", "M": "2", "P": "6"}, {"Q": "11"})
    world.write_off("Q", "1", "2025-02-01")

    text = account_text(world)

    assert "[L] part of lot Q that came from lot L" in text
    assert total_again(text) == 1007 - Fraction("0.569")


def test_a_rejection_takes_what_was_added_off_again() -> None:
    world = world_of()
    world.record(
        "lot.rejected",
        "2025-03-01",
        lot="L",
        from_on="2025-02-15",
        hold="H",
        reason="mould",
    )

    text = account_text(world)

    assert "taken off again for lot L, which was rejected" in text
    assert total_again(text) == 0


def test_a_claim_taken_back_is_told() -> None:
    world = world_of()
    world.sell("X", {"L": "100"}, "2025-02-01", claim())
    world.record(
        "claim.withdrawn",
        "2025-02-04",
        withdrawal="W",
        sale="X",
        document="note",
        reason="typing",
        lines=[{"lot": "L", "mass_kg": "30", "scheme": SCHEME}],
    )
    world.take_back("R", "X", {"L": "50"}, "2025-02-05")

    text = account_text(world)

    assert "no longer claimed as fairfield: 30.00 kg" in text
    assert "what no longer was comes back first: 20.00 kg" in text
    assert total_again(text) == 950


def test_a_blend_is_claimed_and_credited_for_its_known_part() -> None:
    blend: dict[str, Any] = {**claim("controlled blending"), "proportion": "0.4"}
    world = world_of(blend, custody=["controlled blending"])
    world.sell("X", {"L": "10"}, "2025-02-01", blend)

    text = account_text(world)

    assert "known part of the blend" in text
    assert total_again(text) == 400 - 4


def test_transfers_and_what_they_move_of_recent_receipts_are_told() -> None:
    """Half of what is moved was received lately; closing the year lapses the rest."""
    account = {"transfers": ["between sites"]}
    world = certified(account=account, carry_over_periods=1)
    world.receive({"A": "100"}, "2024-06-01")
    world.receive({"B": "100"}, "2025-06-01")
    world.record(
        "claim.transferred",
        "2025-07-01",
        transfer="T",
        scheme=SCHEME,
        beans_kg="150",
        from_={"site": "mill", "organic": False},
        to={"site": "annex", "organic": False},
        reason="sold from there",
    )
    world.close("2024-01-01", "2025-12-31", "2026-01-05")

    assert_can_be_done_again(world.shelf)
    texts = "".join(account_text(world, number) for number in range(2))
    assert "transfer T, bean equivalent" in texts
    assert "the part of it that was received in this time where it came from" in texts
    assert "   3. lapsed" in texts or ". lapsed: " in texts


def test_a_lapse_names_the_receipts_that_still_count() -> None:
    world = certified(reconciliation_months=3, carry_over_periods=1)
    world.receive({"A": "100"}, "2025-01-10")
    world.receive({"B": "40"}, "2025-04-10")
    world.sell("X", {"A": "30"}, "2025-05-01", claim())
    world.close("2025-01-01", "2025-06-30", "2025-07-02")

    text = account_text(world)

    assert total_again(text) == 40
    assert (
        "received from 2025-04-01 to 2025-06-30, which still counts: 40.00 kg" in text
    )
    assert "lapsed: 70.000 kg\n       = highest of (110.00 - 40.00, 0)" in text


def test_a_correction_of_a_closed_period_lands_with_its_difference() -> None:
    world = world_of()
    sold = world.sell("X", {"L": "100"}, "2025-02-01", claim())
    world.close("2025-01-01", "2025-03-31", "2025-04-02")
    world.void(sold, "2025-05-01")

    text = account_text(world)

    assert total_again(text) == 1000
    assert "sold on 2025-02-01, as signed off with the books up to 2025-03-31" in text
    assert "difference, which lands here: 100.000 kg" in text


def test_a_balance_that_starts_later_opens_with_what_stood_before() -> None:
    world = world_of()
    world.sell("X", {"L": "100"}, "2025-02-01", claim())

    text = account_text(world, since=date(2025, 2, 1))

    assert text.splitlines()[1] == "opening: 1000.000 kg"
    assert total_again(text) == 900


def test_a_mass_typed_in_pounds_says_so() -> None:
    world = certified()
    part = {"lot": "L", "net_shipped": "220.462 lb", "net_landed": "220.462 lb"}
    world.record(
        "shipment.received", "2025-01-10", shipment="S", contract="C", lots=[part]
    )

    assert "typed as 220.462 lb" in explained_total(why_stock(world.shelf, "L"))


def test_the_share_of_a_deep_tank_has_a_line_a_fill() -> None:
    shelf = deep_tank().shelf

    why = why_share(shelf, Subject(SubjectKind.LOT, "T200"), "A")

    assert why.ways == 1
    assert len(why.workings) == 204
    share, _ = share_again(explained_share(why))
    assert share == why.share


def test_a_share_is_the_sum_over_all_ways() -> None:
    """L goes into Q by two ways: 2/4 through M and 1/4 by itself."""
    world = certified()
    world.receive({"L": "10"})
    world.receive({"P": "10"}, contract="PLAIN")
    world.make({"L": "2", "P": "2"}, {"M": "4"})
    world.make({"M": "2", "L": "1", "P": "1"}, {"Q": "4"})

    why = why_share(world.shelf, find_asked(world.shelf, "Q"), "L")

    assert (why.ways, why.share) == (2, Fraction(1, 2))
    assert explained_share(why).startswith("Share of lot L in lot Q, 2 ways\n")
    assert (
        "   2. [M] liquor, went into Q (entry 14): 0.50  [entry 13]\n"
        "       = [Q] * 2.00 / 4.00\n"
    ) in explained_share(why)


def test_the_share_of_a_lot_in_a_sale_of_several() -> None:
    world = certified()
    world.receive({"L": "10", "M": "10"})
    world.sell("X", {"L": "1", "M": "3"})

    why = why_share(world.shelf, find_asked(world.shelf, "X"), "M")

    assert share_again(explained_share(why)) == (Fraction(3, 4), Fraction(3))


def test_a_lot_that_is_not_in_the_goods_is_refused() -> None:
    world = world_of()

    with pytest.raises(NotFoundError, match="lot P did not go into lot L"):
        why_share(world.shelf, find_asked(world.shelf, "L"), "P")


def test_tables_have_every_line_of_the_text() -> None:
    world = world_of()
    why = why_balance(world.shelf, Account.of(world.shelf.tallies(Book.ACCOUNT)[0]))
    share = why_share(world.shelf, find_asked(world.shelf, "L"), "L")

    lines = list(totals_workings_table([why]).figures("line"))
    assert lines == [str(n + 1) for n in range(len(why.movements[0].workings))]
    assert list(share_workings_table(share).figures("line")) == ["1", "2", "3"]


@pytest.mark.parametrize("is_rejected", [False, True])
def test_credit_is_no_word_of_a_rolling_average(*, is_rejected: bool) -> None:
    """ISO 22095-2:2026 names the credit method beside it: one word for one method."""
    world = certified(method="rolling average percentage", window_months=12)
    world.receive({"L": "100"}, "2025-01-10")
    world.sell("X", {"L": "10"}, "2025-02-01", claim())
    world.take_back("R", "X", {"L": "5"}, "2025-02-02")
    world.write_off("L", "1", "2025-02-03")
    if is_rejected:
        about = {"from_on": "2025-03-01", "hold": "H", "reason": "?"}
        world.record("lot.rejected", "2025-03-01", lot="L", **about)

    text = account_text(world)

    assert "added for lot L" in text
    assert ("taken off again" in text) is is_rejected
    assert "credit" not in text.casefold()
