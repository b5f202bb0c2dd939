"""sample_shipments/: an honest two years of an invented maker, as its files tell them."""

from collections import Counter
from datetime import date
from itertools import groupby

import pytest

from ledger.books.account import Account
from ledger.books.dues import all_dues
from ledger.books.effect import Book, Recorded, Tally
from ledger.books.finding import EntryRefusedError
from ledger.books.judge import judge
from ledger.books.market import quote_on
from ledger.books.opening import parse_body
from ledger.books.owing import shortfalls
from ledger.books.running import days
from ledger.chain.canonical import JsonValue
from ledger.trade.batch import BatchMade
from ledger.trade.control import Correction
from ledger.trade.grams import to_grams
from ledger.trade.sale import SaleDispatched
from ledger.trade.shipment import ShipmentReceived
from ledger.trade.words import Step
from sample_shipments.generate import FOLDER, data_files
from sample_shipments.generator import paying
from sample_shipments.generator.market import USD_MARKET
from sample_shipments.generator.scenario import files
from sample_shipments.generator.scheme import MINIMUM_USD
from sample_shipments.generator.workday import HOLIDAYS, LAST, workdays
from tests.scenario.conftest import RECORDED_AT, Replayed

CONVENTIONAL = Account("osierfold", "cocoa", "ropewalk", "conventional", "all").tally
ORGANIC = Account("osierfold", "cocoa", "ropewalk", "organic", "all").tally


def test_the_files_are_what_the_generator_writes() -> None:
    written = {file.path: file.text for file in files()}

    lying_there = {
        path.relative_to(FOLDER).as_posix(): path.read_text(encoding="utf-8")
        for path in data_files()
    }

    assert written == lying_there


def test_the_generator_knows_the_place_of_every_entry(replayed: Replayed) -> None:
    named = [name for file in files() for name in file.records]

    assert len(named) == len(replayed.entries)


def test_the_scenario_has_the_size_of_a_small_factory(replayed: Replayed) -> None:
    kinds = Counter(entry.kind for entry in replayed.entries)

    assert {
        "shipment.dispatched": 13,
        "batch.made": 231,
        "sale.dispatched": 313,
        "sale.returned": 2,
        "correction": 2,
        "period.closed": 1,
    }.items() <= kinds.items()


def test_the_books_flag_what_is_odd_and_nothing_else(replayed: Replayed) -> None:
    flagged = Counter(finding.rule for _, finding in replayed.warnings)

    assert flagged == {
        "outside-usual": 3,
        "count-differs": 1,
        "receipt-not-counted": 1,
    }


@pytest.mark.parametrize(
    ("tally", "left_kg"), [(CONVENTIONAL, (300, 500)), (ORGANIC, (400, 600))]
)
def test_the_accounts_never_fall_below_zero_but_run_close_to_it(
    replayed: Replayed, tally: Tally, left_kg: tuple[int, int]
) -> None:
    run = replayed.shelf.run(tally)

    assert min(day.lowest_g for day in days(run)) > 0
    assert left_kg[0] < run.closing_g / 1000 < left_kg[1]


def test_no_lot_ever_gives_more_than_it_has(replayed: Replayed) -> None:
    lowest = min(
        day.lowest_g
        for tally in replayed.shelf.tallies(Book.STOCK)
        for day in days(replayed.shelf.run(tally))
    )

    assert lowest >= 0


def test_selling_more_under_the_claim_than_is_left_is_refused(
    replayed: Replayed,
) -> None:
    body: dict[str, JsonValue] = {
        "sale": "SA-9999",
        "document": "INV-26-9999",
        "customer": "cust-10",
        "lines": [
            {
                "lot": "C66-32",
                "mass_kg": "600.000",
                "pieces": "120",
                "claims": [{"scheme": "osierfold", "custody": "mass balance"}],
            }
        ],
    }
    seq = len(replayed.entries)
    entry = Recorded(
        seq, seq, LAST, RECORDED_AT, "buyer", parse_body("sale.dispatched", body)
    )

    try:
        with pytest.raises(
            EntryRefusedError, match=r"109\.511 kg .* below zero on 2026-09-30"
        ):
            judge(replayed.shelf, entry)
    finally:
        replayed.shelf.take(seq)


def test_what_the_books_owe_growers_is_what_the_generator_computed(
    replayed: Replayed,
) -> None:
    expected = sorted(
        (due.shipment, due.towards, due.payee, due.minor, due.currency, due.by)
        for due in paying.dues()
    )

    owed = sorted(
        (
            line.shipment,
            str(line.duty),
            line.payee,
            line.amount_minor,
            line.currency,
            line.due_on,
        )
        for dues in all_dues(replayed.shelf, LAST)
        for line in dues.lines
    )

    assert owed == expected


def test_one_payment_was_late_and_one_was_short(replayed: Replayed) -> None:
    dues = all_dues(replayed.shelf, LAST)

    late = [
        (line.shipment, line.late_days(LAST))
        for one in dues
        for line in one.lines
        if line.late_days(LAST) and not line.outstanding_minor
    ]
    short = [(found.shipments, found.outstanding_minor) for found in shortfalls(dues)]

    assert late == [("SH-07", 18)]
    assert short == [(("SH-11",), 6000)]
    assert not [part for one in dues for s in one.settlements for part in s.unused]


def test_corrections_name_the_entries_they_mean(replayed: Replayed) -> None:
    corrections = [
        entry.record
        for entry in replayed.entries
        if isinstance(entry.record, Correction)
    ]

    targets = [replayed.entries[found.target].record for found in corrections]

    assert [
        target.sale for target in targets if isinstance(target, SaleDispatched)
    ] == ["SA-0040", "SA-0120"]
    assert all(
        isinstance(target, SaleDispatched) and target.sale in found.reason
        for found, target in zip(corrections[:1], targets[:1], strict=True)
    )


def test_every_tank_fill_but_the_first_carries_the_heel_over(
    replayed: Replayed,
) -> None:
    fills = sorted(
        (
            (str(entry.record.equipment), len(entry.record.inputs))
            for entry in replayed.entries
            if isinstance(entry.record, BatchMade) and entry.record.step is Step.TANK
        ),
        key=lambda fill: fill[0],
    )

    for _, inputs in groupby(fills, key=lambda fill: fill[0]):
        assert sorted(count for _, count in inputs)[:2] == [1, 2]


def test_quotes_stand_on_trading_days_only_and_both_sides_of_the_minimum(
    replayed: Replayed,
) -> None:
    levels = {
        day: quote_on(replayed.shelf, USD_MARKET, day, fall_back_days=0)[0].amount
        for day in workdays()
    }
    minimum = MINIMUM_USD["2025-10-01"]
    second_year = [level for day, level in levels.items() if day > date(2025, 10, 1)]

    assert not HOLIDAYS & levels.keys()
    assert min(second_year) < minimum < max(second_year)


def test_beans_for_two_years_weigh_twenty_odd_tonnes(replayed: Replayed) -> None:
    landed_g = sum(
        to_grams(lot.net_landed_kg)
        for entry in replayed.entries
        if isinstance(entry.record, ShipmentReceived) and entry.record.contract
        for lot in entry.record.lots
        if lot.decision == "accepted"
    )

    assert 20_000 < landed_g / 1000 < 25_000


def test_a_renewed_certificate_does_not_reach_back(replayed: Replayed) -> None:
    """The lot shipped between two certificates stays uncredited after the renewal."""
    posted = {
        posting.tally.book
        for entry in replayed.entries
        if isinstance(entry.record, ShipmentReceived)
        and entry.record.shipment == "SH-08"
        for posting in replayed.shelf.effects(entry.slot).postings
    }

    assert posted == {Book.STOCK}
