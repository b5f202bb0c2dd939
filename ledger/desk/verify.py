"""Verifying the ledger in place: bytes, chain, leaves, tree and sealed values."""

from collections.abc import Iterator
from dataclasses import dataclass

from ledger.chain.entry import parse_entry
from ledger.chain.link import check_links
from ledger.chain.seal import open_sealed
from ledger.chain.tree import Frontier
from ledger.errors import LedgerError
from ledger.store.entries import (
    frontier,
    head,
    stream_disclosures,
    stream_leaves,
    stream_raws,
)
from ledger.store.rows import Rows


@dataclass(frozen=True, slots=True)
class Trouble:
    """One place where the stored ledger does not hold.

    Attributes:
        seq: The entry, or None where it is the ledger as a whole.
        problem: What is wrong, one sentence.
    """

    seq: int | None
    problem: str


@dataclass(frozen=True, slots=True)
class Verified:
    """What verifying found.

    Attributes:
        entries: Number of entries read.
        tree_head: Root of the Merkle tree over them (RFC 9162, 2.1.1).
        troubles: Every place that does not hold; empty if all does.
    """

    entries: int
    tree_head: bytes
    troubles: tuple[Trouble, ...]


def verify(rows: Rows) -> Verified:
    """Check a ledger from its stored bytes alone."""
    troubles: list[Trouble] = []
    tree = Frontier()
    leaves = stream_leaves(rows)
    for link in check_links(stream_raws(rows)):
        seq = tree.size
        troubles += [
            Trouble(found.seq_expected, found.problem) for found in link.breaks
        ]
        if next(leaves, None) != link.digest:
            troubles.append(
                Trouble(
                    seq, "the digest stored beside the entry is not that of its bytes"
                )
            )
        tree = tree.with_leaf(link.digest)
    kept = frontier(rows)
    if kept != tree:
        troubles.append(
            Trouble(
                None,
                f"the tree kept covers {kept.size} entries with head "
                f"{kept.root().hex()}, but the {tree.size} stored entries give "
                f"{tree.root().hex()}",
            )
        )
    troubles += _disclosures(rows)
    return Verified(tree.size, tree.root(), tuple(troubles))


def _disclosures(rows: Rows) -> Iterator[Trouble]:
    by_entry: dict[int, list[str]] = {}
    for seq, text in stream_disclosures(rows, 0, head(rows)[0]):
        by_entry.setdefault(seq, []).append(text)
    for seq, texts in by_entry.items():
        [raw] = stream_raws(rows, seq, seq + 1)
        try:
            open_sealed(parse_entry(raw).body, texts)
        except LedgerError as error:
            yield Trouble(seq, f"a sealed value does not open: {error}")
