"""Rotation: a statement that one key follows another, signed by both.

The statement is a signed note like a checkpoint, but its first line is no name of a
ledger, so that neither can ever pass for the other.
"""

from hashlib import sha256
from typing import Final

from ledger.chain.note import Algorithm, Key, Note, signed_by
from ledger.errors import InputError, SealError

_HEADING: Final = "evenweight key rotation v1"
_UNIQUE_DIGITS: Final = 16


def origin_of(organisation: str, public: bytes) -> str:
    """Return the name under which a ledger signs, the same as long as it lasts.

    Args:
        organisation: Short name of the maker.
        public: The ledger's first public key. Its digest makes the name unique: no two
            ledgers have the same first key.
    """
    return f"{organisation}/{sha256(public).hexdigest()[:_UNIQUE_DIGITS]}"


def rotation_text(old: Key, new: Key) -> str:
    """Return the text that both keys sign when one follows the other.

    Raises:
        InputError: The keys have different names or sign in different ways, or they are
            the same.
    """
    if old.name != new.name or {old.algorithm, new.algorithm} != {Algorithm.NOTE}:
        raise InputError(
            f"the key of {new.name} cannot follow that of {old.name}: a ledger signs "
            "under one name as long as it lasts, with keys for notes"
        )
    if old.public == new.public:
        raise InputError(f"the key of {old.name} cannot follow itself; make a new one")
    return f"{_HEADING}\n{old.name}\nold {old}\nnew {new}\n"


def check_rotation(note: Note, *, old: Key, new: Key) -> frozenset[Key]:
    """Return which of two keys signed that one follows the other.

    The new one always did. If the old one did not, because it is lost, nobody who
    trusts it has a reason to trust the new one.

    Raises:
        InputError: The keys cannot follow one another.
        SealError: The note says something else, the new key did not sign it, or a
            signature does not hold.
    """
    if note.text != rotation_text(old, new):
        raise SealError(
            f"the signed text does not say that the new key of {new.name} follows the "
            "old one; rotate the key with the command, which writes and signs it"
        )
    signers = frozenset(signed.key for signed in signed_by(note, (old, new)))
    if new not in signers:
        raise SealError(
            f"the new key of {new.name} did not sign that it follows the old one, so "
            "whoever named it may not have it; rotate the key with the command"
        )
    return signers
