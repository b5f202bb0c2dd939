"""Bringing the tables of a ledger up to the layout that this program uses."""

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, inspect

from ledger.store.engine import place_of
from ledger.store.revision import HEAD, OURS, check_known, not_ours

SCRIPTS = Path(__file__).parents[2] / "migrations"
"""Where the steps are; the wheel carries them beside this package."""


def upgrade(engine: Engine) -> tuple[str, ...]:
    """Bring a database up to the layout in use: all of it, or on an error nothing.

    Args:
        engine: From `ledger.store.engine.open_engine`.

    Returns:
        Revision and title of each step that was taken; none where it was up to date.

    Raises:
        ConflictError: The database is not a ledger, a newer program laid it out, or it
            is locked.
    """
    with engine.begin() as connection:
        tables = set(inspect(connection).get_table_names())
        if tables - {"alembic_version"} and not tables >= OURS:
            raise not_ours(place_of(engine))
        found = MigrationContext.configure(connection).get_current_heads()
        check_known(found, place_of(engine))
        config = config_for(connection)
        steps = ScriptDirectory.from_config(config).iterate_revisions(
            HEAD, found[0] if found else "base"
        )
        names = tuple(f"{step.revision} {step.doc}" for step in steps)
        if names:
            command.upgrade(config, HEAD)
    return names[::-1]


def config_for(connection: Connection) -> Config:
    """Return what alembic needs in order to work on an open connection."""
    config = Config()
    config.set_main_option("script_location", str(SCRIPTS).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config
