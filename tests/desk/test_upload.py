"""A sheet is checked cell by cell, and recorded whole or not at all."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from ledger.desk.upload import CellProblem, check_sheet, record_sheet
from ledger.errors import InputError
from ledger.intake.grid import Grid
from ledger.intake.sheet import grid_of_file, sort_of
from ledger.store.entries import head
from tests.desk.small_ledger import opened
from tests.desk.test_foresee import Desk
from tests.intake.bad_files import BAD_FILES, BadFile

PAYMENTS: Grid = [
    ["on", "payment", "contract", "payee", "towards", "amount", "currency", "document"],
    ["2026-06-01", "PAY-2", "C-1", "coop", "premium", "100.00", "USD", "bank 2"],
    ["2026-06-02", "PAY-3", "C-1", "coop", "price", "20.00", "USD", "bank 3"],
]


@pytest.fixture
def desk(ledger: Path) -> Iterator[Desk]:
    made = Desk(ledger)
    yield made
    made.engine.dispose()


def changed(row: int, **cells: str) -> Grid:
    """Return the payments with some cells changed."""
    grid = [list(one) for one in PAYMENTS]
    for column, text in cells.items():
        grid[row - 1][grid[0].index(column)] = text
    return grid


def size(desk: Desk) -> int:
    with opened(desk.path) as rows:
        return head(rows)[0]


def spots(problems: tuple[CellProblem, ...]) -> list[tuple[int, str]]:
    return [(one.row, one.column) for one in problems]


def test_a_good_sheet_is_foreseen_and_recorded(desk: Desk) -> None:
    before = size(desk)

    checked = check_sheet(desk.transaction, "payments", PAYMENTS)
    assert (checked.entries, checked.problems) == (2, ())
    assert {one.what for one in checked.foresight.dues} == {"premium", "price"}
    assert size(desk) == before

    outcome = record_sheet(desk.transaction, "payments", PAYMENTS)
    assert (outcome.entries, outcome.refusal) == (2, None)
    assert size(desk) == before + 2


@pytest.mark.parametrize(
    ("row", "cells", "found"),
    [
        (2, {"amount": "1,5"}, [(2, "amount")]),
        (3, {"on": "2026-02-30"}, [(3, "on")]),
        (3, {"contract": "C-9"}, [(3, "contract")]),
        (3, {"payment": "PAY-2"}, [(3, "payment")]),
        (2, {"towards": "=1+1"}, [(2, "towards")]),
        (2, {"amount": "x", "payee": "a b", "on": "soon"}, [(2, "on")]),
        (1, {"payee": "whom"}, [(1, "")]),
        (1, {"on": ""}, [(1, "")]),
    ],
)
def test_each_bad_cell_is_named_and_nothing_is_recorded(
    desk: Desk, row: int, cells: dict[str, str], found: list[tuple[int, str]]
) -> None:
    before, grid = size(desk), changed(row, **cells)

    checked = check_sheet(desk.transaction, "payments", grid)
    outcome = record_sheet(desk.transaction, "payments", grid)

    assert spots(checked.problems)[: len(found)] == found
    assert outcome.refusal is not None
    assert size(desk) == before


def test_every_bad_row_is_named_at_once(desk: Desk) -> None:
    grid = changed(2, amount="1,5", currency="dollars")
    grid[2][0] = "yesterday"
    grid.append([*PAYMENTS[1][:3], "coop", "=cmd", "1.00", "USD", "bank"])

    checked = check_sheet(desk.transaction, "payments", grid)

    assert spots(checked.problems) == [
        (2, "amount"),
        (2, "currency"),
        (3, "on"),
        (4, "towards"),
    ]


def test_what_the_books_refuse_of_one_row_leaves_the_others_judged(desk: Desk) -> None:
    grid = changed(2, contract="C-9")
    grid[2][6] = "EUR"

    checked = check_sheet(desk.transaction, "payments", grid)

    assert [one.row for one in checked.problems] == [2, 3]
    assert "contract C-9, which is not recorded" in checked.problems[0].sentence
    assert "contract C-1 is in USD" in checked.problems[1].sentence


@pytest.mark.parametrize(
    "bad",
    [bad for bad in BAD_FILES if bad.name.endswith(".csv")],
    ids=lambda bad: bad.about,
)
def test_every_bad_file_of_the_reader_gets_a_place_and_a_sentence(
    desk: Desk, bad: BadFile
) -> None:
    try:
        grid = grid_of_file(bad.name, bad.raw)
        sort = sort_of(bad.name, grid)
    except InputError:
        return  # told on the form, before there are cells
    checked = check_sheet(desk.transaction, sort, grid)

    assert checked.problems
    assert all(0 <= one.row <= len(grid) for one in checked.problems)
