"""Checkpoints: the tree head as a text that can be signed, kept and compared.

Source:
    C2SP tlog-checkpoint: origin, size, and root in base64, one a line.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from ledger.chain.base64_text import decode, encode
from ledger.chain.canonical import MAX_INTEGER
from ledger.chain.note import Note, Signature, parse_note
from ledger.chain.tree import DIGEST_SIZE
from ledger.errors import InputError

_SIZE: Final = re.compile(r"0|[1-9][0-9]{0,15}")


@dataclass(frozen=True, slots=True)
class Checkpoint:
    """A tree head.

    Attributes:
        origin: Name of the ledger; the same in every checkpoint of it.
        size: Number of entries it covers.
        root: Root of the Merkle tree over them, 32 bytes (RFC 9162, 2.1.1).
        extension: Further lines of the text, if any.
    """

    origin: str
    size: int
    root: bytes
    extension: tuple[str, ...] = ()

    def __str__(self) -> str:
        lines = (
            self.origin,
            str(self.size),
            encode(self.root),
            *self.extension,
        )
        return "".join(f"{line}\n" for line in lines)


def parse_checkpoint(text: str) -> Checkpoint:
    """Return the checkpoint that the text of a note states.

    Raises:
        InputError: The text is not one.
    """
    lines = text.split("\n")
    if lines.pop() or len(lines) < len(("origin", "size", "root")) or not all(lines):
        raise InputError(
            "the text is not a checkpoint: it needs the ledger's name, a size and a "
            "root, each on a line of its own, and no empty line"
        )
    origin, size, encoded, *extension = lines
    if not _SIZE.fullmatch(size) or int(size) > MAX_INTEGER:
        raise InputError(
            f"the checkpoint's size is {size[:40]!r}, which is not a count"
        )
    root = decode(encoded)
    if root is None or len(root) != DIGEST_SIZE:
        raise InputError(
            f"the checkpoint's root is {encoded[:60]!r}, which is not {DIGEST_SIZE} "
            "bytes in base64"
        )
    return Checkpoint(origin, int(size), root, tuple(extension))


@dataclass(frozen=True, slots=True)
class SignedCheckpoint:
    """A checkpoint with the note that carries its signatures.

    Attributes:
        checkpoint: What the note states.
        note: The note.
    """

    checkpoint: Checkpoint
    note: Note

    @property
    def size(self) -> int:
        """Number of entries it covers."""
        return self.checkpoint.size

    def with_signatures(self, others: Iterable[Signature]) -> "SignedCheckpoint":
        """Return it with further signatures, each of them once."""
        signatures = tuple(dict.fromkeys((*self.note.signatures, *others)))
        return SignedCheckpoint(self.checkpoint, Note(self.note.text, signatures))


def parse_signed(text: str) -> SignedCheckpoint:
    """Return the signed checkpoint that a text is; no signature is checked.

    Raises:
        InputError: It is not a note, or its text is not a checkpoint.
    """
    note = parse_note(text)
    return SignedCheckpoint(parse_checkpoint(note.text), note)
