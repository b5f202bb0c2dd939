"""The workbook of a pack: every figure of the report, and how the balances were reached."""

from dataclasses import replace
from io import BytesIO

import pytest
from openpyxl import Workbook, load_workbook

from ledger.books.why_balance import WhyTotal, why_balance
from ledger.reports import audit_workbook
from ledger.reports.audit_workbook import render_audit_workbook
from ledger.reports.figures import kg_text
from tests.reports.world import AS_OF, HOSTILE_REASON, contents, traded

WHOLE = [
    *("About", "Balances", "Account 1", "Why balances", "Dues", "Why dues"),
    *("Cooperatives", "Overdue", "Stock", "Flow of mass", "Streams", "Yields"),
    *("Yields outside", "Factors", "Walk 1", "Walk 2", "Walk 3", "Corrections"),
    *("Decisions", "Breaches", "Findings"),
]


def whys() -> tuple[WhyTotal, ...]:
    shelf = traded().shelf
    return tuple(
        why_balance(shelf, run.balance.account, until=AS_OF)
        for run in contents().accounts
    )


def opened(content: bytes) -> Workbook:
    return load_workbook(BytesIO(content))


def test_every_table_has_a_sheet_of_its_own() -> None:
    assert opened(render_audit_workbook(contents(), whys())).sheetnames == WHOLE


def test_figures_are_those_of_the_report() -> None:
    book = opened(render_audit_workbook(contents(), whys()))
    [run] = contents().accounts

    header = [cell.value for cell in book["Balances"][2]]
    closing = book["Balances"].cell(3, header.index("Closing") + 1).value
    assert f"{closing:.3f}" == kg_text(run.balance.closing_g)
    standing = book["Account 1"].cell(2 + len(run.lines), 6).value
    assert standing == closing


def test_the_arithmetic_of_every_movement_is_told() -> None:
    sheet = opened(render_audit_workbook(contents(), whys()))["Why balances"]

    lines = sum(len(m.workings) for why in whys() for m in why.movements)
    filled = [row for row in sheet.iter_rows(min_row=3) if row[5].value is not None]
    assert len(filled) == lines


def test_what_anybody_may_type_is_never_a_formula() -> None:
    book = opened(render_audit_workbook(contents(), whys()))

    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert HOSTILE_REASON in [cell.value for cell in cells]
    assert all(cell.data_type != "f" for cell in cells)


def test_a_part_of_a_ledger_tells_neither_all_mass_nor_whys() -> None:
    part = replace(contents(), masses=None)

    names = opened(render_audit_workbook(part, ())).sheetnames

    assert "Why balances" not in names
    assert "Streams" not in names


def test_an_account_that_moves_too_often_is_told_by_month(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(audit_workbook, "MOST_RUNNING_LINES", 3)

    sheet = opened(render_audit_workbook(contents(), ()))["Account 1"]

    assert sheet["A2"].value == "Month"


def test_the_same_contents_give_the_same_bytes() -> None:
    assert render_audit_workbook(contents(), whys()) == render_audit_workbook(
        contents(), whys()
    )
