"""A sheet pasted or uploaded: checked cell by cell, corrected in place, then recorded."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from starlette.responses import Response

from ledger.desk.upload import CellProblem, Checked, check_sheet, record_sheet
from ledger.errors import InputError, LedgerError
from ledger.intake.columns import SHEETS
from ledger.intake.grid import Grid, csv_of, grid_of_text, trimmed
from ledger.intake.sheet import columns_of, grid_of_file, sort_of
from ledger.intake.text import LARGEST_FILE
from ledger.reports.phrases import told
from ledger.reports.tables import Column, Table, csv_text
from ledger.web.access import MAKER
from ledger.web.asked import Asked
from ledger.web.door import status_of
from ledger.web.foretold import Foretold, foretold
from ledger.web.page import Page
from ledger.web.report import download

MOST_EDITED: Final = 800
"""Cells that stand in fields at once; of a longer sheet, only rows with problems do."""
_PASTED: Final = "pasted cells"
_LONGEST_UPLOAD: Final = LARGEST_FILE + 512 * 1024
_LONGEST_CHECK: Final = 2 * 1024 * 1024
_ALL_RIGHT: Final = 200
_WRONG: Final = 422


@dataclass(frozen=True, slots=True)
class _Row:
    """A row that is shown in fields.

    Attributes:
        number: Its number, the header being 1.
        cells: Its cells.
        wrong: What is wrong with it, by column; empty for the row as a whole.
    """

    number: int
    cells: list[str]
    wrong: Mapping[str, list[str]]


def show_upload(asked: Asked, error: LedgerError | None = None) -> Response:
    """Show the form for a file or for pasted cells."""
    return asked.page(
        "upload.html",
        status=status_of(error) if error else 200,
        sentence=str(error or ""),
        sorts={sort: (sheet.kind, columns_of(sort)) for sort, sheet in SHEETS.items()},
        chosen=asked.text("sort"),
        pasted=asked.secret("pasted"),
        largest=LARGEST_FILE // 2**20,
    )


def take(asked: Asked) -> Response:
    """Read what was sent and show it checked."""
    try:
        name, grid = _sent(asked)
        sort = sort_of(name, grid, asked.text("sort"))
    except LedgerError as error:
        return show_upload(asked, error)
    return _show_checked(asked, sort, grid)


def _sent(asked: Asked) -> tuple[str, Grid]:
    """Return name and cells of what was sent.

    Raises:
        InputError: Nothing was, or it cannot be read.
    """
    for one in asked.uploads("sheet"):
        name = one.filename or ""
        return name, grid_of_file(name, one.file.read(LARGEST_FILE + 1))
    pasted = asked.secret("pasted")
    if not pasted.strip():
        raise InputError(
            "nothing was sent; choose a file, or paste the cells with their header"
        )
    return _PASTED, grid_of_text(_PASTED, pasted)


def check_again(asked: Asked) -> Response:
    """Take cells that were corrected and show the sheet checked again."""
    try:
        sort, grid = _corrected(asked)
    except LedgerError as error:
        return show_upload(asked, error)
    return _show_checked(asked, sort, grid)


def record_all(asked: Asked) -> Response:
    """Record the sheet, all or nothing; what is refused is shown in its cells."""
    try:
        sort, grid = _corrected(asked)
    except LedgerError as error:
        return show_upload(asked, error)
    outcome = record_sheet(asked.writing, sort, grid)
    if outcome.refusal is not None:
        return _show_checked(asked, sort, grid, refusal=outcome.refusal)
    says = asked.tongue.says
    warned = [f"! {says(noted.finding.message)}." for noted in outcome.warnings]
    first = told(says("Entries recorded: {1}."), str(outcome.entries))
    return asked.away("/upload", said=" ".join([first, *warned]))


def _corrected(asked: Asked) -> tuple[str, Grid]:
    """Return the sheet of a form, with the cells that were corrected in place.

    Raises:
        InputError: It cannot be read as a sheet any more.
    """
    grid = grid_of_text(_PASTED, asked.secret("whole"))
    for name, value in asked.form.multi_items():
        place = name.split(".")
        if isinstance(value, str) and place[0] == "cell" and name.count(".") == 2:  # noqa: PLR2004 - cell, row and column
            _put(grid, place[1], place[2], value)
    grid = trimmed(_PASTED, grid)
    return sort_of(_PASTED, grid, asked.text("sort")), grid


def _put(grid: Grid, row: str, column: str, value: str) -> None:
    if row.isdecimal() and column.isdecimal():
        at, across = int(row) - 1, int(column)
        if 0 <= at < len(grid) and across < len(grid[at]):
            grid[at][across] = value.strip()


def _show_checked(
    asked: Asked, sort: str, grid: Grid, *, refusal: LedgerError | None = None
) -> Response:
    checked = check_sheet(asked.writing, sort, grid)
    is_wrong = bool(checked.problems or refusal)
    rows = list(_rows_shown(grid, checked))
    return asked.page(
        "upload_check.html",
        status=_WRONG if is_wrong else _ALL_RIGHT,
        sort=sort,
        kind=SHEETS[sort].kind,
        whole=csv_of(grid),
        header=grid[0],
        rows=rows,
        left_out=len(grid) - 1 - sum(row.number > 1 for row in rows),
        checked=checked,
        whole_wrong=[one.sentence for one in checked.problems if one.row == 0],
        refusal=str(refusal or "") if not checked.problems else "",
        foretold=_foretold(asked, checked),
    )


def _foretold(asked: Asked, checked: Checked) -> Foretold | None:
    if checked.problems:
        return None
    return foretold(checked.foresight, asked.tongue)


def _rows_shown(grid: Grid, checked: Checked) -> Iterator[_Row]:
    """Yield the rows that are shown in fields: all, or those with problems."""
    wrong: dict[int, list[CellProblem]] = {}
    for problem in checked.problems:
        wrong.setdefault(problem.row, []).append(problem)
    in_all = len(grid) * len(grid[0]) <= MOST_EDITED
    shown = 0
    for number, cells in enumerate(grid, start=1):
        if not (in_all or number in wrong or number == 1):
            continue
        shown += len(cells)
        if shown > MOST_EDITED:
            return
        by_column: dict[str, list[str]] = {}
        for problem in wrong.get(number, ()):
            column = problem.column if problem.column in grid[0] else ""
            by_column.setdefault(column, []).append(problem.sentence)
        yield _Row(number, cells, by_column)


def empty_sheet(asked: Asked) -> Response:
    """Answer with a sheet that has a header and nothing else."""
    sort = asked.part("sort")
    columns = tuple(Column(name, name) for name in columns_of(sort))
    raw = csv_text(Table(sort, columns, ())).encode()
    return download(raw, f"{sort}.csv", "text/csv; charset=utf-8")


PAGES: Final = (
    Page("GET", "/upload", show_upload, MAKER, menu="Upload"),
    Page("POST", "/upload", take, MAKER, longest=_LONGEST_UPLOAD),
    Page("POST", "/upload/check", check_again, MAKER, longest=_LONGEST_CHECK),
    Page("POST", "/upload/record", record_all, MAKER, longest=_LONGEST_CHECK),
    Page("GET", "/upload/empty/{sort}", empty_sheet, MAKER),
)
