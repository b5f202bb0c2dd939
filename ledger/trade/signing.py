"""Signing: the tree head that was signed, and the keys that sign it."""

from typing import Annotated, ClassVar

from pydantic import AfterValidator, Field, WithJsonSchema

from ledger.chain.note import Algorithm, parse_key
from ledger.errors import InputError
from ledger.trade.codes import Digest
from ledger.trade.quantity import Count
from ledger.trade.record import Record, Text


def _check_key(line: str) -> str:
    try:
        key = parse_key(line)
    except InputError as error:
        raise ValueError(str(error)) from error
    if key.algorithm is not Algorithm.NOTE or str(key) != line:
        raise ValueError(
            f"the key of {key.name} is not one that signs for a ledger; copy the line "
            "that `evenweight key` prints"
        )
    return line


KeyLine = Annotated[
    str,
    AfterValidator(_check_key),
    WithJsonSchema(
        {
            "type": "string",
            "pattern": r"^[^\s+]{1,200}\+[0-9a-f]{8}\+[A-Za-z0-9+/=]{44}$",
        }
    ),
]
"""A public key in one line: name, hash and Ed25519 key. Source: C2SP signed-note."""

SignedText = Annotated[str, Field(min_length=1, max_length=4000)]
"""A text with its signatures, as it was signed. Source: C2SP signed-note."""


class CheckpointSigned(Record):
    """The tree head over the first entries was signed."""

    kind: ClassVar[str] = "checkpoint.signed"

    size: Count
    """Number of entries it covers."""
    root: Digest
    """Tree head (RFC 9162, 2.1.1), in hexadecimal."""
    note: SignedText
    """The signed text."""


class KeyRotated(Record):
    """From here on another key signs."""

    kind: ClassVar[str] = "key.rotated"

    old_key: KeyLine
    """Public key that signed so far."""
    new_key: KeyLine
    """Public key that signs what covers this entry."""
    reason: Text
    """Why, such as every second year, or old key lost."""
    note: SignedText
    """The statement that one key follows the other, signed by both, or by the new one \
alone where the old one is lost."""


class KeyRevoked(Record):
    """Signatures of a key count no more, because others may have it."""

    kind: ClassVar[str] = "key.revoked"

    key: KeyLine
    """Public key, the present one or an earlier one."""
    from_entry: Count
    """First entry from which on its signatures count no more."""
    reason: Text
    """What happened, and how it was found out."""
