"""Receipts: one entry's place in the tree, as a text that its reader can keep.

Source:
    C2SP tlog-proof: a first line that names the format, an optional `extra` line, the
    index, the inclusion path (RFC 9162, 2.1.3) in base64, an empty line, and a checkpoint.
"""

import re
from dataclasses import dataclass
from typing import Final

from ledger.chain.base64_text import decode, encode
from ledger.chain.checkpoint import parse_checkpoint
from ledger.chain.note import Note, parse_note
from ledger.chain.tree import DIGEST_SIZE, check_inclusion
from ledger.errors import InputError

_FORMAT: Final = "c2sp.org/tlog-proof@v1"
_INDEX: Final = re.compile(r"index (0|[1-9][0-9]{0,15})")
MAX_PATH: Final = 64
"""No path is longer: a tree of 2^64 leaves has no more levels."""


@dataclass(frozen=True, slots=True)
class Receipt:
    """Proof that an entry is in the ledger that a checkpoint states.

    Attributes:
        index: Sequence number of the entry.
        path: Inclusion path, from the leaf up, 32 bytes each.
        checkpoint: The signed checkpoint.
        extra: Bytes that go with it, empty if none: here, the entry as stored.
    """

    index: int
    path: tuple[bytes, ...]
    checkpoint: Note
    extra: bytes = b""

    def __str__(self) -> str:
        lines = [_FORMAT]
        if self.extra:
            lines.append(f"extra {encode(self.extra)}")
        lines.append(f"index {self.index}")
        lines += [encode(digest) for digest in self.path]
        return "\n".join(lines) + f"\n\n{self.checkpoint}"


def parse_receipt(text: str) -> Receipt:
    """Return the receipt that a text is.

    Raises:
        InputError: It is not one.
    """
    head, gap, signed = text.partition("\n\n")
    lines = head.split("\n")
    if not gap or lines.pop(0) != _FORMAT:
        raise InputError(
            f"the text is not a receipt: its first line must be {_FORMAT}, and an empty "
            "line must stand before the checkpoint"
        )
    extra = b""
    if lines and lines[0].startswith("extra "):
        extra = _decoded(lines.pop(0).removeprefix("extra "))
    index = _INDEX.fullmatch(lines.pop(0)) if lines else None
    if index is None:
        raise InputError("the receipt does not state the index of its entry")
    path = tuple(_decoded(line) for line in lines)
    if len(path) > MAX_PATH or any(len(digest) != DIGEST_SIZE for digest in path):
        raise InputError(
            f"the receipt's path must be at most {MAX_PATH} digests of {DIGEST_SIZE} "
            "bytes in base64"
        )
    return Receipt(int(index[1]), path, parse_note(signed), extra)


def _decoded(text: str) -> bytes:
    raw = decode(text)
    if raw is None:
        raise InputError(f"{text[:60]!r} in the receipt is not base64")
    return raw


def check_receipt(receipt: Receipt, leaf: bytes) -> None:
    """Check that a leaf is in the tree that a receipt's checkpoint states.

    The checkpoint's signatures are checked apart, against keys that the reader had
    before.

    Raises:
        InputError: The checkpoint's text is not one.
        SealError: The leaf is not there.
    """
    head = parse_checkpoint(receipt.checkpoint.text)
    check_inclusion(
        leaf, index=receipt.index, size=head.size, path=receipt.path, root=head.root
    )
