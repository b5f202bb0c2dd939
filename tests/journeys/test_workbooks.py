"""The compliance officer takes figures into a spreadsheet."""

from pathlib import Path

import pytest
from openpyxl import load_workbook
from openpyxl.worksheet.worksheet import Worksheet

from tests.journeys.conftest import Run


def sheets(file: Path) -> dict[str, Worksheet]:
    return {sheet.title: sheet for sheet in load_workbook(file).worksheets}


def column(sheet: Worksheet, heading: str) -> list[object]:
    """Values below a heading, down to the first empty row."""
    header = [cell.value for cell in sheet[2]]
    place = header.index(heading) + 1
    rows = range(3, sheet.max_row + 1)
    values: list[object] = [sheet.cell(row, place).value for row in rows]
    firsts = [sheet.cell(row, 1).value for row in rows]
    return values[: firsts.index(None)] if None in firsts else values


@pytest.mark.parametrize(
    ("words", "sheet", "heading"),
    [
        (("balance", "--since", "2024-10-01"), "Balances", "Closing"),
        (("stock", "--as-of", "2026-09-30"), "Stock", "Mass, kg"),
        (("dues", "--as-of", "2026-09-30"), "Dues", "Due"),
        (("trace", "SA-0200"), "Trace", "Mass, kg"),
    ],
)
def test_every_figure_of_a_workbook_is_a_number(
    run: Run,
    ledger: Path,
    tmp_path: Path,
    words: tuple[str, ...],
    sheet: str,
    heading: str,
) -> None:
    file = tmp_path / "figures.xlsx"

    ran = run(*words, "--ledger", ledger, "--xlsx", file)

    assert (ran.status, ran.out) == (0, "")
    assert ran.err == f"wrote {file}\n"
    values = column(sheets(file)[sheet], heading)
    assert values
    assert all(isinstance(value, int | float) for value in values)


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        (("breaches",), ["Breaches as of 2026-09-30"]),
        (("yields",), ["Measured yields from 2025-10-01", "Batches outside"]),
        (("reconcile",), ["Reconciliation from", "A + B - D = C", "Cocoa in kg"]),
        (("fees", "--quarter", "2026Q2"), ["Fees"]),
        (("volumes", "--quarter", "2026Q2"), ["Cocoa volumes", "Cocoa volumes"]),
        (("statement", "quirimayo"), ["Statement"]),
        (("recall", "PE-25-04"), ["On hand", "Whom to call about lot PE-25"]),
    ],
)
def test_what_a_command_prints_has_a_sheet_for_each_table(
    run: Run, ledger: Path, tmp_path: Path, words: tuple[str, ...], wanted: list[str]
) -> None:
    file = tmp_path / "figures.xlsx"
    dated = {"yields": "--until", "reconcile": "--until"}.get(words[0], "--as-of")
    last = () if "--quarter" in words else (dated, "2026-09-30")

    ran = run(*words, *last, "--ledger", ledger, "--xlsx", file)

    assert (ran.status, ran.out) == (0, "")
    names = list(sheets(file))
    assert [name.startswith(w) for name, w in zip(names, wanted, strict=False)] == [
        True
    ] * len(wanted)


def test_the_closing_in_a_workbook_is_the_closing_that_is_printed(
    run: Run, ledger: Path, tmp_path: Path
) -> None:
    file = tmp_path / "balance.xlsx"
    run("balance", "--ledger", ledger, "--xlsx", file)

    assert column(sheets(file)["Balances"], "Closing") == [389.329, 501.85]


def test_every_account_named_has_a_sheet_of_its_own(
    run: Run, ledger: Path, tmp_path: Path
) -> None:
    file = tmp_path / "accounts.xlsx"

    run("balance", "osierfold", "--ledger", ledger, "--xlsx", file)

    assert list(sheets(file)) == [
        "osierfold, cocoa, ropewalk, con",
        "osierfold, cocoa, ropewalk, org",
    ]


def test_an_account_that_is_not_there_is_refused_with_those_that_are(
    run: Run, ledger: Path
) -> None:
    ran = run("balance", "robusta", "--ledger", ledger)

    assert ran.status == 2
    assert 'no account has "robusta" in its name' in ran.err
    assert "osierfold, cocoa, ropewalk, organic" in ran.err


def test_a_workbook_that_cannot_be_written_is_said_in_a_sentence(
    run: Run, ledger: Path, tmp_path: Path
) -> None:
    ran = run("stock", "--ledger", ledger, "--xlsx", tmp_path / "none" / "stock.xlsx")

    assert ran.status == 2
    assert "cannot be written" in ran.err
