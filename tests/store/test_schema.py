"""What the database itself refuses, whoever asks."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing

import pytest
from sqlalchemy import CheckConstraint, Engine, ForeignKeyConstraint, text
from sqlalchemy.exc import DBAPIError

from ledger.books.effect import Effects
from ledger.books.opening import open_entry
from ledger.chain.entry import parse_entry
from ledger.errors import ConflictError, LedgerError, RefusedError
from ledger.store.derived import DERIVED
from ledger.store.engine import open_engine, rows_of
from ledger.store.entries import append, stream_raws
from ledger.store.schema import metadata
from ledger.store.shelf import SqlShelf
from tests.store.conftest import NewDatabase
from tests.store.sample import chain, fill

LENGTH = 4

# A blob of 32 bytes in each dialect, given the byte.
BLOB = {"sqlite": "x'{}'", "postgresql": "'\\x{}'::bytea"}

TAMPERING = {
    "update": "UPDATE entry SET raw = {new} WHERE seq = 2",
    "update of the number": "UPDATE entry SET seq = 9 WHERE seq = 3",
    "update of nothing": "UPDATE entry SET raw = raw",
    "delete": "DELETE FROM entry WHERE seq = 3",
    "delete of all": "DELETE FROM entry",
    "upsert": "INSERT INTO entry VALUES (2, {new}, {new}) "
    "ON CONFLICT (seq) DO UPDATE SET raw = excluded.raw",
    "upsert by leaf": "INSERT INTO entry VALUES (4, {old}, {new}) "
    "ON CONFLICT (leaf) DO UPDATE SET raw = excluded.raw",
    "gap": "INSERT INTO entry VALUES (5, {new}, {new})",
    "repeat": "INSERT INTO entry VALUES (3, {new}, {new})",
    "first again": "INSERT INTO entry VALUES (0, {new}, {new})",
    "below zero": "INSERT INTO entry VALUES (-1, {new}, {new})",
    "no number": "INSERT INTO entry (leaf, raw) VALUES ({new}, {new})",
    "same leaf": "INSERT INTO entry VALUES (4, {old}, {new})",
    "two at once with a gap": "INSERT INTO entry VALUES (4, {new}, {new}), "
    "(6, {old}, {new})",
}
REPLACING = {
    "replace by number": "INSERT OR REPLACE INTO entry VALUES (2, {new}, {new})",
    "replace by last number": "INSERT OR REPLACE INTO entry VALUES (3, {new}, {new})",
    "replace by leaf": "INSERT OR REPLACE INTO entry VALUES (4, {old}, {new})",
    "replace": "REPLACE INTO entry VALUES (3, {new}, {new})",
    "update or replace": "UPDATE OR REPLACE entry SET seq = 2 WHERE seq = 3",
}
EMPTYING = {
    "truncate": "TRUNCATE entry",
    "truncate with what refers to it": "TRUNCATE entry CASCADE",
    "as a replica": "SET session_replication_role = replica; DELETE FROM entry",
    "as a replica, numbers": "SET session_replication_role = replica; "
    "INSERT INTO entry VALUES (9, {new}, {new})",
    "as a replica, truncate": "SET session_replication_role = replica; "
    "TRUNCATE entry CASCADE",
}


def spelled(sql: str, dialect: str, old: bytes) -> str:
    blob = BLOB[dialect]
    return sql.format(new=blob.format("ab" * 32), old=blob.format(old.hex()))


@pytest.fixture(scope="module")
def filled(new_database: NewDatabase) -> Iterator[Engine]:
    """A ledger with entries, which every test leaves as they are."""
    engine = open_engine(new_database())
    with engine.begin() as connection:
        fill(rows_of(connection), LENGTH)
    yield engine
    engine.dispose()


def stored(engine: Engine) -> list[bytes]:
    with engine.connect() as connection:
        return list(stream_raws(rows_of(connection)))


@pytest.mark.parametrize("act", TAMPERING)
def test_no_statement_changes_what_was_recorded(filled: Engine, act: str) -> None:
    sql = spelled(TAMPERING[act], filled.dialect.name, chain(LENGTH)[2].leaf)

    with pytest.raises(LedgerError), filled.begin() as connection:
        connection.execute(text(sql.replace(":", r"\:")))
    assert stored(filled) == [entry.raw for entry in chain(LENGTH)]


@pytest.mark.parametrize("act", TAMPERING | REPLACING)
def test_no_other_program_changes_what_was_recorded(
    new_sqlite: NewDatabase, act: str
) -> None:
    """The triggers hold on a connection that this program did not prepare."""
    url = new_sqlite()
    engine = open_engine(url)
    with engine.begin() as connection:
        fill(rows_of(connection), LENGTH)
    engine.dispose()
    sql = spelled((TAMPERING | REPLACING)[act], "sqlite", chain(LENGTH)[2].leaf)

    with closing(sqlite3.connect(url.removeprefix("sqlite:///"))) as connection:
        with pytest.raises(sqlite3.IntegrityError):
            connection.execute(sql)
        connection.commit()
        assert connection.execute("SELECT raw FROM entry ORDER BY seq").fetchall() == [
            (entry.raw,) for entry in chain(LENGTH)
        ]


@pytest.mark.parametrize("act", EMPTYING)
def test_not_even_a_table_owner_empties_the_record(
    new_postgresql: NewDatabase, act: str
) -> None:
    """Short of taking the triggers away, which no trigger can forbid."""
    engine = open_engine(new_postgresql())
    with engine.begin() as connection:
        fill(rows_of(connection), LENGTH)
    sql = spelled(EMPTYING[act], "postgresql", b"")

    with pytest.raises((LedgerError, DBAPIError)), engine.begin() as connection:
        connection.exec_driver_sql(sql)
    kept = stored(engine)
    engine.dispose()
    assert kept == [entry.raw for entry in chain(LENGTH)]


@pytest.mark.parametrize(
    ("sql", "kind", "sentence"),
    [
        ("DELETE FROM entry", RefusedError, "record a correction instead"),
        ("INSERT INTO entry VALUES (7, {new}, {new})", ConflictError, "not the next"),
        ("INSERT INTO entry VALUES (4, {old}, {new})", ConflictError, "already holds"),
        ("UPDATE disclosure SET text = 'x'", RefusedError, "can only be deleted"),
    ],
)
def test_a_refusal_says_what_to_do(
    filled: Engine, sql: str, kind: type[LedgerError], sentence: str
) -> None:
    sql = spelled(sql, filled.dialect.name, chain(LENGTH)[2].leaf)

    with pytest.raises(kind, match=sentence), filled.begin() as connection:
        connection.exec_driver_sql(sql)


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE disclosure SET text = 'x'",
        "UPDATE disclosure SET seq = 2",
        "INSERT INTO disclosure SELECT digest, seq, 'x' FROM disclosure",
        (
            "INSERT INTO disclosure SELECT digest, seq, 'x' FROM disclosure "
            "WHERE seq = 1 ON CONFLICT (digest) DO UPDATE SET text = excluded.text"
        ),
    ],
)
def test_a_disclosure_is_never_changed(filled: Engine, sql: str) -> None:
    with pytest.raises(RefusedError), filled.begin() as connection:
        connection.exec_driver_sql(sql)


def test_a_disclosure_is_not_replaced_by_another_program(
    new_sqlite: NewDatabase,
) -> None:
    url = new_sqlite()
    engine = open_engine(url)
    with engine.begin() as connection:
        fill(rows_of(connection), LENGTH)
    engine.dispose()

    replacing = "REPLACE INTO disclosure SELECT digest, seq, 'x' FROM disclosure"
    with (
        closing(sqlite3.connect(url.removeprefix("sqlite:///"))) as connection,
        pytest.raises(sqlite3.IntegrityError, match="disclosure_unchangeable"),
    ):
        connection.execute(replacing)


CHECKS = {
    "ck_entry_seq_range": "INSERT INTO entry VALUES (-1, {leaf}, {leaf})",
    "ck_entry_leaf_length": "INSERT INTO entry VALUES (4, {short}, {leaf})",
    "ck_entry_raw_filled": "INSERT INTO entry VALUES (4, {leaf}, {empty})",
    "ck_disclosure_digest_length": "INSERT INTO disclosure VALUES ('AAA', 0, 'x')",
    "ck_disclosure_text_filled": "INSERT INTO disclosure VALUES ('{digest}', 0, '')",
    "ck_slot_seq_from_slot": "INSERT INTO slot VALUES (2, 1, 'k', '2026-03-02')",
    "ck_slot_occurred_on_length": "INSERT INTO slot VALUES (1, 1, 'k', '2026-3-2')",
    "ck_introduced_line_range": "INSERT INTO introduced VALUES ('lot', 'x', 0, -1)",
    "ck_mention_line_range": "INSERT INTO mention VALUES ('lot', 'x', 0, -1, 'k')",
    "ck_posting_line_range": "INSERT INTO posting "
    "VALUES ('stock', 'L', '2026-03-02', 0, -1, 5, 'made')",
    "ck_posting_day_length": "INSERT INTO posting "
    "VALUES ('stock', 'L', '2026-3-2', 0, 0, 5, 'made')",
    "ck_tally_day_day_length": "INSERT INTO tally_day VALUES ('stock', 'L', '', 5)",
    "ck_edge_line_range": "INSERT INTO edge VALUES ('a', 0, -1, 'b', 5)",
    "ck_edge_grams_range": "INSERT INTO edge VALUES ('a', 0, 0, 'b', -5)",
    "ck_tree_head_place_zero": "INSERT INTO tree_head VALUES (1, 0, {empty})",
    "ck_tree_head_size_range": "INSERT INTO tree_head VALUES (0, -1, {empty})",
    "ck_tree_head_frontier_whole": "INSERT INTO tree_head VALUES (0, 1, {short})",
}
FOREIGN_KEYS = {
    "disclosure": "INSERT INTO disclosure "
    "VALUES ('0123456789012345678901234567890123456789012', 9, 'x')",
    "slot": "INSERT INTO slot VALUES (9, 9, 'k', '2026-03-02')",
    "introduced": "INSERT INTO introduced VALUES ('lot', 'x', 3, 0)",
    "mention": "INSERT INTO mention VALUES ('lot', 'x', 3, 0, 'k')",
    "posting": "INSERT INTO posting "
    "VALUES ('stock', 'L', '2026-03-02', 3, 0, 5, 'made')",
    "edge": "INSERT INTO edge VALUES ('a', 3, 0, 'b', 5)",
}


@pytest.fixture(scope="module")
def started(filled: Engine) -> Engine:
    """Entries, of which the first counts."""
    with filled.begin() as connection:
        rows = rows_of(connection)
        first = parse_entry(chain(1)[0].raw)
        SqlShelf(rows).put(open_entry(first, ()), Effects())
        rows("DELETE FROM tree_head")
    return filled


def test_every_check_of_the_schema_is_tried_here() -> None:
    named = {
        str(constraint.name)
        for table in metadata.tables.values()
        for constraint in table.constraints
        if isinstance(constraint, CheckConstraint)
    }

    assert CHECKS.keys() == named


def test_every_reference_of_the_schema_is_tried_here() -> None:
    referring = {
        table.name
        for table in metadata.tables.values()
        for constraint in table.constraints
        if isinstance(constraint, ForeignKeyConstraint)
    }

    assert FOREIGN_KEYS.keys() == referring


@pytest.mark.parametrize("check", CHECKS)
def test_every_check_is_made_by_the_database(started: Engine, check: str) -> None:
    blob = BLOB[started.dialect.name]
    sql = CHECKS[check].format(
        leaf=blob.format("ab" * 32),
        short=blob.format("ab"),
        empty=blob.format(""),
        digest="A" * 43,
    )
    # The number of an entry is refused by a trigger before the check is made.
    name = "entry_seq_not_next" if check == "ck_entry_seq_range" else check

    with pytest.raises(LedgerError) as caught, started.begin() as connection:
        connection.exec_driver_sql(sql)

    assert name in str(caught.value.__cause__)


@pytest.mark.parametrize("table", FOREIGN_KEYS)
def test_every_reference_is_kept_by_the_database(started: Engine, table: str) -> None:
    with pytest.raises(RefusedError), started.begin() as connection:
        connection.exec_driver_sql(FOREIGN_KEYS[table])


@pytest.mark.parametrize(
    "sql",
    [
        "INSERT INTO posting VALUES ('stock', 'L', '2026-03-02', 0, 0, 'five', 'made')",
        "INSERT INTO posting VALUES ('stock', 'L', '2026-03-02', 0, 0, NULL, 'made')",
        "INSERT INTO slot VALUES (1, 1, NULL, '2026-03-02')",
    ],
)
def test_a_value_of_another_type_is_refused(started: Engine, sql: str) -> None:
    with pytest.raises((LedgerError, DBAPIError)), started.begin() as connection:
        connection.exec_driver_sql(sql)
    with started.begin() as connection:
        assert rows_of(connection)("SELECT COUNT(*) FROM posting") == [(0,)]


def test_a_mass_beyond_a_billion_tonnes_is_kept_exactly(started: Engine) -> None:
    grams = 2**60 + 1
    with started.connect() as connection:
        rows = rows_of(connection)
        rows("INSERT INTO edge VALUES ('a', 0, 0, 'b', :grams)", {"grams": grams})

        assert rows("SELECT grams FROM edge") == [(grams,)]


def test_an_entry_may_count_before_it_is_written_in_one_transaction(
    engine: Engine,
) -> None:
    """The books judge an entry before it is stored."""
    first = chain(1)[0]
    with engine.begin() as connection:
        rows = rows_of(connection)
        SqlShelf(rows).put(open_entry(parse_entry(first.raw), ()), Effects())
        append(rows, first.raw)

    with engine.begin() as connection:
        assert SqlShelf(rows_of(connection)).at(0) is not None


def test_the_list_of_derived_tables_is_that_of_the_schema() -> None:
    derived = {
        table.name: (
            {column.name for column in table.primary_key},
            {column.name for column in table.columns},
        )
        for table in metadata.sorted_tables
        if table.name not in {"entry", "disclosure"}
    }

    assert {
        name: (set(layout.key), {*layout.key, *layout.others})
        for name, layout in DERIVED.items()
    } == derived
