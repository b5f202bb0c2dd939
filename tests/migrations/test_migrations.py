import sqlite3
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from alembic import command
from alembic.script import ScriptDirectory
from sqlalchemy import Engine, inspect

from ledger.errors import ConflictError, RefusedError
from ledger.store import people_schema, schema
from ledger.store.engine import open_engine, rows_of
from ledger.store.migration import config_for, upgrade
from ledger.store.quick import quick_rows
from ledger.store.revision import HEAD, REVISIONS
from tests.store.sample import fill


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "50% ledger.db"


@pytest.fixture
def engine(path: Path) -> Iterator[Engine]:
    """A file that does not exist yet."""
    engine = open_engine(f"sqlite:///{path}")
    yield engine
    engine.dispose()


def tables(engine: Engine) -> set[str]:
    with engine.begin() as connection:
        return set(inspect(connection).get_table_names())


def test_a_new_ledger_is_laid_out_step_by_step(engine: Engine) -> None:
    taken = upgrade(engine)

    assert [step.split()[0] for step in taken] == list(REVISIONS)
    assert tables(engine) == {
        "alembic_version",
        *schema.metadata.tables,
        *people_schema.metadata.tables,
    }


def test_a_ledger_up_to_date_takes_no_step(engine: Engine) -> None:
    upgrade(engine)

    assert upgrade(engine) == ()


def test_the_head_is_that_of_the_steps(engine: Engine) -> None:
    with engine.begin() as connection:
        scripts = ScriptDirectory.from_config(config_for(connection))

    assert scripts.get_heads() == [HEAD]
    steps = [step.revision for step in scripts.walk_revisions()]
    assert steps[::-1] == list(REVISIONS)


def test_tables_and_steps_agree(engine: Engine) -> None:
    upgrade(engine)

    with engine.begin() as connection:
        command.check(config_for(connection))


def test_every_step_can_be_undone_and_taken_again(engine: Engine) -> None:
    upgrade(engine)
    with engine.begin() as connection:
        made = connection.exec_driver_sql("SELECT sql FROM sqlite_master").fetchall()
        command.downgrade(config_for(connection), "base")

    assert tables(engine) == {"alembic_version"}
    upgrade(engine)
    with engine.begin() as connection:
        again = connection.exec_driver_sql("SELECT sql FROM sqlite_master").fetchall()
    assert set(again) == set(made)


def test_a_ledger_with_entries_is_not_undone(engine: Engine, path: Path) -> None:
    upgrade(engine)
    with engine.begin() as connection:
        fill(rows_of(connection), 3)

    with (
        pytest.raises(RefusedError, match="the ledger holds entries"),
        engine.begin() as connection,
    ):
        command.downgrade(config_for(connection), "base")
    with quick_rows(path) as rows:
        assert rows("SELECT COUNT(*) FROM entry") == [(3,)]


def test_a_step_that_fails_leaves_nothing(engine: Engine) -> None:
    def upgrade_and_fail() -> None:
        with engine.begin() as connection:
            command.upgrade(config_for(connection), HEAD)
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        upgrade_and_fail()

    assert tables(engine) == set()


def test_a_ledger_of_a_newer_program_is_left_alone(engine: Engine, path: Path) -> None:
    upgrade(engine)
    engine.dispose()
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = 'ew9999'")
        connection.commit()
    before = path.read_bytes()

    with pytest.raises(ConflictError, match="ew9999, which this program does not know"):
        upgrade(engine)
    engine.dispose()
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    "tables",
    [["recipe"], ["entry"], ["alembic_version", "recipe"]],
)
def test_a_database_of_another_program_is_not_laid_out(
    engine: Engine, path: Path, tables: list[str]
) -> None:
    with closing(sqlite3.connect(path)) as connection:
        for table in tables:
            connection.execute(f"CREATE TABLE {table} (name TEXT)")
        connection.commit()
    before = path.read_bytes()

    with pytest.raises(ConflictError, match="tables that are not a ledger's"):
        upgrade(engine)
    engine.dispose()
    assert path.read_bytes() == before


def test_the_installed_package_carries_its_steps(tmp_path: Path) -> None:
    """The command brings a ledger up to date wherever it is installed."""
    root = Path(__file__).parents[2]
    source = tmp_path / "source"
    source.mkdir()
    for name in ("pyproject.toml", "LICENSE", "README.md", "ledger", "migrations"):
        if (root / name).exists():
            (source / name).symlink_to(root / name)
        else:
            (source / name).touch()
    build = "import setuptools.build_meta as b, sys; print(b.build_wheel(sys.argv[1]))"
    subprocess.run(
        [sys.executable, "-c", build, tmp_path],
        check=True,
        cwd=source,
        capture_output=True,
    )
    [wheel] = tmp_path.glob("*.whl")

    assert {
        "migrations/env.py",
        "migrations/script.py.mako",
        "migrations/versions/0001_entries.py",
        "ledger/store/migration.py",
    } <= set(zipfile.ZipFile(wheel).namelist())
