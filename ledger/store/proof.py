"""Roots and proofs of the Merkle tree, streamed from the stored leaves.

A proof is made of the roots of a few subtrees. Each leaf is read once, and a page of them
is in memory at a time, however many there are.
"""

from collections.abc import Iterable, Mapping

from ledger.chain.tree import (
    Frontier,
    consistency_spans,
    inclusion_spans,
    span_roots,
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
        InputError: The tree does not cover the entry, or the ledger not the tree.

    Source:
        RFC 9162, section 2.1.3.1.
    """
    spans = inclusion_spans(size, seq)
    roots = span_roots(stream_leaves(rows, 0, size), spans)
    return tuple(roots[span] for span in spans)


def consistency_proofs(
    rows: Rows, steps: Iterable[tuple[int, int]]
) -> Mapping[tuple[int, int], tuple[bytes, ...]]:
    """Return proofs that trees over some entries are the beginning of larger ones.

    All of them together take one pass over the leaves.

    Args:
        rows: The ledger.
        steps: For each proof the number of entries of the older tree and of the newer.

    Raises:
        InputError: An older tree is empty or larger, or the ledger does not cover a
            newer one.

    Source:
        RFC 9162, section 2.1.4.1.
    """
    needed = {(old, size): consistency_spans(size, old) for old, size in steps}
    largest = max((size for _, size in needed), default=0)
    spans = {span for one in needed.values() for span in one}
    roots = span_roots(stream_leaves(rows, 0, largest), spans)
    return {step: tuple(roots[span] for span in one) for step, one in needed.items()}
