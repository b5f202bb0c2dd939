"""Workbooks: what a spreadsheet reads back is what the table says, and nothing runs."""

import re
import zipfile
from io import BytesIO

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook
from openpyxl.worksheet.worksheet import Worksheet

from ledger.errors import InputError
from ledger.reports import xlsx
from ledger.reports.tables import Column, Table
from ledger.reports.xlsx import is_kept_whole, xlsx_bytes

COLUMNS = (Column("lot", "Lot"), Column("mass_kg", "Mass", is_figure=True, unit="kg"))


def table(*rows: tuple[str, str], notes: tuple[str, ...] = ()) -> Table:
    return Table("Stock on hand", COLUMNS, rows, notes)


def sheet_of(made: Table, name: str = "Stock") -> Worksheet:
    book = load_workbook(BytesIO(xlsx_bytes({name: made}, title="Figures")))
    [sheet] = book.worksheets
    return sheet


def test_title_header_rows_and_notes_stand_below_each_other() -> None:
    sheet = sheet_of(table(("BN-1", "12.500"), notes=("A note.",)))

    assert [[cell.value for cell in row] for row in sheet.iter_rows()] == [
        ["Stock on hand", None],
        ["Lot", "Mass, kg"],
        ["BN-1", 12.5],
        [None, None],
        ["A note.", None],
    ]


def test_the_header_stays_in_sight_and_can_filter() -> None:
    sheet = sheet_of(table(("BN-1", "12.500"), ("BN-2", "3.000")))

    assert sheet.freeze_panes == "A3"
    assert sheet.auto_filter.ref == "A2:B4"
    assert sheet.print_title_rows == "$1:$2"


@pytest.mark.parametrize(
    ("text", "value", "format_"),
    [
        ("12.500", 12.5, "#,##0.000"),
        ("-0.001", -0.001, "#,##0.000"),
        ("42", 42, "0"),
        ("0", 0, "0"),
        ("123456789012.345", 123456789012.345, "#,##0.000"),
        ("999999999999.999", 999999999999.999, "#,##0.000"),
    ],
)
def test_a_figure_is_a_number_with_its_own_decimals(
    text: str, value: float, format_: str
) -> None:
    cell = sheet_of(table(("BN-1", text)))["B3"]

    assert (cell.value, cell.number_format) == (value, format_)
    assert cell.data_type == "n"


@pytest.mark.parametrize(
    "text",
    [
        "1234567890123.456",
        "12345678901234567",
        "007",
        "+5",
        "0.1428571428571428…",
        "none",
    ],
)
def test_a_figure_that_a_number_does_not_keep_stays_text(text: str) -> None:
    cell = sheet_of(table(("BN-1", text)))["B3"]

    assert (cell.value, cell.data_type) == (text, "s")


@given(st.decimals(-(10**12), 10**12, places=3, allow_nan=False).map("{:f}".format))
def test_a_number_shown_with_its_decimals_is_the_figure(text: str) -> None:
    if is_kept_whole(text):
        whole = len(text.partition(".")[2])
        assert f"{float(f'{float(text):.15g}'):.{whole}f}" == text


@pytest.mark.parametrize(
    "text",
    [
        '=cmd|"/C calc"!A0',
        '=HYPERLINK("http://example.org","x")',
        "+1+cmd",
        "-2+3",
        "@SUM(1+1)",
        "\t=1+1",
        "\N{FULLWIDTH EQUALS SIGN}1+1",
    ],
)
def test_text_that_looks_like_a_formula_is_marked_as_text(text: str) -> None:
    """OWASP, "CSV Injection": the characters that a formula may begin with."""
    sheet = sheet_of(table((text, text), notes=(text,)))

    for place in ("A3", "B3", "A5"):
        cell = sheet[place]
        assert (cell.value, cell.data_type) == (text, "s")
        assert cell.quotePrefix


def test_no_formula_stands_in_the_file() -> None:
    made = xlsx_bytes({"=1+1": table(("=1+1", "=1+1"))}, title="=1+1")

    with zipfile.ZipFile(BytesIO(made)) as opened:
        assert b"<f" not in opened.read("xl/worksheets/sheet1.xml")


def test_what_a_cell_cannot_hold_is_replaced_and_what_is_too_long_is_cut() -> None:
    sheet = sheet_of(table(("a\x00\x0bb", "x" * 40_000)))

    assert sheet["A3"].value == "a\ufffd\ufffdb"
    assert len(str(sheet["B3"].value)) == 32_767
    assert str(sheet["B3"].value).endswith("x…")


def test_sheets_have_names_of_their_own_that_a_sheet_may_have() -> None:
    one = table()
    wanted = ["osierfold/cocoa: [all]?*", "x" * 40, "X" * 40, "'", "history", ""]

    book = load_workbook(
        BytesIO(xlsx_bytes(dict.fromkeys(wanted, one), title="Figures"))
    )

    assert book.sheetnames == [
        "osierfold cocoa   all",
        "x" * 31,
        "X" * 29 + " 2",
        "Table",
        "history 2",
        "Table 2",
    ]


def test_a_workbook_does_not_say_when_it_was_made() -> None:
    """The same figures give the same bytes, whenever and wherever they are written."""
    first = xlsx_bytes({"Stock": table(("BN-1", "1.000"))}, title="Figures")

    with zipfile.ZipFile(BytesIO(first)) as opened:
        dates = {one.date_time for one in opened.infolist()}
        properties = opened.read("docProps/core.xml").decode()
    assert dates == {(1980, 1, 1, 0, 0, 0)}
    assert re.findall(r"\d{4}-\d\d-\d\d", properties) == ["1980-01-01"] * 2


def test_more_rows_than_a_sheet_holds_are_refused(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(xlsx, "MOST_ROWS", 4)

    with pytest.raises(InputError, match="ask for a shorter stretch of time"):
        xlsx_bytes({"Stock": table(("BN-1", "1"), ("BN-2", "1"))}, title="Figures")
