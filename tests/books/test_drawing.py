"""Sales drawn for a certifier: by a seed of the certifier's own, or by a rule."""

from datetime import date
from hashlib import sha256

from hypothesis import given
from hypothesis import strategies as st

from ledger.books.drawing import (
    Draw,
    DrawRule,
    claimed_grams,
    draw,
    population,
    suppliers_of,
)
from ledger.books.paper_trail import paper_trail
from ledger.trade.sale import SaleDispatched
from tests.desk.small_ledger import SMALL, shelf_of
from tests.world import MAKER, OTHER_SCHEME, SCHEME, certified, claim

SHELF = shelf_of(SMALL)
CLAIMED = {"S-0", "S-1", "S-3", "S-4", "S-5"}
ROOT = bytes(range(32))
SEEDS = st.text(max_size=20)


def wanted(rule: DrawRule = DrawRule.RANDOM, seed: str = "s", count: int = 9) -> Draw:
    return Draw(rule, seed, ROOT, len(SMALL), count)


def names(drawn: Draw) -> list[str]:
    return [one.sale.sale for one in draw(SHELF, drawn)]


def test_a_ticket_can_be_worked_out_by_hand() -> None:
    """By hand: `printf %s 'TREE HEAD:SEED:7' | sha256sum`."""
    text = f"{ROOT.hex()}:a:b:7".encode()

    assert wanted(seed="a:b").ticket(7) == sha256(text).hexdigest()


@given(seed=SEEDS, count=st.integers(0, 9))
def test_the_same_seed_draws_the_same_and_more_keeps_what_was_drawn(
    seed: str, count: int
) -> None:
    drawn = names(wanted(seed=seed, count=count))

    assert drawn == names(wanted(seed=seed))[:count]
    assert set(drawn) <= CLAIMED
    assert len(set(drawn)) == len(drawn) == min(count, len(CLAIMED))


def test_every_sale_is_drawn_first_by_some_seed() -> None:
    assert {names(wanted(seed=str(n), count=1))[0] for n in range(80)} == CLAIMED


@given(seed=SEEDS)
def test_the_largest_come_first_whatever_the_seed(seed: str) -> None:
    masses = [one.claimed_g for one in draw(SHELF, wanted(DrawRule.LARGEST, seed))]

    assert masses == sorted(masses, reverse=True)
    assert sum(masses) == sum(one.claimed_g for one in population(SHELF, wanted()))


@given(seed=SEEDS)
def test_every_month_is_drawn_once(seed: str) -> None:
    drawn = draw(SHELF, wanted(DrawRule.EACH_MONTH, seed))
    months = {
        f"{one.recorded.occurred_on:%Y-%m}" for one in population(SHELF, wanted())
    }

    assert [one.why for one in drawn] == sorted(months)


@given(seed=SEEDS)
def test_every_supplier_is_met(seed: str) -> None:
    drawn = draw(SHELF, wanted(DrawRule.EACH_COOPERATIVE, seed))
    met = {name for one in drawn for name in suppliers_of(SHELF, one.sale)}

    assert met == {
        name
        for one in population(SHELF, wanted())
        for name in suppliers_of(SHELF, one.sale)
    }
    assert all(one.why for one in drawn)


def test_what_was_recorded_later_or_lies_outside_takes_no_part() -> None:
    assert not draw(SHELF, Draw(DrawRule.RANDOM, "s", ROOT, 3, 9))
    early = Draw(
        DrawRule.RANDOM, "s", ROOT, len(SMALL), 9, until=date(2000, 1, 1), scheme="none"
    )
    assert not draw(SHELF, early)
    assert "scheme none, until 2000-01-01" in str(early)


def test_only_what_is_claimed_weighs() -> None:
    for recorded in SHELF.of_kind("sale.dispatched"):
        assert isinstance(recorded.record, SaleDispatched)
        is_claimed = recorded.record.sale in CLAIMED
        assert bool(claimed_grams(recorded.record, None)) == is_claimed
        assert claimed_grams(recorded.record, "no such scheme") == 0


def test_a_sale_is_walked_back_to_contract_certificate_and_payment() -> None:
    for sale in sorted(CLAIMED):
        trail = paper_trail(SHELF, sale)
        bought = {lot.lot for one in trail.purchases for lot in one.shipment.lots}

        assert bought == {origin.lot for origin in trail.trace.origins}
        assert trail.batches
        for purchase in trail.purchases:
            assert all(stop.recorded for stop in purchase.stops())


def test_a_draw_weighs_what_is_claimed_under_its_scheme_and_says_how_it_draws() -> None:
    drawn = Draw(DrawRule.LARGEST, "s", ROOT, len(SMALL), 9, scheme="river")
    other = Draw(DrawRule.LARGEST, "s", ROOT, len(SMALL), 9, scheme="brook")

    assert {one.claimed_g for one in population(SHELF, drawn)} == {10_000}
    assert list(population(SHELF, other)) == []
    assert str(drawn) == (
        f"largest, seed s, 9 at most, scheme river, tree head {len(SMALL)}:{ROOT.hex()}"
    )


def test_of_a_sale_under_two_schemes_a_draw_weighs_the_lines_of_its_own() -> None:
    world = certified(claim())
    world.terms(OTHER_SCHEME)
    for holder in (MAKER, "alder"):
        world.certify(holder, OTHER_SCHEME)
    world.sign("B", "alder", claim(scheme=OTHER_SCHEME))
    world.receive({"L": "100"})
    world.receive({"M": "100"}, contract="B")
    lines = [
        {"lot": "L", "mass_kg": "3", "claims": [claim()]},
        {"lot": "M", "mass_kg": "5", "claims": [claim(scheme=OTHER_SCHEME)]},
    ]
    world.sell("X", lines, "2025-02-01")

    for scheme, grams in ((SCHEME, 3_000), (OTHER_SCHEME, 5_000), (None, 8_000)):
        drawn = Draw(DrawRule.LARGEST, "s", ROOT, len(world.raws), 9, scheme=scheme)
        assert [one.claimed_g for one in population(world.shelf, drawn)] == [grams]
