"""Databases for the store: real files, and a real server where one can be started."""

import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path

import pytest
from sqlalchemy import Engine, create_engine, text

from ledger.store.engine import open_engine, rows_of
from ledger.store.migration import upgrade
from ledger.store.rows import Rows

SERVER = Path("/usr/lib/postgresql/15/bin")

NewDatabase = Callable[[], str]
"""Makes a database with the tables of a ledger and nothing in them."""


@pytest.fixture(scope="session")
def new_sqlite(tmp_path_factory: pytest.TempPathFactory) -> NewDatabase:
    directory = tmp_path_factory.mktemp("store")
    template = directory / "template.db"
    engine = open_engine(f"sqlite:///{template}")
    upgrade(engine)
    engine.dispose()
    numbers = count()

    def new() -> str:
        path = directory / f"ledger-{next(numbers)}.db"
        shutil.copy(template, path)
        return f"sqlite:///{path}"

    return new


@pytest.fixture(scope="session")
def new_postgresql() -> Iterator[NewDatabase]:
    pytest.importorskip("psycopg", reason="the driver of PostgreSQL is not installed")
    if not (SERVER / "initdb").exists():
        pytest.skip("the PostgreSQL server is not installed")
    # The server must not run as root, nor reach into root's own directories.
    user = ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []
    directory = Path(tempfile.mkdtemp(prefix="store-"))
    if user:
        shutil.chown(directory, "postgres")
    cluster = directory / "cluster"

    def server(program: str, *arguments: str) -> None:
        subprocess.run(
            [*user, SERVER / program, "-D", cluster, *arguments],
            check=True,
            cwd=directory,
            stdout=subprocess.DEVNULL,
        )

    server("initdb", "--no-sync", "-A", "trust", "-E", "UTF8", "-U", "owner",
           "--locale=C.UTF-8")  # fmt: skip
    server("pg_ctl", "-w", "-l", str(directory / "log"), "start", "-o",
           f"-F -k {directory} -c listen_addresses=''")  # fmt: skip
    base = f"postgresql+psycopg://owner@/{{}}?host={directory}"
    admin = create_engine(base.format("postgres"), isolation_level="AUTOCOMMIT")
    numbers = count()

    def create(name: str, template: str) -> str:
        with admin.connect() as connection:
            connection.execute(text(f"CREATE DATABASE {name} TEMPLATE {template}"))
        return base.format(name)

    engine = open_engine(create("ledger", "template1"))
    upgrade(engine)
    engine.dispose()
    yield lambda: create(f"ledger_{next(numbers)}", "ledger")
    admin.dispose()
    server("pg_ctl", "-w", "-m", "immediate", "stop")
    shutil.rmtree(directory)


@pytest.fixture(scope="session", params=["sqlite", "postgresql"])
def new_database(request: pytest.FixtureRequest) -> NewDatabase:
    new: NewDatabase = request.getfixturevalue(f"new_{request.param}")
    return new


@pytest.fixture
def url(new_database: NewDatabase) -> str:
    """A ledger without entries."""
    return new_database()


@pytest.fixture
def path(new_sqlite: NewDatabase) -> Path:
    """A ledger in SQLite, as a file."""
    return Path(new_sqlite().removeprefix("sqlite:///"))


@pytest.fixture
def engine(url: str) -> Iterator[Engine]:
    engine = open_engine(url)
    yield engine
    engine.dispose()


@pytest.fixture(scope="session")
def untouched(new_database: NewDatabase) -> Iterator[Engine]:
    """A ledger in which no test leaves anything."""
    engine = open_engine(new_database())
    yield engine
    engine.dispose()


@pytest.fixture
def write(untouched: Engine) -> Iterator[Rows]:
    """A transaction in a ledger without entries, rolled back at the end."""
    with untouched.connect() as connection, connection.begin() as transaction:
        yield rows_of(connection)
        transaction.rollback()
