"""Signed notes: a short text with signatures under it, as anyone can read them.

A note is a text that ends in a line break, an empty line, and one line for each
signature: an em dash, the signer's name, and base64 of the key's hash and the signature.

Source:
    C2SP signed-note (the note, key hashes, Ed25519 as type 0x01) and C2SP
    tlog-cosignature (timestamped Ed25519 cosignatures as type 0x04).
"""

import hashlib
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import IntEnum
from typing import TYPE_CHECKING, Final

from ledger.chain.base64_text import decode, encode
from ledger.errors import InputError, SealError

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

MAX_NOTE: Final = 64 * 1024
"""No note is longer, in characters."""
MAX_SIGNATURES: Final = 100
"""No note carries more signatures."""

_DASH: Final = "— "
_KEY_SIZE: Final = 32
_HASH_SIZE: Final = 4
_SIGNATURE_SIZE: Final = 64
_MOMENT_SIZE: Final = 8
_LAST_MOMENT: Final = 253_402_300_799
"""The last second of the year 9999, beyond which no calendar goes."""
_NAME: Final = re.compile(r"[^\s+]{1,200}")
# The points of small order by the bytes of their y, also as it may be written beyond the
# field. Under such a key one signature holds for many texts, so its owner could say later
# to have signed another.
# Source: Chalkias, Garillot, Nikolaenko, "Taming the many EdDSAs", 2020, section 4.
_WEAK: Final = frozenset(
    bytes.fromhex(y)
    for y in (
        "00" * 32,
        "01" + "00" * 31,
        "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05",
        "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a",
        "ec" + "ff" * 30 + "7f",
        "ed" + "ff" * 30 + "7f",
        "ee" + "ff" * 30 + "7f",
    )
)


class Algorithm(IntEnum):
    """How a key signs, by its number in the standard."""

    NOTE = 0x01
    COSIGNATURE = 0x04


@dataclass(frozen=True, slots=True)
class Key:
    """A public key with the name it signs under.

    Attributes:
        name: Name of the signer: no spaces and no plus sign.
        algorithm: How it signs.
        public: Ed25519 public key, 32 bytes.

    Raises:
        InputError: The name or the size of the key is wrong, or it is one under which
            a signature does not stand for one text.
    """

    name: str
    algorithm: Algorithm
    public: bytes

    def __post_init__(self) -> None:
        if not _NAME.fullmatch(self.name):
            raise InputError(
                f"{self.name!r} cannot name a key; use 1 to 200 characters without "
                "spaces and plus signs"
            )
        if len(self.public) != _KEY_SIZE:
            raise InputError(
                f"the key of {self.name} has {len(self.public)} bytes; an Ed25519 "
                f"public key has {_KEY_SIZE}"
            )
        if self.public[:-1] + bytes([self.public[-1] & 0x7F]) in _WEAK:
            raise InputError(
                f"the key of {self.name} is a weak one, under which one signature holds "
                "for many texts; no program makes such a key by chance, so ask where it "
                "comes from"
            )

    @property
    def hash(self) -> bytes:
        """Four bytes by which a signature names its key."""
        named = self.name.encode() + b"\n" + bytes([self.algorithm]) + self.public
        return hashlib.sha256(named).digest()[:_HASH_SIZE]

    def __str__(self) -> str:
        """Write the key in the one line that is given to whoever verifies."""
        encoded = encode(bytes([self.algorithm]) + self.public)
        return f"{self.name}+{self.hash.hex()}+{encoded}"


@dataclass(frozen=True, slots=True)
class Signature:
    """One signature line: who says it signed, under which key hash, and the bytes."""

    name: str
    key_hash: bytes
    raw: bytes

    @property
    def stated_moment(self) -> int | None:
        """Seconds since 1970-01-01 UTC that a cosignature states, unchecked; else None."""
        if len(self.raw) != _MOMENT_SIZE + _SIGNATURE_SIZE:
            return None
        moment = int.from_bytes(self.raw[:_MOMENT_SIZE], "big")
        return moment if moment <= _LAST_MOMENT else None

    def __str__(self) -> str:
        encoded = encode(self.key_hash + self.raw)
        return f"{_DASH}{self.name} {encoded}"


@dataclass(frozen=True, slots=True)
class Note:
    """A text and the signatures under it.

    Attributes:
        text: What is signed; ends in a line break.
        signatures: In the order they stand.
    """

    text: str
    signatures: tuple[Signature, ...]

    def __str__(self) -> str:
        lines = "".join(f"{signature}\n" for signature in self.signatures)
        return f"{self.text}\n{lines}"


@dataclass(frozen=True, slots=True)
class Signed:
    """A signature that holds.

    Attributes:
        key: The key it holds under.
        moment: Seconds since 1970-01-01 UTC that a cosignature states; None for others.
    """

    key: Key
    moment: int | None


def parse_key(text: str) -> Key:
    """Return the public key that one line states.

    Raises:
        InputError: It is not such a line, or its parts do not agree.
    """
    name, _, rest = text.strip().partition("+")
    stated, _, encoded = rest.partition("+")
    raw = decode(encoded)
    if raw is None or len(raw) != _KEY_SIZE + 1 or raw[0] not in set(Algorithm):
        raise InputError(
            "the key is not of the form name+hash+base64 with an Ed25519 key; copy the "
            "whole line as its owner gave it"
        )
    key = Key(name, Algorithm(raw[0]), raw[1:])
    if key.hash.hex() != stated:
        raise InputError(
            f"the key of {name} states hash {stated}, but its hash is {key.hash.hex()}; "
            "copy the whole line again from where you had it"
        )
    return key


def parse_note(text: str) -> Note:
    """Return the note that a text is.

    Raises:
        InputError: It is not a note: no empty line, no signature, or a malformed one.
    """
    if len(text) > MAX_NOTE:
        raise InputError(f"the note is longer than {MAX_NOTE} characters")
    body, gap, below = text.rpartition("\n\n")
    lines = below.split("\n")
    if not gap or not lines or lines.pop() or not lines or len(lines) > MAX_SIGNATURES:
        raise InputError(
            "the text is not a signed note: it must end in an empty line and at least "
            f"one and at most {MAX_SIGNATURES} signature lines"
        )
    return Note(body + "\n", tuple(_parse_signature(line) for line in lines))


def _parse_signature(line: str) -> Signature:
    name, _, encoded = line.removeprefix(_DASH).partition(" ")
    raw = decode(encoded)
    if not line.startswith(_DASH) or not _NAME.fullmatch(name) or raw is None:
        raise InputError(f"{line[:80]!r} is not a signature line of a note")
    if len(raw) <= _HASH_SIZE:
        raise InputError(f"the signature of {name} is too short to be one")
    return Signature(name, raw[:_HASH_SIZE], raw[_HASH_SIZE:])


def sign(
    text: str, key: Key, private: "Ed25519PrivateKey", *, moment: int = 0
) -> Signature:
    """Sign the text of a note.

    Args:
        text: The text; ends in a line break.
        key: The public key, with the name to sign under.
        private: Its private key.
        moment: Seconds since 1970-01-01 UTC, for a cosignature.

    Raises:
        InputError: The text cannot be signed, or the two keys do not belong together.
    """
    if not text.endswith("\n") or "\n\n" in text:
        raise InputError(
            "the text of a note must end in a line break and have no empty line"
        )
    if private.public_key().public_bytes_raw() != key.public:
        raise InputError(f"the private key is not that of {key.name}")
    if key.algorithm is Algorithm.NOTE:
        return Signature(key.name, key.hash, private.sign(text.encode()))
    stamped = moment.to_bytes(_MOMENT_SIZE, "big")
    return Signature(
        key.name, key.hash, stamped + private.sign(_cosigned(text, moment))
    )


def _cosigned(text: str, moment: int) -> bytes:
    return f"cosignature/v1\ntime {moment}\n{text}".encode()


def signed_by(note: Note, keys: Iterable[Key]) -> tuple[Signed, ...]:
    """Return the signatures of a note that hold under known keys.

    Signatures under other keys are passed over, as the standard asks: they prove nothing.

    Raises:
        SealError: A signature names a known key and does not hold under it.
    """
    return tuple(found for key in keys for found in _signed_by(note, key))


def _signed_by(note: Note, key: Key) -> Iterator[Signed]:
    for signature in note.signatures:
        if (signature.name, signature.key_hash) != (key.name, key.hash):
            continue
        moment, raw, message = None, signature.raw, note.text.encode()
        if key.algorithm is Algorithm.COSIGNATURE:
            moment = int.from_bytes(raw[:_MOMENT_SIZE], "big")
            raw, message = raw[_MOMENT_SIZE:], _cosigned(note.text, moment)
        if len(raw) != _SIGNATURE_SIZE or not _holds(key.public, raw, message):
            raise SealError(
                f"the signature of {key.name} does not hold: the text was changed after "
                "it was signed, or somebody else signed under that name"
            )
        yield Signed(key, moment)


def _holds(public: bytes, signature: bytes, message: bytes) -> bool:
    # Loaded on first use: a question that verifies nothing does not wait for it.
    from cryptography.exceptions import InvalidSignature  # noqa: PLC0415
    from cryptography.hazmat.primitives.asymmetric.ed25519 import (  # noqa: PLC0415
        Ed25519PublicKey,
    )

    try:
        Ed25519PublicKey.from_public_bytes(public).verify(signature, message)
    except (InvalidSignature, ValueError):
        return False
    return True
