"""Witnessing: a second party signs that it saw a checkpoint, and nothing against it."""

from pathlib import Path
from typing import TYPE_CHECKING

from ledger.audit.heads import read_heads
from ledger.books.signing import KeyTerm, term_for, trusted_terms
from ledger.chain.checkpoint import SignedCheckpoint
from ledger.chain.extension import Extension, check_extension, parse_extension
from ledger.chain.note import Algorithm, Key, parse_key, sign, signed_by
from ledger.desk.enrolment import Maker, maker_signing_as, remember
from ledger.errors import InputError, RefusedError, SealError
from ledger.intake.folder import read_bytes

if TYPE_CHECKING:
    from datetime import datetime

    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey


def witness_key(name: str, private: "Ed25519PrivateKey") -> Key:
    """Return the public key under which a witness cosigns.

    Raises:
        InputError: The name cannot name a key.
    """
    return Key(name, Algorithm.COSIGNATURE, private.public_key().public_bytes_raw())


def line_file(key_file: Path) -> Path:
    """Return where the public line of a witness's key is kept: beside it."""
    return Path(f"{key_file}.pub")


def read_witness_key(key_file: Path) -> Key:
    """Return the public key that goes with a witness's private one.

    Raises:
        InputError: The line beside it cannot be read, or is not a witness's.
    """
    path = line_file(key_file)
    try:
        key = parse_key(read_bytes(path).decode())
    except (InputError, UnicodeDecodeError) as error:
        raise InputError(
            f"{path} does not hold the line of your key ({error}); make a key with "
            "`evenweight witness-key`"
        ) from error
    if key.algorithm is not Algorithm.COSIGNATURE:
        raise InputError(f"the key in {path} is not a witness's; make one of your own")
    return key


def cosign_by_pack(
    signed: SignedCheckpoint,
    pack: Path,
    folder: Path,
    *,
    key: Key,
    private: "Ed25519PrivateKey",
    moment: "datetime",
) -> SignedCheckpoint:
    """Cosign a checkpoint after comparing it with the entries of a pack.

    Args:
        signed: The checkpoint.
        pack: A pack that holds all entries it covers.
        folder: The witness's folder, in which the maker is enrolled.
        key: The witness's key.
        private: Its private half.
        moment: Now, in UTC.

    Returns:
        The checkpoint with the cosignature. It is remembered before this returns.

    Raises:
        NotFoundError: The maker is not enrolled.
        RefusedError: The checkpoint is older than one that was seen already.
        SealError: It does not continue what was seen last, is not that of the entries,
            or is not signed by a key that the pinned one vouches for.
    """
    maker = maker_signing_as(folder, signed.checkpoint.origin)
    sizes = {signed.size} | ({maker.last.size} if maker.last else set())
    read = read_heads(pack, sizes)
    if read.size < signed.size:
        raise SealError(
            f"the pack holds {read.size} entries, fewer than the {signed.size} of the "
            "checkpoint; ask for a pack that was made after it"
        )
    if read.roots[signed.size] != signed.checkpoint.root:
        raise SealError(
            f"the checkpoint over {signed.size} entries is not that of the entries in the "
            "pack; do not cosign it, keep both and ask the maker"
        )
    check_signed(signed, trusted_terms(read.terms, maker.key), maker)
    _refuse_older(signed, maker)
    if maker.last is not None:
        check_continues(maker.last, read.roots.get(maker.last.size))
    return _cosigned(signed, maker, key, private, moment)


def cosign_by_proof(
    signed: SignedCheckpoint,
    proof: str,
    folder: Path,
    *,
    key: Key,
    private: "Ed25519PrivateKey",
    moment: "datetime",
) -> SignedCheckpoint:
    """Cosign a checkpoint after checking a consistency proof.

    Without the entries a rotated key cannot be followed, so the pinned one must have
    signed.

    Args:
        signed: The checkpoint.
        proof: The proof from the last checkpoint seen, as `evenweight proof` writes it.
        folder: The witness's folder, in which the maker is enrolled.
        key: The witness's key.
        private: Its private half.
        moment: Now, in UTC.

    Returns:
        The checkpoint with the cosignature. It is remembered before this returns.

    Raises:
        InputError: The proof cannot be read, or is for another checkpoint.
        NotFoundError: The maker is not enrolled.
        RefusedError: The checkpoint is older than one that was seen already, or the
            proof starts from another one than was seen last.
        SealError: It does not continue what was seen last, or is not signed by the
            pinned key.
    """
    extension = parse_extension(proof)
    if extension.signed.note.text != signed.note.text:
        raise InputError(
            f"the proof is for a checkpoint over {extension.signed.size} entries, not for "
            f"the one given over {signed.size}; ask for the proof of this one"
        )
    maker = maker_signing_as(folder, signed.checkpoint.origin)
    pinned = KeyTerm(maker.key, 0, vouched=True, revoked_from=None)
    check_signed(signed, (pinned,), maker)
    _refuse_older(signed, maker)
    if maker.last is not None:
        _check_from(extension, maker.last)
    return _cosigned(signed, maker, key, private, moment)


def _check_from(extension: Extension, last: SignedCheckpoint) -> None:
    if extension.old_size != last.size:
        raise RefusedError(
            f"the proof starts at {extension.old_size} entries, but the last checkpoint "
            f"seen here covers {last.size}; ask for `evenweight proof {last.size}`"
        )
    try:
        check_extension(extension, old_root=last.checkpoint.root)
    except SealError as error:
        raise contradiction(last) from error


def check_signed(
    signed: SignedCheckpoint, trusted: tuple[KeyTerm, ...], maker: Maker
) -> None:
    """Check that a checkpoint is signed by the trusted key that is in force at its size.

    Raises:
        SealError: It is not, or that key is revoked from an earlier entry on.
    """
    if not trusted:
        raise SealError(
            f"the key pinned for {maker.name} is none of the ledger's; it may be another "
            "ledger under the same name, so ask the maker in person"
        )
    term = term_for(trusted, signed.size)
    if not signed_by(signed.note, [term.key]):
        raise SealError(
            f"the checkpoint over {signed.size} entries is not signed by a key that the "
            f"one pinned for {maker.name} vouches for; ask the maker in person for the "
            "line of the present key, and enrol it with --replace"
        )
    if not term.counts_for(signed.size):
        raise SealError(
            f"the checkpoint over {signed.size} entries is signed by a key that counts no "
            f"more from entry {term.revoked_from} on: others may have it; ask the maker "
            "in person for the line of the new key, and enrol it with --replace"
        )


def _refuse_older(signed: SignedCheckpoint, maker: Maker) -> None:
    if maker.last is not None and signed.size < maker.last.size:
        raise RefusedError(
            f"the checkpoint covers {signed.size} entries, but one over "
            f"{maker.last.size} was seen already: entries were taken away at the end, or "
            "it is an old checkpoint; ask for the present one"
        )


def check_continues(last: SignedCheckpoint, root: bytes | None) -> None:
    """Check that entries continue the last checkpoint that was seen.

    Args:
        last: The checkpoint.
        root: Root over as many of the entries, or None if there are fewer.

    Raises:
        SealError: They do not.
    """
    if root is None:
        raise SealError(
            f"the record is shorter than the {last.size} entries of the checkpoint that "
            "was seen last: entries were taken away at the end"
        )
    if root != last.checkpoint.root:
        raise contradiction(last)


def contradiction(last: SignedCheckpoint) -> SealError:
    """Return the error that says that two signed histories contradict each other."""
    return SealError(
        f"the first {last.size} entries are not those of the checkpoint that was seen "
        "last: one of them was edited, deleted, put in or moved, or the record was written "
        "anew or split into two histories; keep both signed checkpoints, because together "
        "they prove it"
    )


def _cosigned(
    signed: SignedCheckpoint,
    maker: Maker,
    key: Key,
    private: "Ed25519PrivateKey",
    moment: "datetime",
) -> SignedCheckpoint:
    signature = sign(signed.note.text, key, private, moment=int(moment.timestamp()))
    # Remembered before it is given out, so that the other history is never cosigned.
    remember(maker, signed)
    return signed.with_signatures([signature])


def add_cosignature(
    file: Path, kept: tuple[SignedCheckpoint, ...], given: SignedCheckpoint, key: Key
) -> "datetime":
    """Add a witness's cosignature to a checkpoint that is kept, and return its moment.

    Args:
        file: The file of signed checkpoints.
        kept: What is in it.
        given: The checkpoint as the witness gave it back.
        key: The witness's key.

    Raises:
        InputError: The checkpoint is none of those kept.
        RefusedError: The witness did not cosign it.
        SealError: The cosignature does not hold.
    """
    from datetime import UTC, datetime

    from ledger.chain.note import Note
    from ledger.store.checkpoint_file import add_to_checkpoint_file

    known = next((one for one in kept if one.note.text == given.note.text), None)
    if known is None:
        raise InputError(
            f"the checkpoint over {given.size} entries is none that was signed here; give "
            "back the note as the witness returned it"
        )
    found = signed_by(given.note, [key])
    if not found or found[0].moment is None:
        raise RefusedError(
            f"{key.name} did not cosign the checkpoint over {given.size} entries with that "
            "key; ask the witness for its line"
        )
    own = [
        one
        for one in given.note.signatures
        if (one.name, one.key_hash) == (key.name, key.hash)
    ]
    if known.with_signatures(own) != known:
        add_to_checkpoint_file(file, Note(given.note.text, tuple(own)))
    return datetime.fromtimestamp(found[0].moment, UTC)
