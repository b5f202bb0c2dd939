"""The compliance officer asks for balance, stock, dues and traces of the scenario."""

import csv
import json
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from tests.journeys.conftest import ROOT, Run

HEAVY = (
    "sqlalchemy",
    "alembic",
    "pydantic",
    "networkx",
    "weasyprint",
    "pint",
    "jinja2",
)


def test_the_balance_of_the_open_period_is_printed(run: Run, ledger: Path) -> None:
    ran = run("balance", "--ledger", ledger)

    assert ran.status == 0
    assert "389.329" in ran.out
    assert "501.850" in ran.out


def test_opening_and_movements_add_up_to_closing(run: Run, ledger: Path) -> None:
    ran = run("balance", "--ledger", ledger, "--json")

    for row in json.loads(ran.out):
        moved = [
            int(value.replace(".", ""))
            for key, value in row.items()
            if key.endswith("_kg") and key not in {"closing_kg", "lowest_kg"}
        ]
        assert sum(moved) == int(row["closing_kg"].replace(".", ""))


def test_the_balance_as_of_a_trade_date_is_that_of_the_day(
    run: Run, ledger: Path
) -> None:
    ran = run("balance", "--ledger", ledger, "--as-of", "2026-06-04", "--json")

    conventional = json.loads(ran.out)[0]
    assert conventional["closing_kg"] == "283.343"


def test_nothing_was_recorded_before_the_ledger_was_opened(
    run: Run, ledger: Path
) -> None:
    ran = run("balance", "--ledger", ledger, "--recorded-by", "2020-01-01", "--json")

    assert json.loads(ran.out) == []


def test_balance_as_recorded_by_now_is_the_balance(run: Run, ledger: Path) -> None:
    replayed = run(
        *("balance", "--ledger", ledger, "--recorded-by", "2999-01-01"),
        *("--since", "2025-10-01", "--json"),
    )

    kept = run("balance", "--ledger", ledger, "--since", "2025-10-01", "--json")

    assert json.loads(replayed.out) == json.loads(kept.out)


def test_the_running_lines_of_an_account_end_at_its_closing(
    run: Run, ledger: Path
) -> None:
    ran = run("balance", "organic", "--ledger", ledger, "--csv")

    rows = list(csv.DictReader(ran.out.splitlines()))
    assert rows[-1]["standing_kg"] == "501.850"


def test_dues_show_what_was_late_and_what_is_open(run: Run, ledger: Path) -> None:
    ran = run("dues", "--ledger", ledger, "--as-of", "2026-10-05", "--json")

    rows = json.loads(ran.out)
    late = [
        row for row in rows if row["shipment"] == "SH-07" and row["duty"] == "price"
    ]
    assert [row["late_days"] for row in late] == ["18"]
    assert [row["outstanding"] for row in rows if row["outstanding"] != "0.00"] == [
        "60.00"
    ]


def test_dues_of_one_contract_are_its_own(run: Run, ledger: Path) -> None:
    ran = run("dues", "K-03", "--ledger", ledger, "--json")

    assert {row["contract"] for row in json.loads(ran.out)} == {"K-03"}


def test_stock_is_what_the_stocktake_says(run: Run, ledger: Path) -> None:
    ran = run("stock", "--ledger", ledger, "--as-of", "2026-09-30", "--json")

    found = {row["lot"]: row["mass_kg"] for row in json.loads(ran.out)}
    assert found["C66-32"] == "665.000"


def test_a_trace_names_growers_and_draws_a_picture(
    run: Run, ledger: Path, tmp_path: Path
) -> None:
    drawing = tmp_path / "trace.svg"

    ran = run("trace", "SA-0122", "--ledger", ledger, "--svg", drawing)

    assert ran.status == 0
    assert "quirimayo" in ran.out
    assert ET.fromstring(drawing.read_text()).tag.endswith("svg")


def test_a_bill_of_lading_is_traced_forward_to_customers(
    run: Run, ledger: Path
) -> None:
    ran = run("trace", "HIR0125-0061", "--forward", "--ledger", ledger)

    assert ran.status == 0
    assert "cust-" in ran.out


def test_what_cannot_be_traced_is_named(run: Run, ledger: Path) -> None:
    ran = run("trace", "NO-SUCH-LOT", "--ledger", ledger)

    assert ran.status == 2
    assert "NO-SUCH-LOT" in ran.err


@pytest.mark.parametrize("option", ["--as-of", "--since", "--recorded-by"])
def test_a_date_that_is_none_is_refused(run: Run, ledger: Path, option: str) -> None:
    ran = run("balance", "--ledger", ledger, option, "31.12.2025")

    assert ran.status == 2
    assert "31.12.2025" in ran.err


def test_entries_are_listed_and_printed_as_stored(run: Run, ledger: Path) -> None:
    listed = run("log", 0, "--count", 2, "--ledger", ledger)

    assert "ledger.opened" in listed.out
    assert len(listed.out.splitlines()) == 2


@pytest.mark.parametrize("words", [["--help"], ["balance", "--ledger", "LEDGER"]])
def test_a_plain_question_loads_no_heavy_library(
    scenario_ledger: Path, words: list[str]
) -> None:
    typed = [str(scenario_ledger) if word == "LEDGER" else word for word in words]
    program = (
        "import sys, contextlib\n"
        "from ledger.cli.__main__ import main\n"
        f"sys.argv = ['evenweight', *{typed!r}]\n"
        "with contextlib.suppress(SystemExit):\n    main()\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)\n"
    )

    ran = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
    )

    assert ran.stderr.strip() == "[]"
