"""Tables of yields: limits with their method, batches outside, and what factors flatter."""

from datetime import date

from ledger.books.flattery import flatteries
from ledger.books.yield_ratio import METHOD, yield_series
from ledger.reports.yield_table import (
    batches_table,
    factors_table,
    outside_table,
    yields_table,
)
from tests.books.making_world import MakingWorld, day
from tests.world import certified

SINCE, UNTIL = date(2025, 1, 1), date(2025, 12, 31)


def roasted(given_g: list[int]) -> MakingWorld:
    world = MakingWorld()
    world.receive({"A": 100_000})
    for place, grams in enumerate(given_g):
        world.make({"A": 1_000}, {f"R{place}": grams}, on=place + 1, step="roast")
    return world


def test_a_kind_of_batch_is_one_row_with_mean_limits_and_extremes() -> None:
    found = yield_series(roasted([950, 960]).shelf, since=day(0), until=day(9))

    table = yields_table(found, since=day(0), until=day(9))

    [row] = table.rows
    assert list(row) == [
        "roast",
        "",
        "",
        "2",
        "95.5000",
        "95.5000",
        "92.8404",
        "98.1596",
        "95.0000",
        "96.0000",
        "",
    ]
    assert METHOD in table.notes


def test_one_batch_alone_has_no_limits_and_says_so() -> None:
    [series] = yield_series(roasted([950]).shelf, since=day(0), until=day(9))

    assert batches_table(series).notes[0] == "One batch alone has no limits."
    [row] = yields_table([series], since=day(0), until=day(9)).rows
    assert list(row[5:8]) == ["", "", ""]


def test_a_batch_outside_is_marked_and_listed_with_its_entry() -> None:
    world = roasted([950, 951, 949, 950, 951, 949, 950, 800, 951, 950, 949])
    [series] = yield_series(world.shelf, since=day(0), until=day(99))

    [row] = outside_table([series]).rows
    marked = [line[2] for line in batches_table(series).rows if line[6]]

    assert row[2:4] == ("batch.made B-8", "80.0000")
    assert marked == ["B-8"]
    assert row[0] == str(series.outside[0].recorded.seq)


def test_how_much_a_factor_flatters_is_told_in_per_cent_and_kilograms() -> None:
    world = certified()
    world.receive({"L": "1000"})
    world.make({"L": "100"}, {"Q": "76"}, losses={"shell": "24"})

    table = factors_table(flatteries(world.shelf, since=SINCE, until=UNTIL))

    [row] = table.rows
    assert list(row[1:8]) == [
        "liquor",
        "76.000",
        "100.000",
        "1.3158",
        "1.25",
        "5.2632",
        "5.000",
    ]
    assert "5.2632 per cent more than the factor 1.25" in table.notes[0]
    assert "draw 5.000 kg too little" in table.notes[0]


def test_a_factor_that_does_not_flatter_is_said_not_to() -> None:
    world = certified()
    world.receive({"L": "1000"})
    world.make({"L": "100"}, {"Q": "90"}, losses={"shell": "10"})

    [note] = factors_table(flatteries(world.shelf, since=SINCE, until=UNTIL)).notes

    assert note.endswith("counts, or as much: it does not flatter.")
