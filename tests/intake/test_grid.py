"""Sheets that are pasted or uploaded: cells as text, whatever they came in as."""

from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime, time
from io import BytesIO
from zipfile import ZIP_DEFLATED, ZipFile

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook

from ledger.errors import InputError
from ledger.intake.columns import SHEETS
from ledger.intake.grid import (
    MOST_COLUMNS,
    MOST_ROWS,
    csv_of,
    grid_of_text,
    trimmed,
)
from ledger.intake.sheet import columns_of, grid_of_file, sort_of

HEADER = ["on", "payment", "amount"]


def workbook(*rows: Sequence[object]) -> bytes:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for row in rows:
        sheet.append(list(row))
    raw = BytesIO()
    book.save(raw)
    return raw.getvalue()


def with_part(raw: bytes, name: str, change: Callable[[bytes], bytes]) -> bytes:
    """Return a workbook in which one part is another."""
    made = BytesIO()
    with ZipFile(BytesIO(raw)) as old, ZipFile(made, "w", ZIP_DEFLATED) as new:
        for member in old.infolist():
            content = old.read(member)
            new.writestr(
                member.filename, change(content) if member.filename == name else content
            )
    return made.getvalue()


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_pasted_cells_are_read_whatever_separates_them(separator: str) -> None:
    text = "\n".join(
        separator.join(row) for row in (HEADER, ["2026-01-02", "P-1", "1.00"], [])
    )

    assert grid_of_text("pasted", text) == [HEADER, ["2026-01-02", "P-1", "1.00"]]


@given(
    st.lists(
        st.lists(
            st.text(
                st.characters(
                    exclude_categories=["Cc", "Cs", "Zl", "Zp", "Zs"],
                    exclude_characters='",;\t ',
                ),
                min_size=1,
                max_size=8,
            ),
            min_size=3,
            max_size=3,
        ),
        min_size=1,
        max_size=5,
    )
)
def test_a_grid_written_as_csv_is_read_back(rows: list[list[str]]) -> None:
    grid = [HEADER, *rows]

    assert grid_of_text("sheet", csv_of(grid)) == grid


def test_a_row_keeps_its_number_behind_blank_rows() -> None:
    text = csv_of([HEADER, ["", "", ""], ["2026-01-02", "P-1", "1"]])

    assert text.splitlines()[2].startswith("2026-01-02")


def test_a_workbook_gives_the_digits_that_a_spreadsheet_shows() -> None:
    raw = workbook(
        [*HEADER, "note"],
        [date(2026, 1, 2), "P-1", 1250.5, True],
        [datetime.combine(date(2026, 1, 3), time()), "P-2", 0.1 + 0.2, None],
        ["2026-01-04", 7, 1e15, "  two   words "],
        [None, None, None, None],
    )

    assert grid_of_file("b.xlsx", raw) == [
        [*HEADER, "note"],
        ["2026-01-02", "P-1", "1250.5", "true"],
        ["2026-01-03", "P-2", "0.3", ""],
        ["2026-01-04", "7", "1000000000000000", "two words"],
    ]


def test_a_formula_is_kept_as_written_and_so_refused_later() -> None:
    raw = workbook(HEADER, ["2026-01-02", "P-1", "=1+1"])

    assert grid_of_file("b.xlsx", raw)[1][2] == "=1+1"


def test_a_time_of_day_is_no_day() -> None:
    raw = workbook(HEADER, [datetime.combine(date(2026, 1, 2), time(13, 5)), "P-1", 1])

    with pytest.raises(InputError, match="holds the moment 2026-01-02 13:05:00"):
        grid_of_file("b.xlsx", raw)


def zip_bomb() -> bytes:
    made = BytesIO()
    with ZipFile(made, "w", ZIP_DEFLATED) as bomb:
        bomb.writestr("xl/worksheets/sheet1.xml", b"0" * (40 * 2**20))
    return made.getvalue()


def many_parts() -> bytes:
    made = BytesIO()
    with ZipFile(made, "w") as bomb:
        for number in range(300):
            bomb.writestr(f"xl/{number}.xml", b"<a/>")
    return made.getvalue()


def entity_bomb() -> bytes:
    entities = b"<!DOCTYPE a [<!ENTITY b 'ha'><!ENTITY c '&b;&b;&b;&b;&b;&b;'>]>"
    return with_part(
        workbook(HEADER),
        "xl/worksheets/sheet1.xml",
        lambda old: old.replace(b"<worksheet", entities + b"<worksheet", 1),
    )


def broken() -> bytes:
    return with_part(
        workbook(HEADER), "xl/worksheets/sheet1.xml", lambda _: b"<worksheet"
    )


BAD_SHEETS: Mapping[str, tuple[bytes, str]] = {
    "zip bomb": (zip_bomb(), "would unpack to 41943040 bytes"),
    "many parts": (many_parts(), "in 300 parts"),
    "entity bomb": (entity_bomb(), "defines entities"),
    "broken part": (broken(), "cannot be read as a workbook"),
    "zip in name only": (b"PK\x03\x04 and no more", "cannot be read as a workbook"),
    "cut off": (workbook(HEADER)[:-40], "cannot be read as a workbook"),
    "old workbook": (b"\xd0\xcf\x11\xe0" + bytes(600), "of an old sort"),
    "not UTF-8": ("Größe".encode("latin-1"), "is not UTF-8"),
    "long CSV": (b"a,b\n" * 2**21, "at most 4194304 are read"),
    "long workbook": (b"PK\x03\x04" * 2**21, "at most 4194304 are read"),
    "blank": (b" \n\n", "the sheet is empty"),
    "open quote": (b'a,"b\n1,2\n', "cannot be read as CSV"),
    "many rows": (b"a\n" * (MOST_ROWS + 1), "more than the 1000 rows"),
    "many columns": (b"a," * MOST_COLUMNS + b"a", "more than the 40 columns"),
    "many characters": (b"x" * 120_001, "more than the 120000 characters"),
}


@pytest.mark.parametrize("about", BAD_SHEETS)
def test_a_file_that_is_no_sheet_is_refused(
    about: str,
) -> None:
    raw, sentence = BAD_SHEETS[about]

    with pytest.raises(InputError) as refusal:
        grid_of_file("sheet.xlsx", raw)

    assert sentence in str(refusal.value)


@pytest.mark.parametrize(
    ("reference", "sentence"),
    [
        ("XFD1", "row 1 of the workbook has a cell in its column 16384"),
        ("A1002", "row"),
    ],
)
def test_a_cell_that_stands_far_out_is_refused_and_never_lost(
    reference: str, sentence: str
) -> None:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(HEADER)
    sheet[reference] = "x"
    raw = BytesIO()
    book.save(raw)

    with pytest.raises(InputError, match=sentence):
        grid_of_file("b.xlsx", raw.getvalue())


@given(st.binary(max_size=200))
def test_any_bytes_are_a_grid_or_refused(raw: bytes) -> None:
    for begin in (b"", b"PK\x03\x04"):
        try:
            grid = grid_of_file("sheet", begin + raw)
        except InputError:
            continue
        assert len({len(row) for row in grid}) == 1


@pytest.mark.parametrize("sort", SHEETS)
def test_name_header_and_choice_tell_the_sort(sort: str) -> None:
    full: list[list[str]] = [list(columns_of(sort))]

    assert sort_of(f"{sort}-2026-01.csv", [["x"]]) == sort
    assert sort_of("pasted cells", full) == sort
    assert sort_of("sales.csv", full, chosen=sort) == sort


def test_a_header_that_tells_nothing_is_refused() -> None:
    with pytest.raises(InputError, match="does not tell what the sheet holds"):
        sort_of("pasted cells", [["on"]])
    with pytest.raises(InputError, match="did you mean"):
        sort_of("pasted cells", [["on"]], chosen="payment")


def test_blank_rows_and_columns_at_the_end_are_cut_off() -> None:
    assert trimmed("s", [["a", "", ""], [], ["", "b", ""], ["", "", ""]]) == [
        ["a", ""],
        ["", ""],
        ["", "b"],
    ]
