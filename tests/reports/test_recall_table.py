"""Tables of a recall: whom to call, what to lock away, and what the law asks first."""

from datetime import UTC, datetime

from ledger.books.recall import Recall, find_recall
from ledger.reports.recall_table import (
    LAW,
    flat_table,
    on_hand_table,
    phone_table,
    recall_tables,
    reconciled_percent,
    reconciled_table,
)
from ledger.reports.tables import csv_text
from tests.books.making_world import MakingWorld, day

MADE_AT = datetime(2024, 3, 1, 9, 5, tzinfo=UTC)


def sold(*, contacts: bool = True) -> MakingWorld:
    world = MakingWorld()
    world.record(
        "party.registered",
        {
            "party": "dee",
            "roles": ["customer"],
            "country": "NL",
            "legal_name": "Dee & Daughters",
            "contacts": [
                {"person": "Dora", "phone": "+31 20 000 0000"},
                {"email": "quality@dee.example"},
            ]
            if contacts
            else [],
        },
    )
    world.receive({"A": 1_000})
    world.sell("V", {"A": 333}, customer="dee", on=2, pieces=3)
    return world


def recall_in(world: MakingWorld) -> Recall:
    return find_recall(world.shelf, "A", day(9))


def test_the_list_of_calls_has_every_contact_document_and_mass() -> None:
    world = sold()

    table = phone_table(recall_in(world))

    [row] = table.rows
    assert list(row) == [
        "dee",
        "Dee & Daughters",
        "Dora",
        "+31 20 000 0000",
        "quality@dee.example",
        "V",
        "invoice V",
        "2024-01-03",
        "A",
        "0.333",
        "0.333",
        "0.333",
        "3",
        str(world.seq - 1),
    ]
    assert "Customers who hold whole lots: 1, 0.333 kg." in table.notes


def test_a_customer_without_a_contact_is_named_so_that_it_is_not_forgotten() -> None:
    notes = phone_table(recall_in(sold(contacts=False))).notes

    assert any(
        "No contact is recorded" in note and "dee (entry" in note for note in notes
    )


def test_lots_without_a_hold_are_named_until_all_are_held() -> None:
    world = sold()
    assert "Not on hold: A." in on_hand_table(recall_in(world)).notes[0]

    world.hold("H", ["A"], on=3)

    assert list(on_hand_table(recall_in(world)).notes) == [
        "Every lot on hand is on hold."
    ]


def test_what_was_found_again_is_told_in_kilograms_with_its_time_basis() -> None:
    table = reconciled_table(recall_in(sold()), made_at=MADE_AT)

    assert [mass for _, mass in table.rows] == [
        "1.000",
        "0.333",
        "0.667",
        "0.000",
        "0.000",
        "1.000",
    ]
    notes = " ".join(table.notes)
    assert "counted after they last moved: 0." in notes
    assert "accepts 99.5 to 105 per cent" in notes
    assert "up to 2024-01-10 and was recorded by 2024-03-01 09:05 UTC" in notes


def test_a_per_cent_is_cut_and_never_rounded_up_to_a_limit() -> None:
    """995 g of A less 1 mg would round to 99.50 per cent; what is cut stays below it."""
    world = MakingWorld()
    world.receive({"A": 100_000})
    body = {"lot": "A", "found_kg": "99.499", "counted_by": "op"}
    world.record("lot.counted", dict(body), 3)

    assert reconciled_percent(recall_in(world)) == "99.49"


def test_the_law_is_told_and_deferred_to() -> None:
    tables = list(recall_tables(recall_in(sold()), made_at=MADE_AT))

    assert any(LAW in table.notes for table in tables)
    for said in ("competent food authority", "178/2002", "article 18", "article 19"):
        assert said in LAW


def test_the_flat_table_holds_lots_stock_customers_cautions_and_the_sum() -> None:
    table = flat_table(recall_in(sold()))

    assert set(table.figures("part")) == {
        "lot",
        "on hand",
        "with customer",
        "reconciled",
    }
    assert "100.00 per cent of 1.000" in csv_text(table)
