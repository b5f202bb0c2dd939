"""What signing does: which key signs for the ledger, and how far its signatures count.

A checkpoint is signed by the key that is in force after the last entry it covers. A
rotation puts another key in force; a revocation ends the weight of a key's signatures
from some entry on, also of those that were made before it was recorded.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ledger.books.effect import Effects, Recorded, Subject, SubjectKind
from ledger.books.finding import refuse
from ledger.books.lookup import expect, opening
from ledger.books.shelf import Shelf
from ledger.chain.checkpoint import Checkpoint, parse_checkpoint
from ledger.chain.note import Key, parse_key, parse_note, signed_by
from ledger.chain.rotation import check_rotation
from ledger.errors import LedgerError, SealError
from ledger.trade.signing import CheckpointSigned, KeyRevoked, KeyRotated


@dataclass(frozen=True, slots=True)
class KeyTerm:
    """One key of a ledger, and which checkpoints it signs.

    Attributes:
        key: The key.
        since: Smallest size of a checkpoint that it signs.
        vouched: Whether the key before it signed that it follows; True for the first.
        revoked_from: First entry from which on its signatures count no more, if any.
    """

    key: Key
    since: int
    vouched: bool
    revoked_from: int | None

    def counts_for(self, size: int) -> bool:
        """Tell whether its signature under a checkpoint of a size counts."""
        return self.revoked_from is None or size <= self.revoked_from


def key_terms(shelf: Shelf) -> tuple[KeyTerm, ...]:
    """Return the keys of a ledger in the order in which they signed.

    Raises:
        EntryRefusedError: The ledger is not opened yet.
    """
    return terms_of(
        opening(shelf).public_key,
        rotations=shelf.of_kind("key.rotated"),
        revocations=shelf.of_kind("key.revoked"),
    )


def terms_of(
    first: str | None,
    *,
    rotations: Iterable[Recorded],
    revocations: Iterable[Recorded],
) -> tuple[KeyTerm, ...]:
    """Return the keys of a ledger in the order in which they signed.

    Args:
        first: The key that the opening entry names, if any.
        rotations: What was recorded of rotations, in order.
        revocations: What was recorded of revocations.

    Raises:
        InputError: A key or statement cannot be read.
        SealError: A rotation is not signed by its new key, or does not start from the
            key that was in force.
    """
    if first is None:
        return ()
    revoked = _revoked(revocations)
    terms = [
        KeyTerm(parse_key(first), 0, vouched=True, revoked_from=revoked.get(first))
    ]
    for found in rotations:
        rotation = expect(found.record, KeyRotated)
        old, new = parse_key(rotation.old_key), parse_key(rotation.new_key)
        signers = check_rotation(parse_note(rotation.note), old=old, new=new)
        if old != terms[-1].key:
            raise SealError(
                f"entry {found.seq} puts another key in the place of {old}, which was not "
                "in force"
            )
        vouched = old in signers and terms[-1].counts_for(found.seq + 1)
        terms.append(
            KeyTerm(
                new,
                found.seq + 1,
                vouched=vouched,
                revoked_from=revoked.get(rotation.new_key),
            )
        )
    return tuple(terms)


def _revoked(revocations: Iterable[Recorded]) -> dict[str, int]:
    earliest: dict[str, int] = {}
    for found in revocations:
        revoked = expect(found.record, KeyRevoked)
        known = earliest.get(revoked.key, revoked.from_entry)
        earliest[revoked.key] = min(known, revoked.from_entry)
    return earliest


def term_for(terms: Sequence[KeyTerm], size: int) -> KeyTerm:
    """Return the key that signs a checkpoint of a size; there must be a key."""
    return [term for term in terms if term.since <= size][-1]


def trusted_terms(terms: Sequence[KeyTerm], pinned: Key) -> tuple[KeyTerm, ...]:
    """Return the keys to which a chain of signed rotations leads from a pinned one.

    Forward from it, as long as each old key signed that the next follows; and back from
    it, because each new key signed which one it follows.

    Returns:
        The keys in order; none if the pinned key is not one of them.
    """
    places = [place for place, term in enumerate(terms) if term.key == pinned]
    if not places:
        return ()
    end = places[0] + 1
    while end < len(terms) and terms[end].vouched:
        end += 1
    return tuple(terms[:end])


def _key_subject(line: str) -> Subject:
    return Subject(SubjectKind.KEY, line)


def key_introduced(public_key: str | None) -> tuple[Subject, ...]:
    """Return what an opening entry brings in by its key, if it has one."""
    return () if public_key is None else (_key_subject(public_key),)


def effects_of_checkpoint(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what recording a checkpoint does: nothing to the books.

    Raises:
        EntryRefusedError: It covers entries that do not exist yet, or no more than the
            last one, or its text is not signed by the ledger's key.
    """
    checkpoint = expect(recorded.record, CheckpointSigned)
    if checkpoint.size > recorded.seq:
        raise refuse(
            "checkpoint-ahead",
            "size",
            f"size is {checkpoint.size}, but only {recorded.seq} entries come before "
            "it; sign the tree head of what is recorded",
        )
    _refuse_repeated(shelf, checkpoint)
    term = _term_in_force(shelf, checkpoint.size)
    _check_signed(checkpoint, term)
    if not term.counts_for(checkpoint.size):
        raise refuse(
            "key-revoked",
            "note",
            f"note is signed by a key that counts no more from entry "
            f"{term.revoked_from} on; make a new key with `evenweight rotate-key` and "
            "sign again",
        )
    return Effects(mentions=(_key_subject(str(term.key)),))


def _refuse_repeated(shelf: Shelf, checkpoint: CheckpointSigned) -> None:
    earlier = shelf.of_kind("checkpoint.signed")
    if not earlier:
        return
    last = expect(earlier[-1].record, CheckpointSigned).size
    if checkpoint.size <= last:
        raise refuse(
            "checkpoint-behind",
            "size",
            f"size is {checkpoint.size}, but entry {earlier[-1].seq} records a "
            f"checkpoint over {last} entries; each covers more than the one before",
        )


def _term_in_force(shelf: Shelf, size: int) -> KeyTerm:
    terms = key_terms(shelf)
    if not terms:
        raise refuse(
            "no-key",
            "",
            "the ledger was opened without a key, so nothing can be signed for it; open "
            "a new ledger with this program, which makes a key",
        )
    return term_for(terms, size)


def _check_signed(checkpoint: CheckpointSigned, term: KeyTerm) -> None:
    try:
        note = parse_note(checkpoint.note)
        said = parse_checkpoint(note.text)
        signed = signed_by(note, [term.key])
    except LedgerError as error:
        raise refuse(
            "note-unsigned", "note", f"note is not a signed checkpoint: {error}"
        ) from error
    stated = Checkpoint(
        term.key.name, checkpoint.size, bytes.fromhex(checkpoint.root), said.extension
    )
    if said != stated:
        raise refuse(
            "note-differs",
            "note",
            f"note signs {said.size} entries of {said.origin} with root "
            f"{said.root.hex()}, but the entry says {checkpoint.size} entries of "
            f"{term.key.name} with root {checkpoint.root}; sign with the command "
            "`evenweight checkpoint`, which records what it signed",
        )
    if not signed:
        raise refuse(
            "note-unsigned",
            "note",
            f"note is not signed by the key {term.key}, which is in force at "
            f"{checkpoint.size} entries; sign with the command `evenweight checkpoint`",
        )


def effects_of_rotation(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what rotating a key does: the new one signs what covers this entry.

    Raises:
        EntryRefusedError: The old key is not in force, or the statement is not signed
            by the new key.
    """
    rotation = expect(recorded.record, KeyRotated)
    term = _term_in_force(shelf, recorded.seq)
    if rotation.old_key != str(term.key):
        raise refuse(
            "key-not-in-force",
            "old_key",
            f"old_key is {rotation.old_key}, but {term.key} is in force; rotate that one",
        )
    try:
        check_rotation(
            parse_note(rotation.note), old=term.key, new=parse_key(rotation.new_key)
        )
    except LedgerError as error:
        raise refuse(
            "rotation-unsigned", "note", f"note does not hold: {error}"
        ) from error
    return Effects(
        introduces=(_key_subject(rotation.new_key),),
        mentions=(_key_subject(rotation.old_key),),
    )


def effects_of_revocation(shelf: Shelf, recorded: Recorded) -> Effects:
    """Return what revoking a key does: nothing to the books.

    Raises:
        EntryRefusedError: The key is none of the ledger's, or the entry from which on
            it counts no more is not recorded yet, or not earlier than was said before.
    """
    revoked = expect(recorded.record, KeyRevoked)
    terms = {str(term.key): term for term in key_terms(shelf)}
    if revoked.key not in terms:
        raise refuse(
            "unknown-key",
            "key",
            f"key is {revoked.key}, which never signed for this ledger; copy the line "
            "that `evenweight key` prints",
        )
    if revoked.from_entry > recorded.seq:
        raise refuse(
            "revoked-ahead",
            "from_entry",
            f"from_entry is {revoked.from_entry}, but only {recorded.seq} entries come "
            "before this one; name the entry since which others may have the key",
        )
    before = terms[revoked.key].revoked_from
    if before is not None and revoked.from_entry >= before:
        raise refuse(
            "revoked-already",
            "from_entry",
            f"from_entry is {revoked.from_entry}, but the key is revoked from entry "
            f"{before} on already; a revocation is never taken back",
        )
    return Effects(mentions=(_key_subject(revoked.key),))
