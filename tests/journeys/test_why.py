"""The officer asks why a figure is what it is, and draws figures by themselves."""

from fractions import Fraction
from pathlib import Path
from xml.etree.ElementTree import fromstring

import pytest
from openpyxl import load_workbook

from tests.journeys.conftest import Run
from tests.reports.masses_again import share_again, total_again


def test_a_balance_can_be_done_again_from_what_is_printed(
    run: Run, ledger: Path
) -> None:
    whole = ("--since", "2024-10-01", "--as-of", "2026-09-30")

    ran = run("balance", "conventional", "--why", *whole, "--ledger", ledger)

    assert ran.status == 0
    assert total_again(ran.out) == Fraction("389.329")


def test_the_open_period_opens_with_what_was_carried_over(
    run: Run, ledger: Path
) -> None:
    ran = run("balance", "organic", "--why", "--ledger", ledger)

    assert total_again(ran.out) == Fraction("501.850")
    assert not ran.out.splitlines()[1].endswith(" 0.000 kg")


def test_the_stock_of_a_lot_can_be_done_again(run: Run, ledger: Path) -> None:
    ran = run("stock", "C66-32", "--why", "--ledger", ledger)

    assert total_again(ran.out) == 665
    assert "665.000" in run("stock", "C66-32", "--ledger", ledger).out


def test_a_share_can_be_done_again_and_is_the_one_that_a_trace_shows(
    run: Run, ledger: Path
) -> None:
    ran = run("trace", "SA-0200", "--why", "PE-25-04", "--ledger", ledger)

    share, mass = share_again(ran.out)
    assert ran.out.endswith("shown in a trace as: 20.4029 %, 4.713 kg\n")
    assert round(share * 1000) == 204
    assert round(mass * 1000) == 4713


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("balance", "--why"), "--why needs an account"),
        (("stock", "--why"), "--why needs a lot"),
        (("stock", "NO-1", "--why"), "no lot NO-1 is recorded"),
        (("trace", "SA-0200", "--why", "PE-24-02"), "did not go into sale SA-0200"),
        (("trace", "PE-25-04", "--forward", "--why", "X"), "leave --forward out"),
    ],
)
def test_what_cannot_be_explained_is_said_in_a_sentence(
    run: Run, ledger: Path, words: tuple[str, ...], said: str
) -> None:
    ran = run(*words, "--ledger", ledger)

    assert ran.status == 2
    assert said in " ".join(ran.err.split())


def test_the_arithmetic_can_be_taken_into_a_spreadsheet(
    run: Run, ledger: Path, tmp_path: Path
) -> None:
    file = tmp_path / "why.xlsx"

    run("balance", "organic", "--why", "--ledger", ledger, "--xlsx", file)

    sheet = load_workbook(file)["Why"]
    assert [cell.value for cell in sheet[2]][-3:] == ["Arithmetic", "Rule", "Entry"]
    assert sheet.max_row > 100


@pytest.mark.parametrize("which", ["balance", "flow", "yields", "dues"])
def test_a_chart_is_drawn_by_itself_with_title_and_words(
    run: Run, ledger: Path, tmp_path: Path, which: str
) -> None:
    file = tmp_path / "chart.svg"

    ran = run(
        *("chart", which, "--as-of", "2026-09-30"),
        *("--ledger", ledger, "--out", file),
    )

    assert (ran.status, ran.out) == (0, "")
    root = fromstring(file.read_text(encoding="utf-8"))
    title, words = (root.findtext(f"{{*}}{tag}") for tag in ("title", "desc"))
    assert title
    assert words


def test_a_chart_can_be_of_one_account(run: Run, ledger: Path) -> None:
    ran = run("chart", "balance", "organic", "--ledger", ledger)

    assert ran.out.count("<title>") == 1
    assert "Running balance of osierfold, cocoa, ropewalk, organic" in ran.out


def test_nothing_to_draw_is_said_in_a_sentence(run: Run, ledger: Path) -> None:
    ran = run("chart", "yields", "distil", "--ledger", ledger)

    assert ran.status == 2
    assert 'nothing to draw of yields with "distil" in the name' in ran.err
