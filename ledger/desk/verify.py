"""Verifying the ledger in place: bytes, chain, leaves, tree and sealed values."""

from collections.abc import Iterator
from dataclasses import dataclass

from ledger.audit.joints import JointCheck
from ledger.chain.entry import parse_entry
from ledger.chain.link import check_links
from ledger.chain.seal import disclosure_digest, open_sealed
from ledger.chain.tree import Frontier
from ledger.errors import LedgerError
from ledger.store.entries import (
    entry_raw,
    frontier,
    stream_leaves,
    stream_raws,
    stream_stored_disclosures,
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
    kept = _kept(rows, troubles)
    joints = JointCheck()
    leaves = stream_leaves(rows)
    for link in check_links(stream_raws(rows)):
        seq = joints.tree.size
        joints.take(link)
        if next(leaves, None) != link.digest:
            troubles.append(
                Trouble(
                    seq, "the digest stored beside the entry is not that of its bytes"
                )
            )
    joints.finish(kept.size, kept.root())
    troubles += [Trouble(found.place, found.problem) for found in joints.broken]
    # Where an entry is at fault already, the tree differs because of it.
    if kept != joints.tree and (not troubles or kept.size != joints.tree.size):
        troubles.append(_other_tree(kept, joints.tree))
    troubles += _disclosures(rows)
    return Verified(joints.tree.size, joints.tree.root(), tuple(troubles))


def _kept(rows: Rows, troubles: list[Trouble]) -> Frontier:
    try:
        return frontier(rows)
    except LedgerError as error:
        troubles.append(
            Trouble(None, f"the tree kept beside the entries is none: {error}")
        )
        return Frontier()


def _other_tree(kept: Frontier, tree: Frontier) -> Trouble:
    told = (
        f"the tree kept covers {kept.size} entries with head {kept.root().hex()}, but "
        f"the {tree.size} stored entries give {tree.root().hex()}"
    )
    if kept.size < tree.size:
        return Trouble(
            kept.size, f"{told}: this entry was added behind the ledger's back"
        )
    if kept.size > tree.size:
        return Trouble(tree.size, f"{told}: entries from this one on were taken away")
    return Trouble(
        tree.size - 1,
        f"{told}: this entry, which none follows, or the tree was changed",
    )


def _disclosures(rows: Rows) -> Iterator[Trouble]:
    by_entry: dict[int, list[str]] = {}
    for digest, seq, text in stream_stored_disclosures(rows):
        try:
            is_own = disclosure_digest(text) == digest
        except LedgerError:
            is_own = False
        if not is_own:
            yield Trouble(
                seq, f"a sealed value is stored under {digest}, which is not its digest"
            )
        by_entry.setdefault(seq, []).append(text)
    for seq, texts in sorted(by_entry.items()):
        try:
            open_sealed(parse_entry(entry_raw(rows, seq)).body, texts)
        except LedgerError as error:
            yield Trouble(seq, f"a sealed value does not open: {error}")
