"""Tables of traces and stock say what the books say."""

from decimal import Decimal

from ledger.books.effect import Subject, SubjectKind
from ledger.books.genealogy import trace_back, trace_forward
from ledger.books.stock import OnHand, grams_by_form, stock_on
from ledger.reports.stock_table import stock_by_form_table, stock_table
from ledger.reports.trace_table import (
    destinations_table,
    trace_table,
    walk_lots_table,
    walk_sources_table,
)
from tests.reports.world import AS_OF, World, buy, opened, sell, traded


def blended() -> World:
    """Two received lots, one part to two, roasted into one lot and sold."""
    world = opened()
    buy(world, 1, "2026-01-10", "100")
    buy(world, 2, "2026-01-11", "200")
    world.record(
        "batch.made",
        "2026-01-20",
        {
            "batch": "R-1",
            "step": "roast",
            "inputs": [
                {"lot": "BN-1", "mass_kg": "100"},
                {"lot": "BN-2", "mass_kg": "200"},
            ],
            "outputs": [{"lot": "RB-1", "form": "roasted bean", "mass_kg": "297"}],
            "losses": [{"reason": "moisture", "mass_kg": "3"}],
        },
    )
    sell(world, "V-1", "2026-02-01", "RB-1", "10")
    return world


SALE = Subject(SubjectKind.SALE, "V-1")


def test_walk_ends_at_purchases_whose_masses_sum_to_the_sale() -> None:
    table = walk_sources_table(trace_back(blended().shelf, SALE))

    assert list(table.figures("lot")) == ["BN-2", "BN-1"]
    assert list(table.figures("contract")) == ["K-2", "K-1"]
    assert list(table.figures("supplier")) == ["coop", "coop"]
    assert list(table.figures("goods")) == ["cocoa, conventional"] * 2
    assert list(table.figures("mass_kg")) == ["6.667", "3.333"]
    assert list(table.figures("share_percent")) == ["66.6667", "33.3333"]
    assert sum(map(Decimal, table.figures("mass_kg"))) == 10
    assert table.notes == ["Together 10.000 kg, 100 per cent of what was sold."]


def test_walk_shows_every_lot_with_what_gave_it_and_its_entry() -> None:
    world = blended()

    table = walk_lots_table(trace_back(world.shelf, SALE), most=40)
    assert list(table.figures("lot")) == ["BN-1", "BN-2", "RB-1"]
    assert list(table.figures("given_by")) == [
        "shipment SH-1",
        "shipment SH-2",
        "batch R-1, roast",
    ]
    assert list(table.figures("entry")) == ["9", "12", "13"]
    assert table.notes == []


def test_walk_too_long_to_print_keeps_the_lots_that_most_came_through() -> None:
    table = walk_lots_table(trace_back(blended().shelf, SALE), most=2)

    assert list(table.figures("lot")) == ["BN-2", "RB-1"]
    assert table.notes[0].startswith("1 further lots")


def test_trace_back_has_origins_lots_and_the_sale() -> None:
    table = trace_table(trace_back(blended().shelf, SALE))

    assert table.title == "Trace of sale V-1 back to growers: 10.000 kg"
    assert list(table.figures("part")) == ["came in"] * 2 + ["lot"] * 3 + ["left"]
    assert list(table.figures("party")) == ["coop", "coop", "", "", "", "shop"]
    assert list(table.figures("through"))[-1] == "sold V-1"
    assert "nearest gram" in table.notes[0]


def test_trace_forward_says_where_all_of_it_went() -> None:
    lot = Subject(SubjectKind.LOT, "BN-1")

    table = trace_table(trace_forward(blended().shelf, lot, until=AS_OF))
    assert table.title == "Trace of lot BN-1 forward, up to 2026-06-30: 100.000 kg"
    left = {row[5]: row[7] for row in table.rows if row[0] == "left"}
    assert left == {
        "sold V-1": "3.333",
        "in stock": "95.667",
        "lost in making R-1, moisture": "1.000",
    }


def test_destinations_are_all_that_came_in_by_way_and_customer() -> None:
    lot = Subject(SubjectKind.LOT, "BN-1")

    table = destinations_table(trace_forward(blended().shelf, lot, until=AS_OF))
    assert [tuple(row) for row in table.rows] == [
        ("sold", "shop", "3.333", "3.3333"),
        ("in stock", "", "95.667", "95.6667"),
        ("lost in making", "", "1.000", "1.0000"),
    ]
    assert "100.000 kg" in table.notes[0]


def test_stock_table_has_every_lot_on_hand_to_the_gram() -> None:
    found = stock_on(traded().shelf, AS_OF)

    table = stock_table(found)
    assert list(table.figures("lot")) == [held.lot for held in found]
    assert sum(map(Decimal, table.figures("mass_kg"))) * 1000 == sum(
        held.grams for held in found
    )


def test_lot_about_which_little_is_known_has_empty_cells() -> None:
    [row] = stock_table([OnHand("L-1", 5)]).rows

    assert list(row) == ["L-1", "", "0.005", "", "", "", "", "", ""]


def test_stock_by_form_adds_up_the_lots() -> None:
    found = stock_on(traded().shelf, AS_OF)

    table = stock_by_form_table(grams_by_form(found))
    assert list(table.figures("form")) == ["bean", "roasted bean"]
    assert sum(map(Decimal, table.figures("mass_kg"))) * 1000 == sum(
        held.grams for held in found
    )
