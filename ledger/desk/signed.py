"""What was signed before: the file of checkpoints, held against the ledger as it is."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ledger.books.lookup import expect
from ledger.books.signing import KeyTerm, key_terms, term_for
from ledger.chain.checkpoint import SignedCheckpoint, parse_signed
from ledger.chain.extension import Extension
from ledger.chain.note import signed_by
from ledger.chain.tree import Frontier
from ledger.errors import (
    ConflictError,
    InputError,
    LedgerError,
    NotFoundError,
    RefusedError,
    SealError,
)
from ledger.intake.folder import read_bytes
from ledger.store.checkpoint_file import read_checkpoint_file
from ledger.store.entries import head
from ledger.store.proof import consistency_proofs, trees_at
from ledger.store.shelf import SqlShelf
from ledger.trade.signing import CheckpointSigned

if TYPE_CHECKING:
    from ledger.store.rows import Rows


@dataclass(frozen=True, slots=True)
class SignedBefore:
    """What was signed for a ledger, all of which the ledger extends.

    Attributes:
        terms: The keys of the ledger, in order.
        checkpoints: In order of size.
        tree: The tree over the entries that the last of them covers; empty if none.
    """

    terms: tuple[KeyTerm, ...]
    checkpoints: tuple[SignedCheckpoint, ...]
    tree: Frontier

    @property
    def last(self) -> SignedCheckpoint | None:
        """The last checkpoint, if there is one."""
        return self.checkpoints[-1] if self.checkpoints else None


def read_checkpoint(path: Path) -> SignedCheckpoint:
    """Return the signed checkpoint in a file; no signature is checked.

    Raises:
        InputError: The file cannot be read, or holds no signed checkpoint.
    """
    try:
        return parse_signed(read_bytes(path).decode())
    except (InputError, UnicodeDecodeError) as error:
        raise InputError(f"{path} is not a signed checkpoint: {error}") from error


def keys_of(rows: "Rows") -> tuple[KeyTerm, ...]:
    """Return the keys of a ledger in the order in which they signed.

    Raises:
        NotFoundError: The ledger was opened without a key.
    """
    terms = key_terms(SqlShelf(rows))
    if not terms:
        raise NotFoundError(
            "the ledger was opened without a key, so nothing can be signed for it; open a "
            "new ledger, which makes a key"
        )
    return terms


def signed_before(rows: "Rows", file: Path) -> SignedBefore:
    """Return what was signed for a ledger, after checking that the ledger extends it.

    Args:
        rows: The ledger.
        file: The file of signed checkpoints.

    Raises:
        NotFoundError: The ledger has no key, or the file is lost.
        ConflictError: The file belongs to another ledger.
        SealError: The file was cut, a signature does not hold, or the ledger does not
            extend what was signed.
    """
    terms = keys_of(rows)
    kept = read_checkpoint_file(file)
    if kept is None:
        raise NotFoundError(
            f"the file of signed checkpoints {file} is missing, so nothing is signed: a "
            "ledger put back from an older copy could sign a second history; bring the "
            "file back, or give the last checkpoint that left the house with --after FILE"
        )
    recorded = recorded_checkpoints(rows)
    if recorded and (not kept or kept[-1].size < recorded[-1].size):
        raise SealError(
            f"the file of signed checkpoints {file} was cut or is an older copy: the "
            f"ledger records a checkpoint over {recorded[-1].size} entries that is not in "
            "it; bring back the newest copy, or give the last checkpoint that left the "
            "house with --after FILE"
        )
    return SignedBefore(terms, kept, check_extended(rows, kept, terms))


@dataclass(frozen=True, slots=True)
class SignedSoFar:
    """How far a ledger is signed.

    Attributes:
        entries: Number of entries that the last checkpoint covers, 0 if none.
        problem: Why that cannot be told or does not hold, one sentence; None if it does.
        is_broken: Whether the ledger does not extend what was signed.
    """

    entries: int
    problem: str | None = None
    is_broken: bool = False


def signed_so_far(rows: "Rows", file: Callable[[], Path]) -> SignedSoFar:
    """Return how far a ledger is signed, as its verification tells it.

    Args:
        rows: The ledger.
        file: Gives the file of signed checkpoints, or says that there is no place for it.
    """
    try:
        last = signed_before(rows, file()).last
    except SealError as error:
        return SignedSoFar(0, str(error), is_broken=True)
    except LedgerError as error:
        return SignedSoFar(0, str(error))
    return SignedSoFar(last.size if last else 0)


def extension_from(rows: "Rows", file: Path, old_size: int) -> Extension:
    """Return the last checkpoint with the proof that it continues an earlier one.

    Args:
        rows: The ledger.
        file: The file of signed checkpoints.
        old_size: Number of entries that the earlier one covers; 0 where there is none.

    Raises:
        NotFoundError: Nothing is signed yet, the ledger has no key, or the file is lost.
        InputError: The earlier one is larger.
        ConflictError: The file belongs to another ledger.
        SealError: The ledger does not extend what was signed.
    """
    last = signed_before(rows, file).last
    if last is None:
        raise NotFoundError(
            "there is no signed checkpoint yet; sign one with `evenweight checkpoint`"
        )
    if not old_size:
        return Extension(0, (), last)
    step = (old_size, last.size)
    return Extension(old_size, consistency_proofs(rows, [step])[step], last)


def recorded_checkpoints(rows: "Rows") -> tuple[SignedCheckpoint, ...]:
    """Return the checkpoints that the entries record, in order of size."""
    found = SqlShelf(rows).of_kind("checkpoint.signed")
    return tuple(
        parse_signed(expect(one.record, CheckpointSigned).note) for one in found
    )


def check_extended(
    rows: "Rows", kept: Sequence[SignedCheckpoint], terms: Sequence[KeyTerm]
) -> Frontier:
    """Check that a ledger extends everything that was signed for it.

    Args:
        rows: The ledger.
        kept: What was signed, in order of size.
        terms: The keys of the ledger.

    Returns:
        The tree over the entries that the last checkpoint covers.

    Raises:
        ConflictError: A checkpoint is of another ledger.
        SealError: A signature does not hold, or the ledger is shorter or different.
    """
    if not kept:
        return Frontier()
    for one in kept:
        _check_origin(one, terms[0].key.name)
    entries, _ = head(rows)
    if kept[-1].size > entries:
        raise SealError(
            f"a checkpoint over {kept[-1].size} entries was signed, but the ledger holds "
            f"only {entries}: it was put back from an older copy, or entries were taken "
            "away; nothing is signed, so bring back the newest copy of the ledger, and if "
            "it is gone for good, tell your certifier and open a new ledger"
        )
    trees = trees_at(rows, [one.size for one in kept])
    for one in kept:
        if trees[one.size].root() != one.checkpoint.root:
            raise SealError(
                f"the first {one.size} entries are not those over which a checkpoint was "
                "signed: the ledger was put back from another copy and went on "
                "differently, or entries were changed; nothing is signed, so bring back "
                "the copy that was signed, and if it is gone for good, tell your certifier "
                "and open a new ledger"
            )
        _check_signature(one, terms)
    return trees[kept[-1].size]


def _check_origin(one: SignedCheckpoint, origin: str) -> None:
    if one.checkpoint.origin != origin:
        raise ConflictError(
            f"a checkpoint of {one.checkpoint.origin} lies where those of this ledger, "
            f"{origin}, belong; put back the file that belongs to this ledger"
        )


def _check_signature(one: SignedCheckpoint, terms: Sequence[KeyTerm]) -> None:
    if not signed_by(one.note, [term_for(terms, one.size).key]):
        raise SealError(
            f"the checkpoint over {one.size} entries is not signed by the key that was in "
            "force then; put back the newest copy of the file of signed checkpoints"
        )


def check_given(
    rows: "Rows",
    given: SignedCheckpoint,
    kept: Sequence[SignedCheckpoint],
) -> None:
    """Check a checkpoint that is to stand for those that were lost.

    Args:
        rows: The ledger.
        given: The last checkpoint that left the house.
        kept: What is still known to have been signed, in order of size.

    Raises:
        RefusedError: A later one is known.
    """
    if kept and given.size < kept[-1].size:
        raise RefusedError(
            f"the checkpoint given covers {given.size} entries, but one over "
            f"{kept[-1].size} was signed after it; give the last one"
        )
    check_extended(rows, [given], keys_of(rows))
