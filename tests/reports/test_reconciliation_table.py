"""Tables of a reconciliation: signs, sums, differences and what explains them."""

from datetime import date

from ledger.books.bean_flow import bean_flows
from ledger.books.reconciliation import reconcile
from ledger.reports.reconciliation_table import (
    beans_table,
    counts_table,
    forms_table,
    inspection_table,
    losses_table,
    verdict,
)
from ledger.reports.tables import json_objects
from tests.world import World, certified

SINCE, UNTIL = date(2025, 1, 1), date(2025, 12, 31)


def ground() -> World:
    world = certified()
    world.receive({"L": "100"}, "2025-01-10")
    world.make({"L": "60"}, {"Q": "48"}, "2025-01-20", losses={"shell": "12"})
    world.sell("V", {"Q": "8"}, "2025-02-01")
    world.write_off("Q", "1", "2025-02-02")
    return world


def test_the_columns_of_every_row_add_up_as_their_headings_say() -> None:
    table = forms_table(reconcile(ground().shelf, since=SINCE, until=UNTIL))

    for row in json_objects(table):
        grams = {
            key: int(kg.replace(".", "")) for key, kg in row.items() if key != "form"
        }
        came = ("opening_kg", "bought_kg", "made_kg", "returned_kg", "corrected_kg")
        went = ("used_kg", "lost_kg", "sold_kg", "written_off_kg")
        expected = sum(grams[key] for key in came) - sum(grams[key] for key in went)
        assert grams["closing_kg"] - expected == grams["difference_kg"] == 0
    assert [row["form"] for row in json_objects(table)] == ["bean", "liquor", "all"]
    assert table.notes[0].startswith("It adds up to the gram")


def test_an_inspection_sees_a_plus_b_less_d_beside_c() -> None:
    """7 CFR 205.403(d)(4)."""
    table = inspection_table(reconcile(ground().shelf, since=SINCE, until=UNTIL))

    assert [(letter, mass) for letter, _, mass in table.rows] == [
        ("A", "0.000"),
        ("B", "100.000"),
        ("", "0.000"),
        ("D", "79.000"),
        ("C", "21.000"),
        ("", "0.000"),
    ]


def test_losses_stand_by_reason_beside_what_was_written_off() -> None:
    table = losses_table(reconcile(ground().shelf, since=SINCE, until=UNTIL))

    assert list(table.rows) == [
        ("shell", "12.000", "0.000"),
        ("spillage", "0.000", "1.000"),
    ]


def test_beans_say_what_the_factors_do() -> None:
    """60 kg of beans became 48 kg of liquor, which by 1.25 are 60 again."""
    world = ground()
    found = bean_flows(world.shelf, reconcile(world.shelf, since=SINCE, until=UNTIL))

    table = beans_table(found)

    [row] = json_objects(table)
    assert row["in_making_kg"] == "0.000"
    assert row["sold_kg"] == "10.000"
    assert row["difference_kg"] == "0.000"
    assert "0.000 kg more went into batches" in table.notes[0]


def test_nothing_counted_is_said_and_a_difference_is_not_absorbed() -> None:
    world = ground()
    found = reconcile(world.shelf, since=SINCE, until=UNTIL)
    assert "the closing stock is the book's alone" in counts_table(found).notes[0]

    world.record("lot.counted", "2025-03-01", lot="Q", found_kg="38.9", counted_by="op")

    table = counts_table(reconcile(world.shelf, since=SINCE, until=UNTIL))
    [row] = table.rows
    assert row[4:9] == ("39.000", "38.900", "-0.100", "0.000", "DIFFERS")
    assert "1 counts differ by -0.100 kg together" in table.notes[0]


def test_a_difference_names_the_correction_that_explains_it() -> None:
    world = certified()
    world.receive({"L": "100"}, "2025-01-10")
    batch = world.make({"L": "100"}, {"Q": "80"}, "2025-01-20", losses={"shell": "20"})
    world.close("2025-01-01", "2025-01-31", "2025-02-02")
    seq = world.replace(
        batch,
        "2025-02-05",
        outputs=[{"form": "liquor", "lot": "Q", "mass_kg": "75"}],
        losses=[{"reason": "shell", "mass_kg": "25"}],
    )

    said = verdict(reconcile(world.shelf, since=SINCE, until=date(2025, 1, 31)))

    assert said.startswith("It does NOT add up")
    assert f"Entries {seq} were corrected after the books were closed" in said
