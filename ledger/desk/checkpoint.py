"""Signing the tree head, if it extends what was signed before."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from ledger.books.signing import KeyTerm, term_for
from ledger.chain.checkpoint import Checkpoint, SignedCheckpoint
from ledger.chain.entry import leaf_digest, parse_entry
from ledger.chain.note import Note, sign
from ledger.chain.tree import Frontier
from ledger.desk.record import record
from ledger.desk.signed import (
    SignedBefore,
    check_given,
    recorded_checkpoints,
    signed_before,
)
from ledger.desk.writing import Writing
from ledger.errors import ConflictError, RefusedError, SealError
from ledger.store.checkpoint_file import (
    add_to_checkpoint_file,
    make_checkpoint_file,
    read_checkpoint_file,
)
from ledger.store.entries import entry_raw, frontier, stream_raws

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    from ledger.store.rows import Rows


@dataclass(frozen=True, slots=True)
class Signing:
    """A checkpoint that stands.

    Attributes:
        signed: The checkpoint.
        is_new: Whether it was signed just now; else it stood already, because nothing
            was recorded since.
    """

    signed: SignedCheckpoint
    is_new: bool


def sign_checkpoint(
    writing: Writing, file: Path, private: "Ed25519PrivateKey", *, on: date
) -> Signing:
    """Sign the tree head, record that, and add the signed note to its file.

    Args:
        writing: The open transaction.
        file: The file of signed checkpoints.
        private: The key in force.
        on: Day of signing.

    Raises:
        NotFoundError: The ledger has no key, or the file is lost.
        ConflictError: The file or the key is not this ledger's.
        RefusedError: The key is revoked.
        SealError: The ledger does not extend what was signed, or does not hold.
    """
    before = signed_before(writing.rows, file)
    tree = frontier(writing.rows)
    if before.last is not None and _is_all_covered(
        writing.rows, before.last.size, tree
    ):
        if tree.size == before.last.size:
            # It was signed, but the machine stopped before it was recorded.
            _record(writing, before.last, on)
        return Signing(before.last, is_new=False)
    _check_since(writing.rows, before, tree)
    term = _term(before.terms, tree.size, private)
    text = str(Checkpoint(term.key.name, tree.size, tree.root()))
    note = Note(text, (sign(text, term.key, private),))
    signed = SignedCheckpoint(Checkpoint(term.key.name, tree.size, tree.root()), note)
    _record(writing, signed, on)
    add_to_checkpoint_file(file, note)
    return Signing(signed, is_new=True)


def _is_all_covered(rows: "Rows", covered: int, tree: Frontier) -> bool:
    if tree.size == covered:
        return True
    follows = parse_entry(entry_raw(rows, covered))
    return tree.size == covered + 1 and follows.kind == "checkpoint.signed"


def _check_since(rows: "Rows", before: SignedBefore, tree: Frontier) -> None:
    """Hash what is new again from its stored bytes; what is older was hashed before."""
    raws = stream_raws(rows, before.tree.size, tree.size)
    if before.tree.with_leaves(leaf_digest(raw) for raw in raws) != tree:
        raise SealError(
            f"the stored entries from {before.tree.size} on do not give the tree head that "
            "the ledger keeps; run `evenweight verify` and find out what was changed "
            "before signing"
        )


def _term(
    terms: tuple[KeyTerm, ...], size: int, private: "Ed25519PrivateKey"
) -> KeyTerm:
    term = term_for(terms, size)
    if private.public_key().public_bytes_raw() != term.key.public:
        raise ConflictError(
            f"the private key at hand is not that of {term.key}, which is in force; bring "
            "back its file, or name it with EVENWEIGHT_KEY (after a rotation that was "
            "interrupted it ends in .new)"
        )
    if not term.counts_for(size):
        raise RefusedError(
            f"the key {term.key} is revoked from entry {term.revoked_from} on; make a new "
            "one with `evenweight rotate-key` and sign again"
        )
    return term


def _record(writing: Writing, signed: SignedCheckpoint, on: date) -> None:
    record(
        writing,
        "checkpoint.signed",
        on,
        {
            "size": signed.size,
            "root": signed.checkpoint.root.hex(),
            "note": str(signed.note),
        },
    )


def restore_checkpoints(rows: "Rows", file: Path, given: SignedCheckpoint) -> int:
    """Make the file of signed checkpoints whole again after it was lost or cut.

    Args:
        rows: The ledger.
        file: The file of signed checkpoints.
        given: The last checkpoint that left the house, as somebody else kept it.

    Returns:
        How many checkpoints were put back.

    Raises:
        RefusedError: A later one is known.
        ConflictError: The file or the checkpoint is another ledger's.
        SealError: The ledger does not extend the checkpoint, or it is not signed.
    """
    kept = read_checkpoint_file(file)
    known = kept or ()
    recorded = recorded_checkpoints(rows)
    check_given(rows, given, _in_order((*known, *recorded)))
    largest = known[-1].size if known else 0
    lost = [one for one in _in_order((*recorded, given)) if one.size > largest]
    if kept is None:
        make_checkpoint_file(file)
    for one in lost:
        add_to_checkpoint_file(file, one.note)
    return len(lost)


def _in_order(signed: Iterable[SignedCheckpoint]) -> list[SignedCheckpoint]:
    by_size = {one.size: one for one in signed}
    return [by_size[size] for size in sorted(by_size)]


def start_checkpoints(rows: "Rows", file: Path) -> None:
    """Make the file anew for a ledger for which nothing was ever signed.

    Raises:
        RefusedError: The ledger records a checkpoint, so something was.
        ConflictError: The file is there.
    """
    recorded = recorded_checkpoints(rows)
    if recorded:
        raise RefusedError(
            f"the ledger records a checkpoint over {recorded[-1].size} entries, so this is "
            "not the first; give the last one that left the house with --after FILE"
        )
    make_checkpoint_file(file)
