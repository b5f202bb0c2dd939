"""Tables of breaches: every fact in one place, and in words what would make them good."""

from datetime import date

import pytest

from ledger.books.breach import Breaches, find_breaches
from ledger.reports.breach_table import (
    NONE_OPEN,
    breach_details,
    breaches_table,
    flat_table,
)
from ledger.reports.tables import Table, csv_text
from tests.world import SCHEME, World, certified, claim

AS_OF = date(2025, 12, 31)


def world_with(custody: str) -> World:
    """50 kg of 100 are sold when the seller's certificate turns out suspended."""
    world = certified(claim(custody))
    world.receive({"L": "100"}, "2025-01-10")
    world.sell("V", {"L": "50"}, "2025-02-01", claim(custody))
    certificate = next(
        raw["body"]["certificate"]
        for raw in world.raws
        if raw["kind"] == "certificate.recorded" and raw["body"]["holder"] == "alder"
    )
    world.stop(certificate, "2025-03-01", from_on="2025-01-01", reason='=cmd|"x"')
    return world


def found_in(world: World) -> Breaches:
    return find_breaches(world.shelf, AS_OF)


def tables_of(world: World) -> dict[str, Table]:
    return {table.title: table for table in breach_details(found_in(world))}


def test_a_ledger_in_order_says_so() -> None:
    table = breaches_table(find_breaches(certified().shelf, AS_OF))

    assert list(table.rows) == []
    assert NONE_OPEN in table.notes


def test_an_open_breach_names_account_day_mass_and_the_entry_that_opened_it() -> None:
    world = world_with("mass balance")

    [row] = breaches_table(found_in(world)).rows

    seq = len(world.raws) - 1
    assert list(row) == [
        "open",
        f"account {SCHEME}, cocoa, mill, conventional",
        "2025-02-01",
        "50.000",
        "50.000",
        f"{seq} certificate.suspended {world.raws[-1]['body']['certificate']}",
        "",
    ]


def test_the_way_out_is_told_in_kilograms() -> None:
    tables = tables_of(world_with("mass balance"))

    [draws] = [table for title, table in tables.items() if title.startswith("Sales")]
    assert draws.notes[0].startswith(
        "To make it good, receive 50.000 kg bean equivalent of cocoa certified under "
        f"{SCHEME} for this account; or take claims back by credit note "
        "(claim.withdrawn) for as much: the sales that drew on it hold 50.000 kg."
    )
    assert "50.000 kg of the lots that it touches are unsold" in draws.notes[1]
    assert "certifier" in draws.notes[2]


def test_a_physical_claim_tells_what_to_do_with_goods_sold_and_unsold() -> None:
    tables = tables_of(world_with("segregated"))

    table = tables["Physical claims that the goods no longer support"]
    [row] = table.rows
    assert row[2:8] == ("V", "shop", "L", "segregated", "50.000", "50.000")
    assert "weaker claim" in table.notes[0]


@pytest.mark.parametrize("custody", ["mass balance", "segregated"])
def test_the_flat_table_holds_every_part_and_is_safe_in_a_spreadsheet(
    custody: str,
) -> None:
    table = flat_table(found_in(world_with(custody)))

    parts = list(table.figures("part"))
    assert {"short", "opened by", "no longer counts", "lot", "claim", "draw"} == set(
        parts
    )
    assert "\n=cmd" not in csv_text(table)


def test_a_closed_breach_stays_listed_with_the_entry_that_closed_it() -> None:
    world = world_with("mass balance")
    seq = world.take_back("R", "V", {"L": "50"}, "2025-03-05")

    [row] = breaches_table(found_in(world)).rows

    assert (row[0], row[6]) == ("closed", f"{seq} sale.returned R")
    assert tables_of(world) == {}


def test_a_broken_claim_taken_back_is_listed_as_closed_with_its_entry() -> None:
    world = world_with("segregated")
    seq = world.take_back("R", "V", {"L": "50"}, "2025-03-05")

    rows = [list(row) for row in breaches_table(found_in(world)).rows]

    assert [row[0] for row in rows] == ["closed", "closed"]
    assert rows[1][1] == "segregated claim of sale V, lot L"
    assert rows[1][6] == str(seq)


def test_a_breach_put_right_in_the_past_has_no_day_and_says_why_in_the_flat_table() -> (
    None
):
    world = world_with("mass balance")
    seq = world.void(len(world.raws) - 1)

    [row] = breaches_table(found_in(world)).rows
    short, closed = flat_table(found_in(world)).rows

    assert list(row[2:6]) == ["", "0.000", "", ""]
    assert short[10] == "a later entry took it out of the past"
    assert closed[2:4] == ("closed by", str(seq))


def test_an_opener_that_stopped_no_lot_is_told_with_its_own_reason() -> None:
    world = certified()
    receipt = world.receive({"L": "100"}, "2025-01-10")
    world.sell("V", {"L": "90"}, "2025-02-01", claim())
    seq = world.replace(
        receipt,
        lots=[{"lot": "L", "net_shipped_kg": "80", "net_landed_kg": "100"}],
        accept_breach=True,
    )

    [why] = [
        table for title, table in tables_of(world).items() if title.startswith("Why")
    ]

    [row] = why.rows
    assert (row[0], row[3], row[5]) == (str(seq), "", "mistyped")
    assert why.notes[0].startswith("It fell below zero on 2025-02-01 with entry ")


def test_a_transfer_is_named_as_a_way_out_where_the_terms_allow_one() -> None:
    world = certified(account={"transfers": ["between sites"]})
    world.sign("B", "birch", claim())
    world.receive({"L": "100"}, "2025-01-10")
    world.receive({"M": "70"}, "2025-01-10", contract="B", site="annex")
    world.sell("V", {"L": "50"}, "2025-02-01", claim())
    world.stop("alder/fairfield", "2025-03-01", from_on="2025-01-01")

    notes = "\n".join(note for t in breach_details(found_in(world)) for note in t.notes)

    assert (
        "allow moving bean equivalent to it (claim.transferred) from account fairfield, "
        "cocoa, annex, conventional, which holds 70.000 kg."
    ) in notes
