"""ledger.books.returning: what was sold comes back, with the claims that it carried."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.world import OTHER_SCHEME, Body, World, certified, claim, refused, sale_body

SOLD, BACK = "2025-02-01", "2025-02-10"


@pytest.fixture
def world() -> World:
    """Of 100 kg of certified liquor, 40 kg were sold under the claim."""
    world = certified()
    world.receive({"L": "200"}, "2025-01-10")
    world.make({"L": "100"}, {"M": "100"})
    world.sell("X", {"M": "40"}, SOLD, claim())
    return world


@pytest.mark.parametrize("mass", ["39.999", "40"])
def test_up_to_what_was_sold_comes_back_into_stock_and_account(
    world: World, mass: str
) -> None:
    world.take_back("R", "X", {"M": mass}, BACK)

    assert world.stock("M") == 60_000 + round(float(mass) * 1000)
    assert world.account() == 150_000 + int(float(mass) * 1000) * 5 // 4


def test_more_than_was_sold_does_not_come_back(world: World) -> None:
    with refused("more-returned-than-sold"):
        world.take_back("R", "X", {"M": "40.001"}, BACK)


def test_more_does_not_come_back_in_several_returns(world: World) -> None:
    world.take_back("R1", "X", {"M": "30"}, BACK)

    with refused("more-returned-than-sold"):
        world.take_back("R2", "X", {"M": "10.001"}, BACK)
    world.take_back("R2", "X", {"M": "10"}, BACK)


def test_more_does_not_come_back_in_several_lines_of_one_return(world: World) -> None:
    """Each line by itself is within the sale; together they are not."""
    line = {"lot": "M", "mass_kg": "40"}

    with refused("more-returned-than-sold"):
        world.take_back("R", "X", [line, line], BACK)


def test_a_lot_that_was_not_sold_does_not_come_back(world: World) -> None:
    with refused("more-returned-than-sold"):
        world.take_back("R", "X", {"L": "1"}, BACK)
    with refused("unknown-sale"):
        world.take_back("R", "none", {"M": "1"}, BACK)


def test_nothing_comes_back_before_it_was_sold(world: World) -> None:
    with refused("return-before-sale"):
        world.take_back("R", "X", {"M": "1"}, "2025-01-31")
    world.take_back("R", "X", {"M": "1"}, SOLD)


def test_a_credit_for_a_part_is_rounded_down(world: World) -> None:
    """0.001 kg of liquor stands for 1.25 g: one gram comes back."""
    world.take_back("R", "X", {"M": "0.001"}, BACK)

    assert world.account() == 150_001


def test_what_was_sold_without_a_claim_brings_no_credit_back(world: World) -> None:
    """The same lot, 10 kg with the claim and 50 kg without: 60 kg come back.

    The claim comes back for 10 kg, never for 60.
    """
    lines: list[Body] = [
        {"lot": "M", "mass_kg": "10", "claims": [claim()]},
        {"lot": "M", "mass_kg": "50"},
    ]
    world.sell("Y", lines, SOLD)
    assert world.account() == 137_500

    world.take_back("R1", "Y", {"M": "50"}, BACK)
    assert world.account() == 137_500

    world.take_back("R2", "Y", {"M": "10"}, BACK)
    assert world.account() == 150_000


def test_goods_come_back_though_their_certificate_has_since_been_withdrawn() -> None:
    """A return is not a claim, so it is not judged as one."""
    world = certified(claim("segregated"))
    world.receive({"L": "100"})
    world.sell("X", {"L": "10"}, SOLD, claim("segregated"))
    for holder in ("weirside", "alder"):
        world.stop(f"{holder}/fairfield", "2025-01-01", "withdrawn")
    world.take_back("R", "X", {"L": "10"}, BACK)

    assert (world.stock("L"), world.account()) == (100_000, 0)


def test_the_factor_of_the_day_of_sale_is_given_back() -> None:
    rows = [
        {"form": form, "factor": factor, "valid_from": day, "source": "table"}
        for form, factor, day in (
            ("bean", "1", "2023-01-01"),
            ("liquor", "1.25", "2023-01-01"),
            ("liquor", "1.2", "2025-02-05"),
        )
    ]
    world = certified(conversions=rows)
    world.receive({"L": "100"})
    world.make({"L": "50"}, {"M": "50"})
    world.sell("X", {"M": "10"}, SOLD, claim())
    world.take_back("R", "X", {"M": "10"}, BACK)

    assert world.account() == 100_000


def test_correcting_the_sale_counts_its_returns_again(world: World) -> None:
    world.take_back("R", "X", {"M": "20"}, BACK)
    sale = next(raw["seq"] for raw in world.raws if raw["kind"] == "sale.dispatched")
    plain = sale_body("X", {"M": "40"})

    with refused("later-entry-breaks"):
        world.replace(sale, lines=sale_body("X", {"M": "19.999"})["lines"])
    with refused("later-entry-breaks"):
        world.replace(sale, day="2025-02-11")
    world.replace(sale, lines=plain["lines"])

    assert world.account() == 200_000
    assert world.stock("M") == 80_000


def test_correcting_a_return_counts_the_later_ones_again(world: World) -> None:
    lines: list[Body] = [
        {"lot": "M", "mass_kg": "10", "claims": [claim()]},
        {"lot": "M", "mass_kg": "50"},
    ]
    world.sell("Y", lines, SOLD)
    first = world.take_back("R1", "Y", {"M": "50"}, BACK)
    world.take_back("R2", "Y", {"M": "10"}, BACK)
    world.void(first)

    assert world.account() == 137_500
    assert world.rebuilt_alike()


def test_voiding_a_sale_with_returns_is_refused(world: World) -> None:
    world.take_back("R", "X", {"M": "20"}, BACK)
    sale = next(raw["seq"] for raw in world.raws if raw["kind"] == "sale.dispatched")

    with refused("still-used"):
        world.void(sale)


LINES = st.lists(
    st.tuples(
        st.integers(1, 500),
        st.sampled_from(([], [claim()], [claim(), claim(scheme=OTHER_SCHEME)])),
    ),
    min_size=1,
    max_size=4,
)


@given(LINES, st.data())
def test_what_comes_back_never_restores_more_than_was_drawn(
    lines: list[tuple[int, list[dict[str, str]]]], data: st.DataObject
) -> None:
    world = certified()
    world.terms(OTHER_SCHEME)
    for holder in ("weirside", "alder"):
        world.certify(holder, OTHER_SCHEME)
    world.sign("D", "alder", claim(), claim(scheme=OTHER_SCHEME))
    world.receive({"L": "10"}, contract="D")
    world.make({"L": "5"}, {"M": "5"})
    before = {s: world.account(scheme=s) for s in ("fairfield", OTHER_SCHEME)}
    world.sell(
        "X",
        [
            {"lot": "M", "mass_kg": f"{grams / 1000:.3f}", "claims": claims}
            for grams, claims in lines
        ],
        SOLD,
    )
    left = sum(grams for grams, _ in lines)
    drawn = {s: before[s] - world.account(scheme=s) for s in before}
    first = data.draw(st.integers(1, left))
    parts = [part for part in (first, left - first) if part]
    for number, part in enumerate(parts):
        world.take_back(f"R{number}", "X", {"M": f"{part / 1000:.3f}"}, BACK)

    assert world.stock("M") == 5000
    for scheme, grams in drawn.items():
        given_back = world.account(scheme=scheme) - before[scheme] + grams
        assert 0 <= grams - given_back <= len(lines) + len(parts)
