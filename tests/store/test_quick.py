"""Plain questions: answered fast, from any ledger in SQLite, without a trace."""

import shutil
import sqlite3
import subprocess
import sys
import tempfile
from contextlib import closing
from pathlib import Path

import pytest

from ledger.errors import ConflictError, NotFoundError
from ledger.store.engine import open_engine, rows_of
from ledger.store.entries import head, stream_raws
from ledger.store.quick import quick_rows
from tests.store.sample import append_next, chain, fill

SLOW = {"alembic", "networkx", "pydantic", "sqlalchemy"}
QUESTION = """
import sys
from datetime import date
from pathlib import Path

from ledger.books.effect import Book, Tally
from ledger.store.derived import derived_rows
from ledger.store.entries import frontier, head, stream_raws
from ledger.store.quick import quick_rows
from ledger.store.shelf import SqlShelf

with quick_rows(Path(sys.argv[1])) as rows:
    shelf = SqlShelf(rows)
    shelf.run(Tally.stock("L-1"), since=date(2026, 3, 2))
    shelf.tallies(Book.ACCOUNT)
    shelf.edges_into(["L-1"])
    shelf.effects(0)
    head(rows), frontier(rows), list(stream_raws(rows)), list(derived_rows(rows))
print(*sorted(sys.modules))
"""


@pytest.fixture
def filled(path: Path) -> Path:
    engine = open_engine(f"sqlite:///{path}")
    with engine.begin() as connection:
        fill(rows_of(connection), 5)
    engine.dispose()
    return path


def test_a_question_about_masses_loads_no_large_library(filled: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-c", QUESTION, filled],
        capture_output=True,
        check=True,
        text=True,
    )

    assert "ledger.store.shelf" in done.stdout.split()
    assert not SLOW.intersection(done.stdout.split())


def test_a_reader_changes_no_byte_of_the_file(filled: Path) -> None:
    before = filled.read_bytes()
    with quick_rows(filled) as rows:
        raws = list(stream_raws(rows))

    assert raws == [entry.raw for entry in chain(5)]
    assert filled.read_bytes() == before


@pytest.mark.parametrize(
    "sql", ["DELETE FROM slot", "DROP TABLE entry", "PRAGMA user_version = 7"]
)
def test_a_reader_cannot_write(filled: Path, sql: str) -> None:
    with quick_rows(filled) as rows, pytest.raises(ConflictError, match="written to"):
        rows(sql)


def test_a_reader_cannot_make_itself_a_writer(filled: Path) -> None:
    with quick_rows(filled) as rows:
        rows("PRAGMA query_only=OFF")
        with pytest.raises(ConflictError, match="written to"):
            rows("DELETE FROM slot")


def test_a_path_may_hold_any_character(filled: Path, tmp_path: Path) -> None:
    odd = tmp_path / "50% ü?#&mode=rw ledger.db"
    shutil.copy(filled, odd)

    with quick_rows(odd) as rows:
        assert head(rows)[0] == 5


@pytest.mark.parametrize("name", ["missing.db", "."])
def test_a_ledger_that_is_not_there_is_not_made(tmp_path: Path, name: str) -> None:
    with (
        pytest.raises(NotFoundError, match="there is no ledger at"),
        quick_rows(tmp_path / name),
    ):
        pass
    assert list(tmp_path.iterdir()) == []


def test_an_empty_file_is_no_ledger(tmp_path: Path) -> None:
    path = tmp_path / "empty.db"
    path.touch()

    with pytest.raises(ConflictError, match="not a ledger's"), quick_rows(path):
        pass


def relabel(path: Path, *labels: str) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("DELETE FROM alembic_version")
        for label in labels:
            connection.execute("INSERT INTO alembic_version VALUES (?)", [label])
        connection.commit()


@pytest.mark.parametrize("labels", [["ew9999"], ["ew0001", "ew9999"]])
def test_a_ledger_of_a_newer_program_is_not_read(
    filled: Path, labels: list[str]
) -> None:
    relabel(filled, *labels)

    with (
        pytest.raises(ConflictError, match="ew9999, which this program does not know"),
        quick_rows(filled),
    ):
        pass


def test_a_ledger_half_made_is_not_read(filled: Path) -> None:
    relabel(filled)

    with (
        pytest.raises(ConflictError, match="brings it up to date"),
        quick_rows(filled),
    ):
        pass


FROM_A_READ_ONLY_PLACE = """
import os, sys
from pathlib import Path
from ledger.store.entries import head
from ledger.store.quick import quick_rows

if os.geteuid() == 0:
    os.setuid(65534)  # to whom permissions apply
with quick_rows(Path(sys.argv[1])) as rows:
    print(head(rows)[0])
"""


def test_a_ledger_is_read_from_a_place_that_cannot_be_written_to(filled: Path) -> None:
    with tempfile.TemporaryDirectory() as place:
        copy = Path(place, "ledger.db")
        shutil.copy(filled, copy)
        copy.chmod(0o444)
        Path(place).chmod(0o555)
        done = subprocess.run(
            [sys.executable, "-c", FROM_A_READ_ONLY_PLACE, copy],
            capture_output=True,
            check=False,
            text=True,
        )
        Path(place).chmod(0o755)

    assert (done.stdout, done.stderr) == ("5\n", "")


def test_a_locked_ledger_is_said_to_be_locked(filled: Path) -> None:
    with closing(sqlite3.connect(filled, isolation_level=None)) as connection:
        connection.execute("PRAGMA locking_mode = EXCLUSIVE")
        connection.execute("BEGIN EXCLUSIVE")

        with (
            pytest.raises(ConflictError, match="locked by another program"),
            quick_rows(filled, wait_ms=50),
        ):
            pass


def test_what_is_written_later_is_read_by_the_next_reader(filled: Path) -> None:
    engine = open_engine(f"sqlite:///{filled}")
    with quick_rows(filled) as rows:
        assert head(rows)[0] == 5
        with engine.begin() as connection:
            append_next(rows_of(connection))

        assert head(rows)[0] == 5
    with quick_rows(filled) as rows:
        assert head(rows)[0] == 6
    engine.dispose()
