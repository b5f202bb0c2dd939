"""Tables as CSV and JSON: exact, complete, harmless."""

import csv
from io import StringIO

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.reports.tables import Column, Table, csv_text, json_objects

COLUMNS = (
    Column("lot", "Lot"),
    Column("mass_kg", "Mass", is_figure=True, unit="kg"),
)


def table(*rows: tuple[str, str]) -> Table:
    return Table("Stock", COLUMNS, rows)


def read(text: str) -> list[list[str]]:
    return list(csv.reader(StringIO(text, newline="")))


def test_csv_has_one_heading_line_of_keys_with_their_unit() -> None:
    """RFC 4180, section 2: lines end in CRLF, the first holds the names."""
    text = csv_text(table(("L-1", "12.500")))

    assert text == "lot,mass_kg\r\nL-1,12.500\r\n"


def test_csv_quotes_commas_quotes_and_line_breaks() -> None:
    """RFC 4180, section 2, rules 6 and 7."""
    text = csv_text(table(('a "b", c\nd', "1.000")))

    assert text == 'lot,mass_kg\r\n"a ""b"", c\nd",1.000\r\n'


@pytest.mark.parametrize(
    "cell",
    [
        "=cmd|' /C calc'!A0",
        "+1+1",
        "-2+3",
        "@SUM(A1)",
        "\t=1",
        "\r=1",
        "\n=1",
        "\uff1d1+1",
    ],
)
def test_cell_that_starts_a_formula_is_taken_for_text(cell: str) -> None:
    """OWASP, "CSV Injection" (owasp.org/www-community/attacks/CSV_Injection).

    Also OWASP Application Security Verification Standard 5.0, requirement 1.2.10.
    """
    [[_, _], [written, _]] = read(csv_text(table((cell, "0.000"))))

    assert written == f"'{cell}"


@pytest.mark.parametrize("figure", ["-12.500", "+3", "0.000", "-0.001"])
def test_signed_figure_stays_a_figure(figure: str) -> None:
    [_, [_, written]] = read(csv_text(table(("L-1", figure))))

    assert written == figure


@pytest.mark.parametrize("cell", ["-1.5.2", "-", "+41 44 000 00 00", "-\u0661", "-1e5"])
def test_what_only_looks_like_a_figure_is_text(cell: str) -> None:
    [_, [written, _]] = read(csv_text(table((cell, "0.000"))))

    assert written == f"'{cell}"


# A lone surrogate is no text, and RFC 4180 has no way to write NUL.
CELLS = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"))


@given(st.lists(st.tuples(CELLS, CELLS)))
def test_csv_reads_back_as_written_but_for_the_apostrophe(
    rows: list[tuple[str, str]],
) -> None:
    _, *written = read(csv_text(table(*rows)))

    assert [[cell.removeprefix("'") for cell in row] for row in written] == [
        [cell.removeprefix("'") for cell in row] for row in rows
    ]


def test_json_keeps_figures_as_text() -> None:
    objects = json_objects(table(("L-1", "0.100")))

    assert objects == [{"lot": "L-1", "mass_kg": "0.100"}]


def test_row_of_another_length_is_refused() -> None:
    with pytest.raises(ValueError, match="shorter"):
        json_objects(Table("Stock", COLUMNS, [("L-1",)]))


def test_label_carries_the_unit() -> None:
    assert [column.label for column in COLUMNS] == ["Lot", "Mass, kg"]
