"""What a pack carries of what was signed: checkpoints, proofs between them, timestamps."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

from ledger.books.signing import key_terms
from ledger.chain.checkpoint import SignedCheckpoint
from ledger.chain.extension import Extension
from ledger.desk.signed import check_extended, recorded_checkpoints, signed_before
from ledger.desk.timestamp import kept_timestamps
from ledger.store.proof import consistency_proofs
from ledger.store.shelf import SqlShelf

if TYPE_CHECKING:
    from ledger.store.rows import Rows


@dataclass(frozen=True, slots=True)
class Signed:
    """What was signed for a ledger.

    Attributes:
        checkpoints: In order of size, with all their signatures.
        extensions: The proof of each but the first that it continues the one before.
        timestamps: What authorities answered, by the size of the checkpoint.
    """

    checkpoints: tuple[SignedCheckpoint, ...] = ()
    extensions: tuple[Extension, ...] = ()
    timestamps: Mapping[int, bytes] = field(default_factory=dict)


def signed_for_pack(
    rows: "Rows", *, file: Callable[[], Path], timestamps: Callable[[], Path]
) -> Signed:
    """Return what was signed for a ledger, after checking that the ledger extends it.

    A copy of the database alone has no file of checkpoints beside it; then those that
    its entries record are taken, which carry no cosignatures.

    Args:
        rows: The ledger.
        file: Gives the file of signed checkpoints.
        timestamps: Gives the folder of timestamps.

    Raises:
        NotFoundError: The ledger signs, but there is no place for either.
        ConflictError: The file belongs to another ledger.
        SealError: The ledger does not extend what was signed.
    """
    terms = key_terms(SqlShelf(rows))
    if not terms:
        return Signed()
    if file().exists():
        kept = signed_before(rows, file()).checkpoints
    else:
        kept = recorded_checkpoints(rows)
        check_extended(rows, kept, terms)
    steps = [(one.size, other.size) for one, other in pairwise(kept)]
    proofs = consistency_proofs(rows, steps)
    extensions = tuple(
        Extension(old, proofs[old, signed.size], signed)
        for (old, _), signed in zip(steps, kept[1:], strict=True)
    )
    return Signed(kept, extensions, kept_timestamps(timestamps()))
