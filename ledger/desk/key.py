"""Keys: which one signs, putting another in its place, and ending one's weight."""

from datetime import date
from typing import TYPE_CHECKING

from ledger.books.signing import KeyTerm
from ledger.chain.note import Key, Note, sign
from ledger.chain.rotation import rotation_text
from ledger.desk.record import record
from ledger.desk.signed import keys_of
from ledger.desk.writing import Writing
from ledger.errors import ConflictError

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey


def rotate_key(
    writing: Writing,
    old: "Ed25519PrivateKey | None",
    new: "Ed25519PrivateKey",
    *,
    reason: str,
    on: date,
) -> Key:
    """Record that another key signs from here on, and return it.

    Args:
        writing: The open transaction.
        old: The key that signed so far; None if it is lost. Then only the new one signs
            the statement, and whoever trusted the old one must be told in person.
        new: The new key.
        reason: Why.
        on: The day.

    Raises:
        NotFoundError: The ledger has no key.
        ConflictError: The old key is not the one in force.
        EntryRefusedError: The books refuse it.
    """
    before = keys_of(writing.rows)[-1].key
    after = Key(before.name, before.algorithm, new.public_key().public_bytes_raw())
    text = rotation_text(before, after)
    signatures = [sign(text, after, new)]
    if old is not None:
        if old.public_key().public_bytes_raw() != before.public:
            raise ConflictError(
                f"the private key at hand is not that of {before}, which is in force; "
                "bring back its file, or say with --old-key-lost that it is gone"
            )
        signatures.insert(0, sign(text, before, old))
    record(
        writing,
        "key.rotated",
        on,
        {
            "old_key": str(before),
            "new_key": str(after),
            "reason": reason,
            "note": str(Note(text, tuple(signatures))),
        },
    )
    return after


def revoke_key(
    writing: Writing, key: str | None, *, from_entry: int, reason: str, on: date
) -> KeyTerm:
    """Record that signatures of a key count no more, and return how it stands then.

    Args:
        writing: The open transaction.
        key: Its line; the key in force where left out.
        from_entry: First entry from which on its signatures count no more.
        reason: What happened.
        on: The day.

    Raises:
        NotFoundError: The ledger has no key.
        EntryRefusedError: The books refuse it.
    """
    line = key or str(keys_of(writing.rows)[-1].key)
    record(
        writing,
        "key.revoked",
        on,
        {"key": line, "from_entry": from_entry, "reason": reason},
    )
    [term] = [term for term in keys_of(writing.rows) if str(term.key) == line]
    return term
