"""Published figures and rules, each worked through the books by a whole little ledger.

Every case names its document and clause and the figure that stands there. "From memory"
marks a figure that was not read in the document itself; "arithmetic" one that follows from
published figures by the operation shown.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from ledger.books.balance import balances
from ledger.books.cocoa_content import MINIMA
from ledger.books.effect import Cause
from ledger.trade.words import ChocolateName, Custody
from tests.world import MAKER, World, certified, claim, conversions, opened

GUIDANCE = "a published mass-balance guidance of June 2016"
LATER = "the same guidance as changed from January 2018"
SOLD = "2025-02-01"


@dataclass(frozen=True)
class Case:
    """One published figure.

    Attributes:
        document: What it stands in.
        clause: Where in it.
        published: The figure, as printed.
        worked: What the books give.
        places: Decimals that are printed.
    """

    document: str
    clause: str
    published: str
    worked: Callable[[], Fraction]
    places: int = 2


def tonnes_drawn(
    sold: dict[str, str],
    on: str = SOLD,
    **terms: Any,  # noqa: ANN401
) -> Fraction:
    """Return tonnes of beans that claims on some tonnes of forms draw."""
    world = opened()
    world.terms(**{"valid_from": "2016-06-01", **terms})
    for holder in (MAKER, "alder"):
        world.certify(holder, valid_from="2016-06-01")
    world.sign("C", "alder", claim(), on="2016-06-02")
    world.sign("PLAIN", "birch", on="2016-06-02")
    world.receive({"L": "1000000"}, "2016-07-01")
    world.receive({"P": "1000000"}, "2016-07-01", contract="PLAIN")
    for name in sold:
        recipe: Any = {"recipe": milk_chocolate(world)} if name == "chocolate" else {}
        world.make({"P": "200000"}, {name: "200000"}, "2016-07-02", form=name, **recipe)
    for name, tonnes in sold.items():
        world.sell(name, {name: str(Decimal(tonnes) * 1000)}, on, claim())
    return Fraction(1_000_000_000 - world.account(), 1_000_000)


def milk_chocolate(world: World) -> str:
    world.record(
        "recipe.published",
        recipe="milk",
        product="Milk chocolate",
        valid_from="2016-01-01",
        ingredients=[
            {"commodity": "cocoa", "form": "liquor", "share": "0.3"},
            {"commodity": "milk", "form": "ingredient", "share": "0.2"},
            {"commodity": "sugar", "form": "ingredient", "share": "0.5"},
        ],
    )
    return "milk"


def at_82(*, split_from: str | None = None) -> dict[str, Any]:
    """Terms of the guidance: 82 per cent for everything pure, split where told."""
    rows = [
        {
            "form": form,
            "yield_percent": "82",
            "valid_from": "2016-06-01",
            "source": GUIDANCE,
        }
        for form in ("liquor", "butter", "powder")
    ]
    bean = {
        "form": "bean",
        "factor": "1",
        "valid_from": "2016-06-01",
        "source": GUIDANCE,
    }
    halves = [{"form": form, "share": "0.5"} for form in ("butter", "powder")]
    split = {
        "of": "liquor",
        "outputs": halves,
        "valid_from": split_from,
        "source": LATER,
    }
    return {
        "conversions": [bean, *rows],
        "joint_outputs": [split] if split_from else [],
    }


def by_table(form: str) -> Fraction:
    """Return kilograms of beans drawn for a hundred kilograms of a form, by the table."""
    return tonnes_drawn({form: "0.1"}, conversions=old()) * 1000


def old() -> list[dict[str, str]]:
    return [{**row, "valid_from": "2016-06-01"} for row in conversions()]


def outgoing() -> Fraction:
    """Opening and incoming less closing is outgoing, over a year in the middle."""
    world = certified(carry_over_periods="3")
    world.receive({"A": "700"}, "2024-03-01")
    world.sell("X", {"A": "120"}, "2024-12-31", claim())
    world.receive({"B": "300.5"}, "2025-02-01")
    world.sell("Y", {"B": "95.25"}, "2025-03-01", claim())
    world.sell("Z", {"A": "30"}, "2025-12-31", claim())
    world.sell("N", {"A": "1"}, "2026-01-01", claim())
    [year] = balances(world.shelf, since=date(2025, 1, 1), until=date(2025, 12, 31))
    incoming = year.by_cause[Cause.RECEIVED]
    assert year.opening_g + incoming - year.closing_g == -year.by_cause[Cause.SOLD]
    return Fraction(year.opening_g + incoming - year.closing_g, 1000)


def lapsed() -> Fraction:
    """What lapses with 2025 of 100 bought in 2024 and 50 in 2025, 80 of them sold."""
    world = certified(carry_over_periods="1")
    world.receive({"A": "100"}, "2024-01-02")
    world.receive({"B": "50"}, "2025-01-02")
    world.sell("X", {"A": "80"}, "2025-06-01", claim())
    world.close("2024-01-01", "2025-12-31", on="2026-01-02")
    [whole] = balances(world.shelf)
    assert world.account() == 50_000
    return Fraction(-whole.by_cause[Cause.LAPSED], 1000)


CASES = {
    "butter of the table": Case(
        "International Cocoa Agreement 2010, conversion factors (from memory)",
        "beans to one of butter: 1.33",
        "133.00",
        lambda: by_table("butter"),
    ),
    "liquor of the table": Case(
        "International Cocoa Agreement 2010, conversion factors (from memory)",
        "beans to one of paste, liquor and nib: 1.25",
        "125.00",
        lambda: by_table("liquor"),
    ),
    "nib of the table": Case(
        "International Cocoa Agreement 2010, conversion factors (from memory)",
        "beans to one of paste, liquor and nib: 1.25",
        "125.00",
        lambda: by_table("nib"),
    ),
    "powder of the table": Case(
        "International Cocoa Agreement 2010, conversion factors (from memory)",
        "beans to one of powder and cake: 1.18",
        "118.00",
        lambda: by_table("powder"),
    ),
    "powder at 82 per cent": Case(
        GUIDANCE,
        "conversion: 100 t of powder are 121.95 t of beans",
        "121.95",
        lambda: tonnes_drawn({"powder": "100"}, "2017-12-31", **at_82()),
    ),
    "milk chocolate at 82 per cent": Case(
        GUIDANCE,
        "conversion: 100 t of milk chocolate at 30 per cent cocoa are 36.59 t of beans",
        "36.59",
        lambda: tonnes_drawn({"chocolate": "100"}, "2017-12-31", **at_82()),
    ),
    "butter to the end of 2017": Case(
        GUIDANCE,
        "liquor split: one tonne of liquor is one of butter or of powder",
        "121.95",
        lambda: tonnes_drawn(
            {"butter": "100"}, "2017-12-31", **at_82(split_from="2018-01-01")
        ),
    ),
    "butter from 2018": Case(
        LATER,
        "liquor split: equal butter and powder; 100 / 0.5 / 0.82 is arithmetic",
        "243.90",
        lambda: tonnes_drawn(
            {"butter": "100"}, "2018-01-01", **at_82(split_from="2018-01-01")
        ),
    ),
    "butter and powder of one liquor": Case(
        LATER,
        "liquor split: equal butter and powder, of the same 200 t of liquor",
        "243.90",
        lambda: tonnes_drawn(
            {"butter": "100", "powder": "100"},
            "2018-01-01",
            **at_82(split_from="2018-01-01"),
        ),
    ),
    "opening, incoming, closing, outgoing": Case(
        "7 CFR 205.403(d)(4), mass balance at inspection",
        "580 + 300.5 - 755.25 = 125.25 kg (invented figures)",
        "125.25",
        outgoing,
    ),
    "oldest first": Case(
        "carry-over of one period, oldest first (common practice, no source)",
        "100 of 2024 and 50 of 2025, 80 sold in 2025: 20 of 2024 lapse",
        "20.00",
        lapsed,
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_the_books_give_the_published_figure(name: str) -> None:
    case = CASES[name]
    worked = case.worked()

    assert round(worked, case.places) == Fraction(case.published), case


@pytest.mark.parametrize(
    ("name", "clause", "solids", "butter", "fat_free"),
    [
        ("chocolate", "2.1.1", 35, 18, 14),
        ("sweet chocolate", "2.1.2", 30, 18, 12),
        ("couverture chocolate", "2.1.3", 35, 31, Fraction("2.5")),
    ],
)
def test_the_minima_are_those_of_the_standard(
    name: str, clause: str, solids: int, butter: int, fat_free: int
) -> None:
    """Source: Codex Alimentarius, CXS 87-1981, Rev. 1-2003, 2.1.1 to 2.1.3."""
    minima = MINIMA[ChocolateName(name)]

    assert (minima.clause, minima.solids) == (clause, Fraction(solids))
    assert (minima.butter, minima.fat_free) == (Fraction(butter), Fraction(fat_free))


def test_custody_is_stepped_down_and_never_up() -> None:
    """Identity preserved, then segregated, then mass balance.

    Source: ISO 22095:2020, 3.3, for the models; controlled blending stands between
    segregated and mass balance. That they are never stepped up: from memory.
    """
    order = [
        Custody.IDENTITY_PRESERVED,
        Custody.SEGREGATED,
        Custody.CONTROLLED_BLENDING,
        Custody.MASS_BALANCE,
    ]

    for place, bought in enumerate(order):
        for sold in order:
            assert bought.may_step_down_to(sold) is (order.index(sold) >= place)


@pytest.mark.parametrize(("shipped", "landed"), [("1000", "985"), ("985", "1000")])
def test_the_lesser_weight_is_counted(shipped: str, landed: str) -> None:
    """Net shipped is final at shipment, net landed at reweighing; the lesser is safe.

    Source: for the two weights, the Coffee Guide of the International Trade Centre,
    "weights"; that the lesser is counted is a judgement of ours, set in the terms.
    """
    world = certified()
    world.receive([{"lot": "L", "net_shipped_kg": shipped, "net_landed_kg": landed}])

    assert world.account() == 985_000
