"""The chain: each entry names its place and the digest of the entry before it.

A chain alone proves that a copy holds together, not that it was never rewritten whole:
its owner can compute every link again. It also says nothing about the last entry,
whose digest no later entry holds. Both are what the tree (`ledger.chain.tree`) and a
root that was kept elsewhere are for.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from ledger.chain.entry import (
    GENESIS_PREV,
    OPENING_KIND,
    Entry,
    leaf_digest,
    parse_entry,
)
from ledger.errors import InputError


@dataclass(frozen=True, slots=True)
class Break:
    """One place where the chain does not hold.

    Attributes:
        seq_expected: The place in the chain that was looked at.
        problem: What is wrong there, as a lower-case sentence.
        is_joint: Whether two entries do not fit together, so that it may be the one
            before that was changed.
    """

    seq_expected: int
    problem: str
    is_joint: bool = False


@dataclass(frozen=True, slots=True)
class Withheld:
    """An entry of which only the digest is given.

    It keeps its place in the chain and in the tree, so that nothing can be left out
    beside it. An entry that follows confirms its digest; what it says stays unknown.

    Attributes:
        digest: Its digest, 32 bytes.
    """

    digest: bytes


@dataclass(frozen=True, slots=True)
class Link:
    """One stored entry after its check.

    Attributes:
        digest: Digest of the bytes as they are stored: the leaf of the tree.
        entry: The entry, or None if the bytes cannot be read as one or are withheld.
        breaks: What is wrong here; empty if the link holds.
        is_withheld: Whether only the digest is given.
    """

    digest: bytes
    entry: Entry | None
    breaks: tuple[Break, ...]
    is_withheld: bool = False


def check_links(
    raws: Iterable[bytes | Withheld], *, seq: int = 0, prev: str = GENESIS_PREV
) -> Iterator[Link]:
    """Check stored entries one after another, and go on after each break.

    Only one entry is held at a time. A change to an entry shows at the entry itself or
    at the one that follows, whose `prev` no longer matches; before a withheld entry,
    only in the root of the tree.

    Args:
        raws: Canonical bytes of the entries, in the order of the chain; or the digest
            of one that is withheld.
        seq: Place of the first of them.
        prev: What `prev` of the first must be: the digest of the entry before it in
            hexadecimal.

    Yields:
        One link for each entry, in order.
    """
    expected = following = seq
    for raw in raws:
        if isinstance(raw, Withheld):
            yield Link(raw.digest, None, (), is_withheld=True)
            expected, following = expected + 1, following + 1
            prev = raw.digest.hex()
            continue
        digest = leaf_digest(raw)
        try:
            entry = parse_entry(raw)
        except InputError as error:
            found = Break(expected, f"the bytes are not an entry: {error}")
            yield Link(digest, None, (found,))
            expected, following = expected + 1, following + 1
        else:
            # After a lost or added entry, take up the count from what is there, so
            # that one gap is reported once and not at every later entry.
            if entry.seq == following:
                expected = following
            yield Link(digest, entry, tuple(_breaks(entry, expected, prev)))
            expected, following = expected + 1, entry.seq + 1
        prev = digest.hex()


def _breaks(entry: Entry, expected: int, prev: str) -> Iterator[Break]:
    if entry.seq != expected:
        yield Break(
            expected,
            f"seq is {entry.seq} where {expected} should stand: an entry was "
            "removed, added or moved",
        )
    if entry.prev != prev:
        yield Break(
            expected,
            f"prev is {entry.prev}, but what stands before has the digest {prev}: "
            "one of the two was changed after it was recorded",
            is_joint=True,
        )
    if (expected == 0) != (entry.kind == OPENING_KIND):
        yield Break(
            expected,
            f"the kind of entry {expected} is {entry.kind}; the first entry, and no "
            f"other, is {OPENING_KIND}",
        )
