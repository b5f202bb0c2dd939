"""Checking a sheet cell by cell before it is recorded, and recording it all or nothing."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final

from ledger.books.finding import EntryRefusedError
from ledger.desk.folder import FileOutcome, record_files
from ledger.desk.foresee import Transaction, rehearse
from ledger.desk.foresight import Foresight
from ledger.errors import InputError, LedgerError
from ledger.intake.csv_file import read_csv
from ledger.intake.draft import Draft
from ledger.intake.grid import Grid, csv_of
from ledger.trade.sentence import BodyError

MOST_PROBLEMS: Final = 200
_NO_ENTRY: Final = "nothing stands under the header; add a row, or start over"
_MOST_UNREAD: Final = 50
"""Rows that may be unreadable before reading is given up."""


@dataclass(frozen=True, slots=True)
class CellProblem:
    """What is wrong with a cell.

    Attributes:
        row: Its row, the header being 1; 0 where it is the sheet as a whole.
        column: Its column by the header; empty where it is the row as a whole.
        sentence: What is wrong, and the way out.
    """

    row: int
    column: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Checked:
    """What came of checking a sheet; nothing of it is recorded.

    Attributes:
        entries: Entries that it would make.
        problems: What is wrong with it, in order of its cells.
        foresight: What recording it would do, where nothing is wrong.
    """

    entries: int = 0
    problems: tuple[CellProblem, ...] = ()
    foresight: Foresight = field(default_factory=Foresight)


def check_sheet(transaction: Transaction, sort: str, grid: Grid) -> Checked:
    """Check a sheet cell by cell, and tell what recording it would do.

    Args:
        transaction: Opens a transaction on the ledger, which is rolled back.
        sort: Which sort of sheet it is.
        grid: Its cells.
    """
    name = _name_of(sort)
    drafts, problems = _read(name, grid)
    steps = [(draft.kind, draft.occurred_on, draft.body) for draft in drafts]
    if not (drafts or problems):
        problems.append(CellProblem(0, "", _NO_ENTRY))
    found = rehearse(transaction, steps)
    are_all_read = not problems
    for place, error in found.refusals:
        # What the books say of the rest means little while rows are missing.
        if are_all_read or not isinstance(error, EntryRefusedError):
            problems += _problems_of(name, drafts[place], error)
    ordered = sorted(
        dict.fromkeys(problems), key=lambda one: (one.row, _place(grid, one.column))
    )
    return Checked(len(drafts), tuple(ordered[:MOST_PROBLEMS]), found.foresight)


def record_sheet(transaction: Transaction, sort: str, grid: Grid) -> FileOutcome:
    """Record a sheet, all or nothing, as if it came in a file.

    Args:
        transaction: Opens a transaction on the ledger.
        sort: Which sort of sheet it is.
        grid: Its cells.
    """
    [outcome] = record_files(transaction, [(_name_of(sort), csv_of(grid).encode())])
    return outcome


def _name_of(sort: str) -> str:
    return f"{sort}.csv"


def _read(name: str, grid: Grid) -> tuple[list[Draft], list[CellProblem]]:
    """Return what can be read, and what is wrong with the rows that cannot.

    The reader stops at the first row that it cannot read; so that a person sees every
    one at once, such a row is taken out and the rest is read again.
    """
    rows = [list(row) for row in grid]
    problems: list[CellProblem] = []
    for _ in range(_MOST_UNREAD):
        try:
            return list(read_csv(name, csv_of(rows))), problems
        except InputError as error:
            problem = _problem_in(name, str(error))
            problems.append(problem)
            if problem.row <= 1 or not any(rows[problem.row - 1]):
                break
            rows[problem.row - 1] = [""] * len(rows[problem.row - 1])
    return [], problems


def _problem_in(name: str, sentence: str) -> CellProblem:
    """Return a problem from a sentence of the reader, which begins with its place."""
    found = re.fullmatch(
        rf"{re.escape(name)}(?:, row (\d+)(?:, column ([^:]*))?)?: (.*)",
        sentence,
        re.DOTALL,
    )
    if found is None:
        return CellProblem(0, "", sentence)
    return CellProblem(int(found[1] or 0), found[2] or "", found[3])


def _problems_of(name: str, draft: Draft, error: LedgerError) -> Iterator[CellProblem]:
    if isinstance(error, BodyError):
        for problem in error.problems:
            yield _problem_at(name, draft.locate(problem.path), problem.sentence)
    elif isinstance(error, EntryRefusedError):
        for finding in error.findings:
            yield _problem_at(name, draft.locate(finding.field), finding.message)
    else:
        yield _problem_at(name, draft.where, str(error))


def _problem_at(name: str, place: str, sentence: str) -> CellProblem:
    return _problem_in(name, f"{place}: {sentence}")


def _place(grid: Grid, column: str) -> int:
    return grid[0].index(column) if column in grid[0] else -1
