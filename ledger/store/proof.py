"""Roots and proofs of the Merkle tree, streamed from the stored leaves.

A proof is made of the roots of a few subtrees, and each leaf is read once; a page of
them is in memory at a time, however many there are.
"""

from collections.abc import Iterable, Mapping

from ledger.chain.tree import (
    Frontier,
    Span,
    consistency_spans,
    inclusion_spans,
    tree_root,
)
from ledger.errors import InputError
from ledger.store.entries import head, stream_leaves
from ledger.store.rows import Rows


def trees_at(rows: Rows, sizes: Iterable[int]) -> Mapping[int, Frontier]:
    """Return the tree over the first entries, for several sizes.

    Raises:
        InputError: The ledger has fewer entries than that.
    """
    wanted = sorted(set(sizes))
    if wanted and wanted[-1] > head(rows)[0]:
        raise InputError(
            f"the ledger has {head(rows)[0]} entries, so it has no tree over {wanted[-1]}"
        )
    tree = Frontier()
    trees: dict[int, Frontier] = {}
    for size in wanted:
        tree = tree.with_leaves(stream_leaves(rows, tree.size, size))
        trees[size] = tree
    return trees


def inclusion_proof(rows: Rows, seq: int, *, size: int) -> tuple[bytes, ...]:
    """Return the proof that an entry is in the tree over the first entries.

    Args:
        rows: The ledger.
        seq: The entry.
        size: Number of entries that the tree covers.

    Raises:
        InputError: The tree does not cover the entry.

    Source:
        RFC 9162, section 2.1.3.1.
    """
    return _roots(rows, inclusion_spans(size, seq))


def consistency_proof(rows: Rows, old_size: int, *, size: int) -> tuple[bytes, ...]:
    """Return the proof that the tree over some entries is the beginning of a larger.

    Args:
        rows: The ledger.
        old_size: Number of entries that the older tree covers.
        size: Number of entries that the newer tree covers.

    Raises:
        InputError: The older tree is empty or larger.

    Source:
        RFC 9162, section 2.1.4.1.
    """
    return _roots(rows, consistency_spans(size, old_size))


def _roots(rows: Rows, spans: tuple[Span, ...]) -> tuple[bytes, ...]:
    return tuple(tree_root(stream_leaves(rows, low, high)) for low, high in spans)
