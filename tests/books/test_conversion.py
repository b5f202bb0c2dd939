"""ledger.books.conversion: the factor of a form on a date, and worked examples."""

from decimal import Decimal
from fractions import Fraction

import pytest

from tests.world import World, certified, claim, conversions, refused

SOLD = "2025-02-01"
EIGHTY_TWO = dict.fromkeys(("nib", "liquor", "butter", "cake", "powder"), "1.219512")
"""Kilograms of beans for one of a derivative where 100 kg of beans give 82: 1/0.82."""


def factory(*rows: dict[str, str], beans_kg: str = "1000000") -> World:
    """A lot L of certified beans, and the factors given or ICCO's."""
    world = certified(conversions=list(rows) or conversions())
    world.receive({"L": beans_kg})
    return world


def drawn_g(world: World, form: str, mass_kg: str, on: str = SOLD) -> int:
    """Sell some of a form under the claim; return the grams of beans it draws."""
    name = f"M{len(world.raws)}"
    before = world.account()
    world.make({"L": mass_kg}, {name: mass_kg}, form=form)
    world.sell(f"X{len(world.raws)}", {name: mass_kg}, on, claim())
    return before - world.account()


@pytest.mark.parametrize(
    ("form", "beans_kg"),
    [
        ("bean", "100"),
        ("nib", "125"),
        ("liquor", "125"),
        ("butter", "133"),
        ("cake", "118"),
        ("powder", "118"),
    ],
)
def test_a_hundred_kilograms_draw_what_the_published_factors_say(
    form: str, beans_kg: str
) -> None:
    """Butter 1.33, paste and nib 1.25, cake and powder 1.18.

    Source: International Cocoa Agreement 2010, conversion factors for determining the
    bean equivalent of exports and imports of cocoa products. From memory.
    """
    assert drawn_g(factory(), form, "100") == int(beans_kg) * 1000


@pytest.mark.parametrize(
    ("form", "percent"), [("liquor", "80.0"), ("butter", "75.2"), ("powder", "84.7")]
)
def test_the_yields_that_the_published_factors_imply_are_their_inverses(
    form: str, percent: str
) -> None:
    """80, 75.2 and 84.7 kg from 100 kg of beans, each by itself. Source: as above."""
    drawn = drawn_g(factory(), form, "100")

    assert round(Decimal(100_000) / Decimal(drawn) * 100, 1) == Decimal(percent)


def test_a_hundred_tonnes_of_powder_at_82_per_cent_are_121_95_tonnes_of_beans() -> None:
    """(100 t / 82) x 100 = 121.95 t.

    Source: guidance on calculating the cocoa bean equivalent of certified purchases,
    June 2016, "Buying pure cocoa products" (paperzz.com/doc/9239258).
    """
    world = factory(*conversions(**EIGHTY_TWO))

    assert round(Fraction(drawn_g(world, "powder", "100000"), 10**6), 2) == Fraction(
        "121.95"
    )


def test_a_hundred_tonnes_of_milk_chocolate_at_30_per_cent_are_36_59_tonnes() -> None:
    """(100 t x 0.3 / 82) x 100 = 36.59 t; milk and sugar count for nothing.

    Source: the same guidance, "Buying chocolate/compound".
    """
    world = factory(*conversions(**EIGHTY_TWO))
    parts = [("cocoa", "liquor", "0.2"), ("cocoa", "butter", "0.1")]
    parts += [("milk", "ingredient", "0.3"), ("sugar", "ingredient", "0.4")]
    world.record(
        "recipe.published",
        recipe="milk30",
        product="Milk 30 %",
        valid_from="2024-01-01",
        ingredients=[
            {"commodity": commodity, "form": form, "share": share}
            for commodity, form, share in parts
        ],
    )
    world.make(
        {"L": "100000"},
        {"M": "100000"},
        step="conche",
        form="chocolate",
        recipe="milk30",
    )
    world.sell("X", {"M": "100000"}, SOLD, claim())

    assert round(Fraction(10**9 - world.account(), 10**6), 2) == Fraction("36.59")


def row(factor: str, valid_from: str, form: str = "liquor") -> dict[str, str]:
    return {"form": form, "factor": factor, "valid_from": valid_from, "source": "table"}


@pytest.mark.parametrize(
    ("on", "beans_g"),
    [
        ("2025-02-28", 1_250_000),
        ("2025-03-01", 1_200_000),
        ("2025-03-02", 1_200_000),
    ],
)
def test_a_factor_governs_from_its_date_until_the_next(on: str, beans_g: int) -> None:
    world = factory(
        row("1", "2023-01-01", "bean"),
        row("1.2", "2025-03-01"),
        row("1.25", "2023-01-01"),
    )

    assert drawn_g(world, "liquor", "1000", on) == beans_g


def test_a_form_without_a_factor_cannot_be_claimed() -> None:
    world = factory(row("1", "2023-01-01", "bean"))

    with refused("no-factor"):
        drawn_g(world, "liquor", "1")


def test_a_factor_that_governs_later_is_no_factor_yet() -> None:
    world = factory(row("1", "2023-01-01", "bean"), row("1.2", "2025-03-01"))

    with refused("no-factor"):
        drawn_g(world, "liquor", "1", "2025-02-28")


def test_a_form_that_comes_out_beside_another_counts_as_what_was_parted() -> None:
    """Butter has a factor of its own here; parted from liquor it counts as liquor."""
    split = {
        "of": "liquor",
        "outputs": [
            {"form": "butter", "share": "0.5"},
            {"form": "powder", "share": "0.5"},
        ],
        "valid_from": "2025-02-01",
        "source": "an invented standard",
    }
    world = certified(joint_outputs=[split], conversions=conversions(butter="1.60"))
    world.receive({"L": "1000"}, "2025-01-10")
    world.make({"L": "100"}, {"B": "100"}, "2025-01-11", form="butter")
    world.sell("X", {"B": "10"}, "2025-01-31", claim())
    assert world.account() == 984_000

    world.sell("Y", {"B": "10"}, "2025-02-01", claim())
    assert world.account() == 984_000 - 25_000
    assert world.account(form="powder") == 12_500
