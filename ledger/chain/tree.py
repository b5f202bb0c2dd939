"""The Merkle tree over the digests of the entries.

A root stands for all entries up to a size. Two short proofs let an outsider check it
without the entries: that one leaf is in the tree, and that an old tree is the beginning
of a newer one, so nothing in it was changed.

Source: RFC 9162 (Certificate Transparency Version 2.0), section 2.1.
"""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

from ledger.errors import InputError, SealError

DIGEST_SIZE: Final = 32
"""Length of every digest here, in bytes (SHA-256)."""


@dataclass(frozen=True, slots=True)
class Frontier:
    """A tree that can grow, kept as the roots of its complete subtrees.

    Attributes:
        size: Number of leaves.
        hashes: Roots of the complete subtrees from left to right, the largest first:
            one for each binary digit 1 of the size.

    Raises:
        SealError: The hashes cannot belong to a tree of this size.
    """

    size: int = 0
    hashes: tuple[bytes, ...] = ()

    def __post_init__(self) -> None:
        if self.size < 0 or self.size.bit_count() != len(self.hashes):
            raise SealError(
                f"a tree of {self.size} leaves cannot have {len(self.hashes)} "
                "complete subtrees; build the frontier again from the entries"
            )
        _check_digests(self.hashes)

    def with_leaf(self, leaf: bytes) -> "Frontier":
        """Return the tree with one more leaf on the right.

        Raises:
            SealError: The leaf is not a digest of 32 bytes.
        """
        return self.with_leaves((leaf,))

    def with_leaves(self, leaves: Iterable[bytes]) -> "Frontier":
        """Return the tree with more leaves on the right.

        Raises:
            SealError: A leaf is not a digest of 32 bytes.
        """
        size, hashes = self.size, list(self.hashes)
        for leaf in leaves:
            if len(leaf) != DIGEST_SIZE:
                _check_digests((leaf,))
            node = leaf
            # Each trailing 1 of the size is a complete subtree that this leaf closes.
            closing = size
            while closing & 1:
                node = _node(hashes.pop(), node)
                closing >>= 1
            hashes.append(node)
            size += 1
        return Frontier(size, tuple(hashes))

    def root(self) -> bytes:
        """Return the root of the tree: 32 bytes, SHA-256 of nothing if it is empty.

        Source:
            RFC 9162, section 2.1.1.
        """
        if not self.hashes:
            return hashlib.sha256(b"").digest()
        root = self.hashes[-1]
        for left in reversed(self.hashes[:-1]):
            root = _node(left, root)
        return root


def tree_root(leaves: Iterable[bytes]) -> bytes:
    """Return the root of the tree over these leaf digests.

    Raises:
        SealError: A leaf is not a digest of 32 bytes.

    Source:
        RFC 9162, section 2.1.1.
    """
    return Frontier().with_leaves(leaves).root()


Span: TypeAlias = tuple[int, int]
"""Leaves of a subtree: the place of the first, and the place after the last."""


def inclusion_spans(size: int, index: int) -> tuple[Span, ...]:
    """Return the subtrees whose roots prove that a leaf is in a tree.

    Args:
        size: Number of leaves of the tree.
        index: Place of the leaf, counted from 0.

    Returns:
        The subtrees from the leaf upwards; none holds the leaf, and together with it
        they hold every leaf once.

    Raises:
        InputError: There is no leaf at that place.

    Source:
        RFC 9162, section 2.1.3.1.
    """
    if not 0 <= index < size:
        raise InputError(
            f"there is no leaf {index} in a tree of {size}; "
            "count from 0 and take an entry that the tree covers"
        )
    spans: list[Span] = []
    low, high = 0, size
    while high - low > 1:
        split = _split(low, high)
        if index < split:
            spans.append((split, high))
            high = split
        else:
            spans.append((low, split))
            low = split
    return tuple(reversed(spans))


def consistency_spans(size: int, old_size: int) -> tuple[Span, ...]:
    """Return the subtrees whose roots prove that an older tree is the beginning.

    Args:
        size: Number of leaves of the newer tree.
        old_size: Number of leaves of the older tree, at least 1.

    Returns:
        The subtrees in the order in which the proof has their roots.

    Raises:
        InputError: The older tree is empty, which proves nothing, or larger than the
            newer one.

    Source:
        RFC 9162, section 2.1.4.1.
    """
    if not 0 < old_size <= size:
        raise InputError(
            f"a tree of {old_size} leaves cannot be compared with one of "
            f"{size}; take a size from 1 to {size}"
        )
    spans: list[Span] = []
    low, high = 0, size
    while high != old_size:
        split = _split(low, high)
        if old_size <= split:
            spans.append((split, high))
            high = split
        else:
            spans.append((low, split))
            low = split
    if low:
        # Only a subtree that starts at 0 is known to the reader: it is the old root.
        spans.append((low, high))
    return tuple(reversed(spans))


def span_roots(leaves: Iterable[bytes], spans: Iterable[Span]) -> dict[Span, bytes]:
    """Return the roots of subtrees, reading each leaf once and keeping none.

    Args:
        leaves: Leaf digests of the whole tree, in order.
        spans: Subtrees as `inclusion_spans` and `consistency_spans` name them.

    Raises:
        InputError: There are fewer leaves than a subtree holds.
        SealError: A leaf is not a digest of 32 bytes.
    """
    parts = {span: _complete_parts(span) for span in spans}
    wanted = {part for needed in parts.values() for part in needed}
    found: dict[Span, bytes] = {}
    size, hashes = 0, list[bytes]()
    for leaf in leaves:
        _check_digests((leaf,))
        node, width, size = leaf, 1, size + 1
        if (size - 1, size) in wanted:
            found[size - 1, size] = node
        while size % (2 * width) == 0:
            node, width = _node(hashes.pop(), node), 2 * width
            if (size - width, size) in wanted:
                found[size - width, size] = node
        hashes.append(node)
    if wanted - found.keys():
        raise InputError(f"there are only {size} leaves, fewer than the proof is about")
    return {
        (low, high): Frontier(high - low, tuple(found[part] for part in needed)).root()
        for (low, high), needed in parts.items()
    }


def _complete_parts(span: Span) -> tuple[Span, ...]:
    """Return the complete subtrees that a subtree is made of, from left to right."""
    low, high = span
    parts = []
    while low < high:
        width = 1 << ((high - low).bit_length() - 1)
        parts.append((low, low + width))
        low += width
    return tuple(parts)


def inclusion_path(leaves: Sequence[bytes], index: int) -> tuple[bytes, ...]:
    """Return the proof that a leaf is in the tree over these leaves.

    Args:
        leaves: Leaf digests of the whole tree.
        index: Place of the leaf, counted from 0.

    Returns:
        The digests to combine with the leaf, from the leaf upwards.

    Raises:
        InputError: There is no leaf at that place.
    """
    spans = inclusion_spans(len(leaves), index)
    return tuple(tree_root(leaves[low:high]) for low, high in spans)


def consistency_path(leaves: Sequence[bytes], old_size: int) -> tuple[bytes, ...]:
    """Return the proof that the tree over the first leaves is the beginning of all.

    Args:
        leaves: Leaf digests of the newer tree.
        old_size: Number of leaves of the older tree, at least 1.

    Returns:
        The digests from which both roots can be computed.

    Raises:
        InputError: The older tree is empty or larger than the newer one.
    """
    spans = consistency_spans(len(leaves), old_size)
    return tuple(tree_root(leaves[low:high]) for low, high in spans)


def check_inclusion(
    leaf: bytes, *, index: int, size: int, path: Sequence[bytes], root: bytes
) -> None:
    """Check that a leaf is in the tree with this size and root.

    Args:
        leaf: Digest of the entry.
        index: Place of the leaf, counted from 0.
        size: Number of leaves of the tree.
        path: The proof, from the leaf upwards.
        root: Root of the tree.

    Raises:
        SealError: The proof does not hold.

    Source:
        RFC 9162, section 2.1.3.2.
    """
    _check_digests((leaf, root, *path))
    if not 0 <= index < size:
        raise SealError(f"leaf {index} cannot be in a tree of {size} leaves")
    node, last, top = index, size - 1, leaf
    for sibling in path:
        if last == 0:
            raise SealError(f"the inclusion proof of leaf {index} is too long")
        if node & 1 or node == last:
            top = _node(sibling, top)
            node, last = _skip_missing(node, last)
        else:
            top = _node(top, sibling)
        node, last = node >> 1, last >> 1
    if last != 0 or top != root:
        raise SealError(
            f"the inclusion proof of leaf {index} does not lead to the root of the "
            f"tree of {size}; the entry or the tree was changed"
        )


def check_consistency(
    *,
    old_size: int,
    old_root: bytes,
    size: int,
    root: bytes,
    path: Sequence[bytes],
) -> None:
    """Check that an older tree is the beginning of a newer one.

    Args:
        old_size: Number of leaves of the older tree, at least 1.
        old_root: Root of the older tree.
        size: Number of leaves of the newer tree.
        root: Root of the newer tree.
        path: The proof; empty if both trees have the same size.

    Raises:
        SealError: The proof does not hold, or the older tree is empty or larger.

    Source:
        RFC 9162, section 2.1.4.2.
    """
    _check_digests((old_root, root, *path))
    if not 0 < old_size <= size:
        raise SealError(
            f"a tree of {old_size} leaves cannot be the beginning of one of {size}"
        )
    if old_size == size:
        holds = not path and old_root == root
    else:
        holds = _roots(old_size, old_root, size, path) == (old_root, root)
    if not holds:
        raise SealError(
            f"the tree of {size} leaves does not continue the tree of {old_size}: "
            "the record was changed or replaced, or the proof is not theirs"
        )


def _roots(
    old_size: int, old_root: bytes, size: int, path: Sequence[bytes]
) -> tuple[bytes, bytes] | None:
    """Compute both roots from a consistency proof, None if its length is wrong."""
    node, last = old_size - 1, size - 1
    while node & 1:
        node, last = node >> 1, last >> 1
    # A complete old tree is itself a node of the new one, and left out of the proof.
    steps = iter(path if node else (old_root, *path))
    first = next(steps, None)
    if first is None:
        return None
    old_top = new_top = first
    for sibling in steps:
        if last == 0:
            return None
        if node & 1 or node == last:
            old_top = _node(sibling, old_top)
            new_top = _node(sibling, new_top)
            node, last = _skip_missing(node, last)
        else:
            new_top = _node(new_top, sibling)
        node, last = node >> 1, last >> 1
    return (old_top, new_top) if last == 0 else None


def _skip_missing(node: int, last: int) -> tuple[int, int]:
    """Climb over the levels at which the rightmost node has no sibling."""
    while node and not node & 1:
        node, last = node >> 1, last >> 1
    return node, last


def _node(left: bytes, right: bytes) -> bytes:
    return hashlib.sha256(b"\x01" + left + right).digest()


def _split(low: int, high: int) -> int:
    """Return where the left subtree ends: the largest power of two below the width."""
    return low + (1 << ((high - low - 1).bit_length() - 1))


def _check_digests(digests: Iterable[bytes]) -> None:
    for digest in digests:
        if len(digest) != DIGEST_SIZE:
            raise SealError(
                f"a digest in the tree has {len(digest)} bytes; SHA-256 gives "
                f"{DIGEST_SIZE}"
            )
