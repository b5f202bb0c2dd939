"""Proofs from the stored leaves against the published tree and its verifiers."""

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

import pytest

from ledger.chain.tree import (
    check_consistency,
    check_inclusion,
    consistency_path,
    inclusion_path,
    tree_root,
)
from ledger.errors import InputError
from ledger.store.proof import consistency_proofs, inclusion_proof, trees_at
from ledger.store.quick import sqlite_rows
from ledger.store.rows import NOTHING, PAGE, Row, Value
from tests.chain.test_tree import EIGHT, EIGHT_ROOTS
from tests.chain.vectors import CONSISTENCY_PROOFS, INCLUSION_PROOFS


class Leaves:
    """A table of leaves in memory that counts what is read of it."""

    def __init__(self, leaves: Sequence[bytes]) -> None:
        connection = sqlite3.connect(":memory:")
        connection.execute("CREATE TABLE entry (seq INTEGER PRIMARY KEY, leaf BLOB)")
        connection.executemany("INSERT INTO entry VALUES (?, ?)", enumerate(leaves))
        self._rows = sqlite_rows(connection, "memory")
        self._connection = connection
        self.read = 0

    def __call__(
        self, sql: str, parameters: Mapping[str, Value] = NOTHING, /
    ) -> list[Row]:
        found = self._rows(sql, parameters)
        assert len(found) <= PAGE
        if "DESC" not in sql:
            self.read += len(found)
        return found

    def close(self) -> None:
        self._connection.close()


@pytest.fixture
def eight() -> Iterator[Leaves]:
    rows = Leaves(EIGHT)
    yield rows
    rows.close()


@pytest.fixture
def many() -> Iterator[Leaves]:
    rows = Leaves(MANY)
    yield rows
    rows.close()


MANY = [bytes([n % 251, n // 251]) * 16 for n in range(1234)]


@pytest.mark.parametrize(("index", "size", "path"), INCLUSION_PROOFS)
def test_published_inclusion_proofs_come_from_the_store(
    index: int, size: int, path: tuple[str, ...], eight: Leaves
) -> None:
    found = inclusion_proof(eight, index, size=size)

    assert found == tuple(map(bytes.fromhex, path))


def test_published_consistency_proofs_come_from_the_store_in_one_pass(
    eight: Leaves,
) -> None:
    found = consistency_proofs(
        eight, [(old, new) for old, new, _ in CONSISTENCY_PROOFS]
    )

    assert found == {
        (old, new): tuple(map(bytes.fromhex, path))
        for old, new, path in CONSISTENCY_PROOFS
    }
    assert eight.read == 8


def test_trees_at_several_sizes_take_one_pass(eight: Leaves) -> None:
    trees = trees_at(eight, range(9))

    assert [trees[size].root() for size in range(9)] == list(EIGHT_ROOTS)
    assert eight.read == 8


def sizes() -> Iterator[int]:
    yield from (1, 2, 3, 500, 501, 1000, 1024, 1233, 1234)


def test_proofs_over_several_pages_hold(many: Leaves) -> None:
    proofs = consistency_proofs(many, pairwise(sizes()))

    for old, new in pairwise(sizes()):
        assert proofs[old, new] == consistency_path(MANY[:new], old)
        check_consistency(
            old_size=old,
            old_root=tree_root(MANY[:old]),
            size=new,
            root=tree_root(MANY[:new]),
            path=proofs[old, new],
        )
    for seq in (0, 499, 500, 1233):
        path = inclusion_proof(many, seq, size=1234)
        assert path == inclusion_path(MANY, seq)
        check_inclusion(
            MANY[seq], index=seq, size=1234, path=path, root=tree_root(MANY)
        )


def test_what_the_ledger_does_not_cover_is_said(eight: Leaves) -> None:
    with pytest.raises(InputError, match="has 8 entries"):
        trees_at(eight, [9])
    with pytest.raises(InputError, match="no leaf 8"):
        inclusion_proof(eight, 8, size=8)
    with pytest.raises(InputError, match="cannot be compared"):
        consistency_proofs(eight, [(0, 8)])
    with pytest.raises(InputError, match="only 8 leaves"):
        consistency_proofs(eight, [(3, 9)])
    assert consistency_proofs(eight, []) == {}
