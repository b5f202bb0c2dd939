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


def test_a_recall_is_a_pdf_to_hand_on(run: Run, ledger: Path, tmp_path: Path) -> None:
    out = tmp_path / "recall.pdf"

    ran = run("recall", "PE-26-01", "--pdf", out, "--ledger", ledger)

    assert ran.status == 0
    assert f"wrote {out}" in ran.err
    assert out.read_bytes().startswith(b"%PDF-")
    away = run(
        "recall", "PE-26-01", "--pdf", tmp_path / "no" / "x.pdf", "--ledger", ledger
    )
    assert away.status != 0
    assert "cannot be written" in away.err


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


YEARS = ("--since", "2024-10-01", "--until", "2026-09-30")


def test_yields_are_told_with_limits_and_what_the_factor_flatters(
    run: Run, ledger: Path
) -> None:
    ran = run("yields", *YEARS, "--ledger", ledger)

    assert ran.status == 0
    assert "B06-grind" in ran.out
    text = " ".join(ran.out.split())
    assert "6.3.2.2, Individuals Control Charts" in text
    assert "4.8784 per cent more than the factor 1.25 of osierfold" in text


def test_the_batches_of_one_step_can_be_read_one_by_one(run: Run, ledger: Path) -> None:
    ran = run("yields", "winnow", *YEARS, "--csv", "--ledger", ledger)

    rows = list(csv.DictReader(io.StringIO(ran.out)))
    assert len(rows) == 33
    assert all(
        0.77 < float(row["given_kg"]) / float(row["taken_kg"]) < 0.82 for row in rows
    )


def test_a_step_that_was_not_done_is_refused_with_those_that_were(
    run: Run, ledger: Path
) -> None:
    ran = run("yields", "press", *YEARS, "--ledger", ledger)

    assert ran.status != 0
    assert "press" in ran.err
    assert "winnow" in ran.err


def test_two_years_add_up_and_the_count_that_differs_is_shown(
    run: Run, ledger: Path
) -> None:
    ran = run("reconcile", *YEARS, "--ledger", ledger)

    text = " ".join(ran.out.split())
    assert "It adds up to the gram" in text
    assert "C66-12 couverture 0.000 100.000 100.000 0.000 DIFFERS" in text
    assert ran.status == 1


def test_a_period_in_which_every_count_agrees_ends_well(run: Run, ledger: Path) -> None:
    ran = run("reconcile", "--since", "2025-10-01", *YEARS[2:], "--ledger", ledger)

    assert ran.status == 0


def test_the_closing_stock_is_that_of_the_stock_command(run: Run, ledger: Path) -> None:
    """Two commands, one stock: summed by form from the list of lots."""
    lots = json.loads(
        run("stock", "--as-of", "2026-09-30", "--json", "--ledger", ledger).out
    )
    forms = json.loads(run("reconcile", *YEARS, "--json", "--ledger", ledger).out)

    by_form: dict[str, int] = {}
    for lot in lots:
        grams = int(lot["mass_kg"].replace(".", ""))
        by_form[lot["form"]] = by_form.get(lot["form"], 0) + grams
    assert by_form == {
        row["form"]: int(row["closing_kg"].replace(".", ""))
        for row in forms
        if row["form"] != "all" and row["closing_kg"] != "0.000"
    }


def test_a_period_that_runs_backwards_is_refused(run: Run, ledger: Path) -> None:
    words = ("reconcile", "--since", "2026-01-02", "--until", "2026-01-01")

    ran = run(*words, "--ledger", ledger)

    assert ran.status != 0
    assert "swap the two dates" in " ".join(ran.err.split())


def test_the_answer_to_whether_an_audit_could_be_passed(run: Run, ledger: Path) -> None:
    """The scenario leaves one premium of sixty dollars short, on purpose."""
    ran = run("ready", "--as-of", "2026-09-30", "--ledger", ledger)
    points = run("ready", "--as-of", "2026-09-30", "--json", "--ledger", ledger)

    assert (ran.status, points.status) == (1, 1)
    assert ran.out.startswith("Could an audit be passed on 2026-09-30? No.")
    assert "60.00" in ran.out
    overdue, runs_out = [one["point"] for one in json.loads(points.out)][:2]
    assert overdue == "Payments to growers that are overdue: 1."
    assert runs_out.endswith("ropewalk, conventional runs out on 2026-10-20.")


def test_headroom_is_what_the_balance_closes_at(run: Run, ledger: Path) -> None:
    """No terms of the scenario let an account fall below zero."""
    asked = ("--as-of", "2026-09-30", "--json", "--ledger", ledger)
    headroom = json.loads(run("headroom", *asked).out)
    balance = json.loads(run("balance", *asked).out)

    assert {one["account"]: one["headroom_kg"] for one in headroom} == {
        one["account"]: one["closing_kg"] for one in balance
    }
    assert headroom[0]["runs_out_on"] == "2026-10-20"


def test_certificates_are_listed_with_the_days_that_they_still_count(
    run: Run, ledger: Path
) -> None:
    ran = run("certificates", "--as-of", "2026-12-01", "--json", "--ledger", ledger)

    found = {one["certificate"]: one for one in json.loads(ran.out)}
    assert (found["pe-2024"]["state"], found["pe-2024"]["days_left"]) == (
        "ends soon",
        "89",
    )
    assert (found["sb-2022"]["state"], found["sb-2022"]["renewed"]) == ("lapsed", "yes")
