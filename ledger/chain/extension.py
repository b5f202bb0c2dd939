"""Extensions: the proof that a checkpoint continues an earlier one, as a text.

It is what a witness is given: how many entries it saw last, the consistency proof from
there, and the checkpoint that it is to cosign.

Source:
    C2SP tlog-witness, the body of an add-checkpoint request; RFC 9162, section 2.1.4.
"""

import re
from dataclasses import dataclass
from typing import Final

from ledger.chain.base64_text import decode, encode
from ledger.chain.checkpoint import SignedCheckpoint, parse_signed
from ledger.chain.tree import DIGEST_SIZE, check_consistency
from ledger.errors import InputError, SealError

MAX_PATH: Final = 63
"""No proof is longer, as the standard has it."""

_OLD: Final = re.compile(r"old (0|[1-9][0-9]{0,15})")


@dataclass(frozen=True, slots=True)
class Extension:
    """A checkpoint with the proof that it continues an earlier one.

    Attributes:
        old_size: Number of entries that the earlier one covers; 0 where there is none.
        path: Consistency proof, 32 bytes each; empty if the sizes are equal or the
            earlier one is empty.
        signed: The checkpoint.
    """

    old_size: int
    path: tuple[bytes, ...]
    signed: SignedCheckpoint

    def __str__(self) -> str:
        lines = "".join(f"{encode(digest)}\n" for digest in self.path)
        return f"old {self.old_size}\n{lines}\n{self.signed.note}"


def parse_extension(text: str) -> Extension:
    """Return the extension that a text is.

    Raises:
        InputError: It is not one.
    """
    head, gap, note = text.partition("\n\n")
    first, *lines = head.split("\n")
    old = _OLD.fullmatch(first)
    path = tuple(decode(line) or b"" for line in lines)
    if not gap or old is None or len(path) > MAX_PATH:
        raise InputError(
            "the text is not a proof for a witness: it begins with a line such as "
            f"`old 812`, then come up to {MAX_PATH} digests, an empty line and the "
            "checkpoint"
        )
    if any(len(digest) != DIGEST_SIZE for digest in path):
        raise InputError(f"a digest of the proof is not {DIGEST_SIZE} bytes in base64")
    return Extension(int(old[1]), path, parse_signed(note))


def check_extension(extension: Extension, *, old_root: bytes) -> None:
    """Check that a checkpoint continues an earlier one.

    Args:
        extension: The proof; it must start at one entry or more.
        old_root: Root of the earlier checkpoint, as its reader kept it.

    Raises:
        SealError: It does not.
    """
    head = extension.signed.checkpoint
    if extension.old_size > head.size:
        raise SealError(
            f"a checkpoint over {head.size} entries cannot continue one over "
            f"{extension.old_size}"
        )
    check_consistency(
        old_size=extension.old_size,
        old_root=old_root,
        size=head.size,
        root=head.root,
        path=extension.path,
    )
