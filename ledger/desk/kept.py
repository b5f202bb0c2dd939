"""A checkpoint that somebody kept, held against the ledger as it stands."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ledger.audit.layout import TreeHead
from ledger.chain.checkpoint import parse_signed
from ledger.chain.tree import check_consistency
from ledger.desk.check import parse_kept
from ledger.errors import InputError, SealError
from ledger.store.entries import frontier
from ledger.store.proof import consistency_proofs

if TYPE_CHECKING:
    from ledger.store.rows import Rows


@dataclass(frozen=True, slots=True)
class Continued:
    """Whether a ledger continues what a checkpoint covers.

    Attributes:
        kept: What was kept.
        present: The tree head of the ledger.
        path: The proof (RFC 9162, 2.1.4), 32 bytes each; empty where it does not hold.
        problem: Why it does not hold; empty if it does.
    """

    kept: TreeHead
    present: TreeHead
    path: tuple[bytes, ...] = ()
    problem: str = ""

    @property
    def holds(self) -> bool:
        """Whether the ledger begins with the entries that were kept."""
        return not self.problem


def kept_in(text: str) -> TreeHead:
    """Read what somebody kept: the text of a signed checkpoint, or SIZE:ROOT.

    Raises:
        InputError: It is neither.
    """
    if "\n" not in text.strip():
        return parse_kept(text)
    # A text that went through a form or a mail has other line ends than it was signed
    # with; here only its size and root count.
    lines = text.replace("\r\n", "\n").strip("\n") + "\n"
    try:
        kept = parse_signed(lines).checkpoint
    except InputError as error:
        raise InputError(
            f"what you kept is not a signed checkpoint ({error}); paste the whole text of "
            "the file, or number of entries, colon and tree head"
        ) from error
    return TreeHead(kept.size, kept.root)


def continues(rows: "Rows", kept: TreeHead) -> Continued:
    """Hold the ledger against a tree head that somebody kept.

    Args:
        rows: The ledger.
        kept: What was kept.

    Raises:
        InputError: It covers no entry.
    """
    if kept.size < 1:
        raise InputError(
            "what you kept covers no entry, which shows nothing; take one that covers at "
            "least the first"
        )
    tree = frontier(rows)
    present = TreeHead(tree.size, tree.root())
    if kept.size > present.size:
        return Continued(
            kept,
            present,
            problem=f"you kept a checkpoint over {kept.size} entries, but the ledger has "
            f"{present.size}: what you saw was cut off",
        )
    step = (kept.size, present.size)
    path = consistency_proofs(rows, [step])[step]
    try:
        check_consistency(
            old_size=kept.size,
            old_root=kept.root,
            size=present.size,
            root=present.root,
            path=path,
        )
    except SealError as error:
        return Continued(kept, present, problem=str(error))
    return Continued(kept, present, path)
