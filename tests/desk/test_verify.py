"""Whatever is done to the stored entries behind the store's back is found and located.

The attacker owns the file: drops the triggers, switches constraints off, and writes.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from ledger.chain.entry import leaf_digest
from ledger.chain.seal import disclosure_digest
from ledger.desk.verify import Verified, verify
from tests.desk.small_ledger import opened

LENGTH = 23


@contextmanager
def behind_the_back(path: Path) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(path)) as database, database:
        triggers = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        for (name,) in database.execute(triggers).fetchall():
            database.execute(f"DROP TRIGGER {name}")
        database.execute("PRAGMA ignore_check_constraints = ON")
        yield database


def verified(path: Path) -> Verified:
    with opened(path) as rows:
        return verify(rows)


def places(path: Path) -> set[int | None]:
    return {trouble.seq for trouble in verified(path).troubles}


def raw_of(database: sqlite3.Connection, seq: int) -> bytes:
    [(raw,)] = database.execute("SELECT raw FROM entry WHERE seq = ?", (seq,))
    return bytes(raw)


def test_an_untouched_ledger_holds(ledger: Path) -> None:
    assert verified(ledger).troubles == ()
    assert verified(ledger).entries == LENGTH


@pytest.mark.parametrize("seq", range(LENGTH))
def test_a_changed_row_is_located(seq: int, ledger: Path) -> None:
    with behind_the_back(ledger) as database:
        raw = raw_of(database, seq).replace(b"clerk", b"clerc")
        database.execute("UPDATE entry SET raw = ? WHERE seq = ?", (raw, seq))

    assert places(ledger) == {seq}


@pytest.mark.parametrize("seq", range(LENGTH))
def test_a_changed_row_with_its_digest_is_located(seq: int, ledger: Path) -> None:
    with behind_the_back(ledger) as database:
        raw = raw_of(database, seq).replace(b"clerk", b"clerc")
        database.execute(
            "UPDATE entry SET raw = ?, leaf = ? WHERE seq = ?",
            (raw, leaf_digest(raw), seq),
        )

    assert places(ledger) == {seq}


@pytest.mark.parametrize("seq", range(LENGTH))
def test_a_changed_digest_is_located(seq: int, ledger: Path) -> None:
    with behind_the_back(ledger) as database:
        database.execute("UPDATE entry SET leaf = ? WHERE seq = ?", (bytes(32), seq))

    assert places(ledger) == {seq}


@pytest.mark.parametrize("junk", [b"", b"{}", b"\xff", b"[" * 50_000, b"9" * 5_000])
def test_a_row_of_junk_is_located(junk: bytes, ledger: Path) -> None:
    with behind_the_back(ledger) as database:
        database.execute("UPDATE entry SET raw = ? WHERE seq = 9", (junk,))

    assert places(ledger) == {9}


@pytest.mark.parametrize("seq", range(LENGTH))
def test_a_removed_row_is_located(seq: int, ledger: Path) -> None:
    with behind_the_back(ledger) as database:
        database.execute("DELETE FROM entry WHERE seq = ?", (seq,))

    assert seq in places(ledger)


@pytest.mark.parametrize("seq", range(LENGTH - 1))
def test_swapped_rows_are_located(seq: int, ledger: Path) -> None:
    with behind_the_back(ledger) as database:
        for old, new in ((seq, 99), (seq + 1, seq), (99, seq + 1)):
            database.execute("UPDATE entry SET seq = ? WHERE seq = ?", (new, old))

    assert {seq, seq + 1} <= places(ledger)


@pytest.mark.parametrize("seq", [0, 5, LENGTH])
def test_an_inserted_row_is_located(seq: int, ledger: Path) -> None:
    with behind_the_back(ledger) as database:
        forged = raw_of(database, 4).replace(b"clerk", b"clerc")
        for old in range(LENGTH - 1, seq - 1, -1):
            database.execute("UPDATE entry SET seq = ? WHERE seq = ?", (old + 1, old))
        database.execute(
            "INSERT INTO entry (seq, leaf, raw) VALUES (?, ?, ?)",
            (seq, leaf_digest(forged), forged),
        )

    assert seq in places(ledger)


def test_a_row_that_fits_the_chain_but_not_the_tree_is_located(ledger: Path) -> None:
    with behind_the_back(ledger) as database:
        last = raw_of(database, LENGTH - 1)
        prev = last.index(b'"prev":"') + 8
        forged = last[:prev] + leaf_digest(last).hex().encode() + last[prev + 64 :]
        forged = forged.replace(b'"seq":22', b'"seq":23')
        database.execute(
            "INSERT INTO entry (seq, leaf, raw) VALUES (?, ?, ?)",
            (LENGTH, leaf_digest(forged), forged),
        )
    [trouble] = verified(ledger).troubles

    assert trouble.seq == LENGTH
    assert "added behind the ledger's back" in trouble.problem


def test_a_row_moved_far_away_is_located_without_counting_there(ledger: Path) -> None:
    with behind_the_back(ledger) as database:
        database.execute("UPDATE entry SET seq = ? WHERE seq = 7", (2**60,))

    assert 7 in places(ledger)


def test_a_changed_tree_is_told(ledger: Path) -> None:
    for column in ("size = size - 1", "frontier = x''", "frontier = zeroblob(32 * 4)"):
        with behind_the_back(ledger) as database:
            before = database.execute("SELECT size, frontier FROM tree_head").fetchone()
            database.execute(f"UPDATE tree_head SET {column}")  # noqa: S608 - ours

        assert verified(ledger).troubles, column
        with behind_the_back(ledger) as database:
            database.execute("UPDATE tree_head SET size = ?, frontier = ?", before)
    assert verified(ledger).troubles == ()


@pytest.mark.parametrize(
    "change",
    [
        "text = substr(text, 1, length(text) - 4)",
        "text = 'é'",
        "seq = 3",
        "seq = 4000000000",
        "digest = substr(digest, 2) || 'x'",
    ],
)
def test_a_changed_disclosure_is_located(change: str, ledger: Path) -> None:
    with behind_the_back(ledger) as database:
        database.execute(
            f"UPDATE disclosure SET {change} WHERE digest = "  # noqa: S608 - ours
            "(SELECT MIN(digest) FROM disclosure WHERE seq = 1)"
        )

    found = places(ledger)
    assert found
    assert found <= {1, 3, 4_000_000_000}


def test_an_added_disclosure_is_located(ledger: Path) -> None:
    text = "WyJfMjZiYzRMVC1hYzZxMktJNmNCVzVlcyIsICJuYW1lIiwgIngiXQ"
    with behind_the_back(ledger) as database:
        database.execute(
            "INSERT INTO disclosure (digest, seq, text) VALUES (?, 9, ?)",
            (disclosure_digest(text), text),
        )

    assert places(ledger) == {9}


def test_an_erased_disclosure_is_no_trouble(ledger: Path) -> None:
    with behind_the_back(ledger) as database:
        database.execute("DELETE FROM disclosure WHERE seq = 1")

    assert verified(ledger).troubles == ()
