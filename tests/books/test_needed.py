"""ledger.books.needed: which entries a part of a ledger must show, and which it may not."""

from datetime import date
from typing import Any

import pytest

from ledger.books.finding import EntryRefusedError
from ledger.books.needed import needed
from ledger.books.portion import Portion
from tests.books.world_history import WorldHistory
from tests.world import (
    MAKER,
    OTHER_SCHEME,
    SCHEME,
    World,
    claim,
    opened,
    reject,
    sale_body,
)

MARCH = Portion(since=date(2025, 3, 1), until=date(2025, 3, 31))
MINE = Portion(scheme=SCHEME)
MINE_IN_MARCH = Portion(SCHEME, MARCH.since, MARCH.until)
ONE_SALE = Portion(sale="XA")


@pytest.fixture
def world() -> World:
    """A contract under each of two schemes, of which March sells, and two under none."""
    world = opened()
    for scheme, holder in ((SCHEME, "alder"), (OTHER_SCHEME, "birch")):
        world.terms(scheme)
        world.certify(MAKER, scheme)
        world.certify(holder, scheme)
    world.sign("A", "alder", claim(), on="2025-01-05")
    world.sign("B", "birch", claim(scheme=OTHER_SCHEME), on="2025-01-05")
    world.sign("C", "birch", on="2025-01-05")
    world.sign("D", "birch", on="2025-01-05")
    world.receive({"LA": "10"}, "2025-01-10", contract="A")
    world.receive({"LB": "10"}, "2025-01-10", contract="B")
    world.receive({"LC": "10"}, "2025-01-10", contract="C")
    world.receive({"LD": "10"}, "2025-01-10", contract="D")
    world.sell("XA", {"LA": "1"}, "2025-03-05", claim())
    world.sell("XB", {"LB": "1"}, "2025-03-05", claim(scheme=OTHER_SCHEME))
    return world


def shown(world: World, portion: Portion) -> frozenset[int]:
    as_of = portion.until or date(2025, 12, 31)
    return needed(world.shelf, WorldHistory(world), portion, as_of=as_of)


def receipts(world: World, *lots: str) -> set[int]:
    """Return the receipts of some lots."""
    return {
        raw["seq"]
        for raw in world.raws
        if raw["kind"] == "shipment.received"
        and any(part["lot"] in lots for part in raw["body"]["lots"])
    }


@pytest.mark.parametrize(
    ("portion", "shows"),
    [(MINE, True), (MARCH, True), (MINE_IN_MARCH, True), (ONE_SALE, False)],
)
def test_limits_are_shown_with_whatever_shows_batches(
    world: World, portion: Portion, *, shows: bool
) -> None:
    """A batch is held against what its maker finds usual; a single sale has no batches."""
    limits = world.record(
        "limits.published", version="1", valid_from="2025-01-01", limits=[]
    )

    assert (limits in shown(world, portion)) is shows


@pytest.mark.parametrize(
    ("party", "portion", "shows"),
    [
        ("alder", MINE, True),
        ("birch", MINE, False),
        ("alder", ONE_SALE, True),
        ("birch", ONE_SALE, False),
    ],
)
def test_that_data_of_a_person_were_erased_is_shown_with_the_person(
    world: World, party: str, portion: Portion, *, shows: bool
) -> None:
    erased = world.record(
        "disclosure.erased",
        "2025-06-01",
        party=party,
        members=["address"],
        digests=["A" * 43],
        reason="asked for by the person",
    )

    assert (erased in shown(world, portion)) is shows


def test_what_an_entry_rested_on_before_it_was_corrected_is_shown_too(
    world: World,
) -> None:
    """The sale was first recorded of one lot, then of another, and is of a third."""
    sold = world.sell("XC", {"LC": "1"}, "2025-03-06")
    first = world.replace(sold, lines=sale_body("XC", {"LB": "1"})["lines"])
    second = world.replace(
        first, was=sold, lines=sale_body("XC", {"LA": "1"}, claim())["lines"]
    )
    found = shown(world, Portion(sale="XC"))

    assert {sold, first, second} <= found
    assert receipts(world, "LA", "LB", "LC") <= found
    assert not receipts(world, "LB", "LC") & shown(world, ONE_SALE)


VOID: list[tuple[str, list[dict[str, Any]], str]] = [
    ("LA", [claim()], "2025-03-10"),
    ("LB", [claim(scheme=OTHER_SCHEME)], "2025-03-10"),
    ("LC", [], "2025-03-10"),
    ("LD", [], "2025-05-10"),
]


@pytest.mark.parametrize(
    ("portion", "shows"),
    [
        (MINE, [True, False, False, False]),
        (MARCH, [True, True, True, False]),
        (MINE_IN_MARCH, [True, False, False, False]),
        (ONE_SALE, [False, False, False, False]),
    ],
)
def test_void_entries_belong_to_the_part_that_they_named_and_to_the_days_they_stood_on(
    world: World, portion: Portion, shows: list[bool]
) -> None:
    entries = []
    for number, (lot, claims, on) in enumerate(VOID):
        sold = world.sell(f"V{number}", {lot: "1"}, on, *claims)
        entries.append({sold, world.void(sold)})

    found = shown(world, portion)

    assert [entry <= found for entry in entries] == shows
    assert [bool(entry & found) for entry in entries] == shows


def test_a_scheme_that_has_a_certificate_but_no_terms_is_no_part() -> None:
    world = opened()
    world.terms(SCHEME)
    world.certify("alder", OTHER_SCHEME)

    with pytest.raises(EntryRefusedError, match=f"use one of {SCHEME}"):
        shown(world, Portion(scheme=OTHER_SCHEME))


def test_a_void_certificate_that_goods_of_the_part_counted_under_is_shown(
    world: World,
) -> None:
    """Receipts of the closed January were credited under it, which the accounts show."""
    world.certify("cane", SCHEME)
    world.close("2025-01-01", "2025-01-31", "2025-02-01")
    certificates = {
        raw["body"]["holder"]: raw["seq"]
        for raw in world.raws
        if raw["kind"] == "certificate.recorded" and raw["body"]["scheme"] == SCHEME
    }
    void = {
        holder: world.void(certificates[holder], "2025-04-05", accept_breach=True)
        for holder in ("alder", "cane")
    }

    entries = shown(world, MARCH)

    assert {certificates["alder"], void["alder"]} <= entries
    assert not {certificates["cane"], void["cane"]} & entries


def test_the_rejection_of_a_lot_whose_certificate_was_stopped_later_is_shown(
    world: World,
) -> None:
    """January was closed without its credit, so the suspension takes nothing off there."""
    world.receive({"TAINTED": "5"}, "2025-01-12", contract="A")
    rejected = reject(world, "TAINTED", "2025-01-15", "2025-01-12")
    world.close("2025-01-01", "2025-01-31", "2025-02-01")
    world.stop(f"alder/{SCHEME}", "2025-02-10", from_on="2025-01-01")

    assert rejected in shown(world, MINE)
