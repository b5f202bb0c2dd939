"""Both databases are laid out as the tables are declared."""

import pytest
from alembic import command
from sqlalchemy import Engine, inspect

from ledger.errors import ConflictError
from ledger.store import people_schema, schema
from ledger.store.engine import open_engine, reading, rows_of
from ledger.store.entries import append
from ledger.store.migration import config_for, upgrade
from ledger.store.revision import REVISIONS
from tests.store.sample import chain


def test_tables_and_steps_agree(engine: Engine) -> None:
    with engine.begin() as connection:
        command.check(config_for(connection))


def test_the_layout_can_be_undone_and_made_again(engine: Engine) -> None:
    with engine.begin() as connection:
        command.downgrade(config_for(connection), "base")
        left = inspect(connection).get_table_names()
    taken = upgrade(engine)

    assert left == ["alembic_version"]
    assert len(taken) == len(REVISIONS)
    with engine.begin() as connection:
        assert set(inspect(connection).get_table_names()) == {
            "alembic_version",
            *schema.metadata.tables,
            *people_schema.metadata.tables,
        }
        append(rows_of(connection), chain(1)[0].raw)


def test_a_database_without_a_ledger_is_not_read(url: str) -> None:
    engine = open_engine(url)
    with engine.begin() as connection:
        command.downgrade(config_for(connection), "base")
        rows_of(connection)("DROP TABLE alembic_version")
    engine.dispose()

    with pytest.raises(ConflictError, match="holds no ledger"), reading(url):
        pass


def test_a_layout_in_use_is_left_as_it_is(engine: Engine) -> None:
    assert upgrade(engine) == ()
