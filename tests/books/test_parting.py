"""ledger.books.parting: butter and powder of one liquor, claimed once."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.books.effect import Book, Cause
from tests.world import World, certified, claim, conversions, refused

GUIDANCE = "a published mass-balance guidance of June 2016, liquor split"


def splits(valid_from: str = "2018-01-01") -> list[dict[str, object]]:
    """Equal butter and powder of one liquor."""
    return [
        {
            "of": "liquor",
            "outputs": [
                {"form": "butter", "share": "0.5"},
                {"form": "powder", "share": "0.5"},
            ],
            "valid_from": valid_from,
            "source": GUIDANCE,
        }
    ]


def factors_of_82_percent(*forms: str) -> list[dict[str, str]]:
    """A fixed conversion: 82 kg of liquor, or of anything pure, of 100 kg of beans."""
    table = [row for row in conversions() if row["form"] == "bean"]
    return table + [
        {
            "form": form,
            "yield_percent": "82",
            "valid_from": "2010-01-01",
            "source": "a published mass-balance guidance of June 2016, conversion",
        }
        for form in ("liquor", *forms)
    ]


@pytest.fixture
def world() -> World:
    """A thousand tonnes of certified beans; pressed butter and powder on hand."""
    world = certified(
        conversions=factors_of_82_percent("butter", "powder"), joint_outputs=splits()
    )
    world.receive({"L": "1000000"}, "2025-01-10")
    world.receive({"P": "1000000"}, "2025-01-10", contract="PLAIN")
    for form in ("butter", "powder"):
        world.make({"P": "300000"}, {form.upper(): "300000"}, "2025-01-11", form=form)
    return world


def test_butter_alone_takes_twice_its_mass_in_liquor(world: World) -> None:
    """100 t of butter stand for 200 t of liquor, 243.902... t of beans.

    Source: a published mass-balance guidance of June 2016 (82 per cent), with the equal
    split of liquor from January 2018; 200 / 0.82 is arithmetic.
    """
    world.sell("X", {"BUTTER": "100000"}, "2025-02-01", claim())

    assert 1_000_000_000 - world.account() == 243_902_440
    assert world.account(form="butter") == 0
    assert world.account(form="powder") == 121_951_220


def test_powder_left_over_is_claimed_without_a_second_draw(world: World) -> None:
    """The same 243.90 t of beans stand for 100 t of butter and 100 t of powder."""
    world.sell("X", {"BUTTER": "100000"}, "2025-02-01", claim())
    before = world.account()
    world.sell("Y", {"POWDER": "100000"}, "2025-02-02", claim())

    assert world.account() == before
    assert world.account(form="powder") == 0


def test_both_in_one_sale_draw_what_either_alone_would(world: World) -> None:
    lines = {"BUTTER": "100000", "POWDER": "100000"}
    world.sell("X", lines, "2025-02-01", claim())

    assert 1_000_000_000 - world.account() == 243_902_440
    assert world.account(form="butter") == world.account(form="powder") == 0


def test_before_the_split_each_form_draws_by_itself() -> None:
    """To the end of 2017, one tonne of liquor stood for one of butter or of powder.

    Source: a published mass-balance guidance of June 2016: 100 t of powder are
    121.95 t of beans.
    """
    world = certified(
        conversions=factors_of_82_percent("butter", "powder"),
        joint_outputs=splits("2025-02-01"),
    )
    world.receive({"L": "1000000"}, "2025-01-10")
    for form in ("butter", "powder"):
        world.make({"L": "300000"}, {form.upper(): "300000"}, "2025-01-11", form=form)
    world.sell("X", {"POWDER": "100000"}, "2025-01-31", claim())

    assert 1_000_000_000 - world.account() == 121_951_220
    world.sell("Y", {"BUTTER": "100000"}, "2025-02-01", claim())
    assert 1_000_000_000 - world.account() == 121_951_220 + 243_902_440


def test_a_sale_recorded_late_is_given_what_was_left_over_before_it(
    world: World,
) -> None:
    """Recorded in any order, the books end alike: later sales are counted again."""
    world.sell("Y", {"POWDER": "100000"}, "2025-02-02", claim())
    assert world.account(form="butter") == 121_951_220
    world.sell("X", {"BUTTER": "100000"}, "2025-02-01", claim())

    assert 1_000_000_000 - world.account() == 243_902_440
    assert world.account(form="butter") == world.account(form="powder") == 0
    assert world.judgements[-1].restated != ()
    assert world.rebuilt_alike()


def test_a_sale_made_void_takes_what_it_left_over_with_it(world: World) -> None:
    sold = world.sell("X", {"BUTTER": "100000"}, "2025-02-01", claim())
    world.sell("Y", {"POWDER": "100000"}, "2025-02-02", claim())
    world.void(sold)

    assert 1_000_000_000 - world.account() == 243_902_440
    assert world.account(form="butter") == 121_951_220
    assert world.rebuilt_alike()


def test_returned_butter_may_be_claimed_as_butter_again(world: World) -> None:
    world.sell("X", {"BUTTER": "100000"}, "2025-02-01", claim())
    before = world.account()
    world.take_back("R", "X", {"BUTTER": "100000"}, "2025-02-03")
    world.sell("Y", {"BUTTER": "99999.999"}, "2025-02-04", claim())

    assert world.account() == before
    assert world.account(form="butter") == 0


def test_butter_bought_certified_may_be_claimed_as_butter_only(world: World) -> None:
    """A kilogram of bought butter is not beans for two kilograms of liquor."""
    world.sign("BUTTER", "alder", claim(), form="butter")
    before = world.account()
    world.receive({"BB": "10000"}, "2025-01-12", contract="BUTTER")

    assert world.account() == before
    assert world.account(form="butter") == 12_195_121
    world.sell("X", {"BB": "9999"}, "2025-02-01", claim())
    assert world.account() == before


def test_what_must_be_parted_is_refused_where_beans_are_short() -> None:
    world = certified(
        conversions=factors_of_82_percent("butter"), joint_outputs=splits()
    )
    world.receive({"L": "243902.440"}, "2025-01-10")
    world.receive({"P": "300000"}, "2025-01-10", contract="PLAIN")
    world.make({"P": "300000"}, {"M": "300000"}, "2025-01-11", form="butter")

    with refused("account-below-zero"):
        world.sell("X", {"M": "100000.001"}, "2025-02-01", claim())
    world.sell("X", {"M": "100000"}, "2025-02-01", claim())
    assert world.account() == 0


def test_butter_written_off_leaves_its_powder(world: World) -> None:
    world.make({"L": "100"}, {"B2": "100"}, "2025-01-11", form="butter")
    world.write_off("B2", "82", "2025-02-01")

    assert 1_000_000_000 - world.account() == 200_000
    assert world.account(form="powder") == 100_000


def test_what_is_left_over_lapses_with_the_beans_it_came_of() -> None:
    """Beans of 2024 lapse with 2025 where one period is carried over, parted or not."""
    world = certified(
        conversions=factors_of_82_percent("butter", "powder"), joint_outputs=splits()
    )
    world.receive({"L": "1000"}, "2024-06-01")
    world.receive({"M": "1000"}, "2025-06-01")
    world.receive({"P": "1000"}, "2024-06-01", contract="PLAIN")
    world.make({"P": "410"}, {"B": "410"}, "2024-06-02", form="butter")
    world.sell("X", {"B": "410"}, "2025-07-01", claim())
    assert world.account(form="powder") == 500_000
    world.close("2024-01-01", "2025-12-31", on="2026-01-10")

    assert world.account() == 1_000_000
    assert world.account(form="powder") == 0


@given(
    sales=st.lists(
        st.tuples(
            st.sampled_from(["BUTTER", "POWDER"]),
            st.integers(1, 100_000),
            st.integers(1, 28),
        ),
        min_size=1,
        max_size=5,
    )
)
def test_forms_never_take_more_than_the_scarcer_needs(
    sales: list[tuple[str, int, int]],
) -> None:
    """In whatever order: beans drawn are those of the form that was claimed most."""
    world = certified(joint_outputs=splits())
    world.receive({"L": "1000000"}, "2025-01-10")
    for form in ("butter", "powder"):
        world.make({"L": "400000"}, {form.upper(): "400000"}, "2025-01-11", form=form)
    for place, (lot, kilos, day) in enumerate(sales):
        world.sell(f"S{place}", {lot: str(kilos)}, f"2025-02-{day:02}", claim())

    claimed = dict.fromkeys(("BUTTER", "POWDER"), 0)
    for lot, kilos, _ in sales:
        claimed[lot] += kilos * 1000
    parted = 2 * max(claimed.values())
    assert 1_000_000_000 - world.account() == parted * 5 // 4
    moved = world.shelf.tallies(Book.ACCOUNT)
    converted = [
        movement.grams
        for tally in moved
        for movement in world.shelf.run(tally).movements
        if movement.cause is Cause.CONVERTED
    ]
    assert sum(converted) == 0


def test_with_some_of_both_left_over_nothing_is_parted(world: World) -> None:
    """Butter was bought as such, powder is left over; a little of each is claimed."""
    world.sign("BUTTER", "alder", claim(), form="butter")
    world.receive({"BB": "10000"}, "2025-01-12", contract="BUTTER")
    world.sell("X", {"BUTTER": "100000"}, "2025-02-01", claim())
    world.receive({"BC": "10000"}, "2025-02-02", contract="BUTTER")
    before = world.account()
    world.sell("Y", {"BUTTER": "1000", "POWDER": "1000"}, "2025-02-03", claim())

    assert world.account() == before
    assert min(world.account(form=form) for form in ("butter", "powder")) > 0
