"""An auditor asks: what is in breach, and could these goods be found again?"""

import csv
import io
import json
from pathlib import Path

import pytest

from tests.journeys.conftest import Run

SUSPENDED = """\
kind: certificate.suspended
on: 2026-10-01
certificate: pe-2024
from_on: 2025-06-01
reason: records of members could not be shown
"""
WITHDRAWN = """\
kind: claim.withdrawn
on: 2026-10-02
withdrawal: WD-1
sale: SA-0309
document: CN-26-0044
reason: no cover after the suspension
lines:
  - lot: C66-30
    mass_kg: 155
    scheme: osierfold
"""


@pytest.fixture
def suspended(run: Run, ledger: Path, tmp_path: Path) -> Path:
    """The scenario after the certificate of its largest grower was suspended."""
    file = tmp_path / "suspended.yaml"
    file.write_text(SUSPENDED, encoding="utf-8")
    assert run("record", file, "--ledger", ledger, "--quiet").status == 0
    return ledger


def test_the_scenario_is_in_order(run: Run, ledger: Path) -> None:
    ran = run("breaches", "--ledger", ledger)

    assert ran.status == 0
    assert "Nothing is in breach." in ran.out


def test_a_suspension_is_shown_with_lots_sales_and_the_way_out(
    run: Run, suspended: Path
) -> None:
    ran = run("breaches", "--as-of", "2026-10-31", "--ledger", suspended)

    assert ran.status == 1
    assert "758 certificate.suspended pe-2024" in ran.out
    assert "PE-25-04" in ran.out
    assert "D70-33a" in ran.out
    assert "To make it good, receive 3591.558 kg bean equivalent" in " ".join(
        ran.out.split()
    )


def test_taking_a_claim_back_lessens_what_is_needed(
    run: Run, suspended: Path, tmp_path: Path
) -> None:
    file = tmp_path / "withdrawn.yaml"
    file.write_text(WITHDRAWN, encoding="utf-8")
    assert run("record", file, "--ledger", suspended, "--quiet").status == 0

    ran = run("breaches", "--as-of", "2026-10-31", "--json", "--ledger", suspended)

    [short] = [row for row in json.loads(ran.out) if row["part"] == "short"]
    # The 155 kg of couverture drew 128.867 kg of bean equivalent: 3591.558 less that.
    assert short["bean_equivalent_kg"] == "3462.691"


def test_a_recall_lists_stock_and_customers_and_places_a_hold_on_all_of_it(
    run: Run, ledger: Path
) -> None:
    listed = run("recall", "PE-26-01", "--as-of", "2026-09-30", "--ledger", ledger)
    assert listed.status == 0
    assert "Not on hold" in listed.out

    held = run(
        "recall",
        "PE-26-01",
        "--hold",
        "RC-1",
        "--reason",
        "exercise of autumn",
        "--as-of",
        "2026-09-30",
        "--ledger",
        ledger,
    )

    assert held.status == 0
    assert "entry 758 placed hold RC-1" in held.err
    assert "Every lot on hand is on hold." in held.out
    stock = json.loads(
        run("stock", "--as-of", "2026-09-30", "--json", "--ledger", ledger).out
    )
    assert {row["lot"] for row in stock if row["hold"] == "RC-1"} >= {"D70-33a"}


def test_the_list_of_calls_opens_in_a_spreadsheet(run: Run, ledger: Path) -> None:
    ran = run("recall", "PE-26-01", "--csv", "--ledger", ledger)

    rows = list(csv.DictReader(io.StringIO(ran.out)))
    assert {row["customer"] for row in rows} > {"cust-01", "cust-10"}
    assert rows[0]["legal_name"] == "Ostlemere Farm Shop Ltd"
    assert "PE-26-01" not in {row["lot"] for row in rows}


def test_nothing_on_hand_is_no_reason_to_place_an_empty_hold(
    run: Run, ledger: Path
) -> None:
    """PE-25-03 was rejected at the door, so nothing of it was ever in the stock."""
    before = run("log", "--count", "2000", "--ledger", ledger).out

    ran = run("recall", "PE-25-03", "--hold", "RC-2", "--ledger", ledger)

    assert ran.status != 0
    assert "nothing that holds some of PE-25-03 is on hand" in ran.err
    assert run("log", "--count", "2000", "--ledger", ledger).out == before


def test_an_unknown_word_is_refused_in_one_sentence(run: Run, ledger: Path) -> None:
    ran = run("recall", "nothing-of-the-sort", "--ledger", ledger)

    assert ran.status != 0
    assert ran.err.count("\n") == 1
    assert "is no lot, batch, sale, shipment or bill of lading" in ran.err
