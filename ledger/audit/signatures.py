"""Who signed the record, how far, and whether the reader has a reason to believe it.

A signature under a key that came with the pack proves only that the pack agrees with
itself. It counts under the key that the reader pinned on enrolment, and under those to
which that key's own signatures lead.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from ledger.audit.layout import (
    CHECKPOINTS,
    TIMESTAMPS,
    checkpoint_size,
    step_sizes,
    timestamp_size,
)
from ledger.audit.proofs import check_proofs
from ledger.audit.record import RecordRead
from ledger.audit.replay import TRIPPED
from ledger.audit.source import Source, text_of, whole
from ledger.audit.verdict import Part, Where
from ledger.books.lookup import expect
from ledger.books.signing import KeyTerm, key_terms, term_for, trusted_terms
from ledger.chain.checkpoint import SignedCheckpoint, parse_signed
from ledger.chain.note import MAX_NOTE, Key, signed_by
from ledger.errors import LedgerError, SealError
from ledger.trade.signing import CheckpointSigned

if TYPE_CHECKING:
    from cryptography.x509 import Certificate


@dataclass(frozen=True, slots=True)
class Pinned:
    """What a reader knows from elsewhere, and never from the pack.

    Attributes:
        key: The maker's key, as it was given on enrolment.
        witnesses: Keys of witnesses whose word counts with this reader.
        authorities: Certificates of timestamp authorities that this reader trusts.
    """

    key: Key | None = None
    witnesses: tuple[Key, ...] = ()
    authorities: tuple["Certificate", ...] = ()


@dataclass(frozen=True, slots=True)
class Seen:
    """Somebody else's word that the first entries were there by some moment.

    Attributes:
        size: Number of entries.
        moment: The moment, in UTC.
        who: Who says so.
    """

    size: int
    moment: datetime
    who: str


@dataclass(slots=True)
class SignaturesRead:
    """What came of checking signatures.

    Attributes:
        pinned: What the reader knows from elsewhere.
        terms: The keys of the ledger, in order.
        checkpoints: Those in the pack that can be read, in order of size.
        trusted: The largest checkpoint under a key that the reader has a reason to trust.
        signed: Whether every checkpoint is that of the entries and signed.
        proofs: Whether every consistency proof holds.
        trust: Whether the last checkpoint is signed by a key that is trusted.
        seen: What witnesses and authorities say that the reader trusts.
        stamps: Whether the timestamps hold, as far as they can be checked.
        unchecked_stamps: Number of timestamps for which no certificate was given.
    """

    pinned: Pinned
    terms: tuple[KeyTerm, ...] = ()
    checkpoints: tuple[SignedCheckpoint, ...] = ()
    trusted: SignedCheckpoint | None = None
    signed: Part = field(default_factory=lambda: Part("signed checkpoints"))
    proofs: Part = field(default_factory=lambda: Part("proofs between checkpoints"))
    trust: Part = field(default_factory=lambda: Part("key pinned on enrolment"))
    seen: list[Seen] = field(default_factory=list)
    stamps: Part = field(default_factory=lambda: Part("timestamps"))
    unchecked_stamps: int = 0


def checkpoint_sizes(names: Sequence[str]) -> frozenset[int]:
    """Return the sizes for which the files of a pack need roots."""
    steps = [step for name in names if (step := step_sizes(name))]
    sizes = [size for name in names if (size := checkpoint_size(name))]
    return frozenset([*sizes, *(size for step in steps for size in step)])


def check_signatures(
    source: Source, read: RecordRead, pinned: Pinned
) -> SignaturesRead:
    """Check checkpoints, keys, cosignatures, proofs and timestamps of a pack.

    Args:
        source: The pack.
        read: What reading its record found, with the roots at `checkpoint_sizes`.
        pinned: What the reader knows from elsewhere.
    """
    found = SignaturesRead(pinned)
    signs = pinned.key is not None or any(map(checkpoint_size, source.names))
    found.terms = _terms(read, found.signed) if signs else ()
    by_size = dict(_read_checkpoints(source, found.signed))
    good = {
        size: signed
        for size, signed in by_size.items()
        if _is_of_record(signed, size, read, found)
    }
    found.checkpoints = tuple(good[size] for size in sorted(good))
    _check_recorded(read, by_size, found.signed)
    check_proofs(source, read.roots, good, found.proofs)
    if pinned.key is not None:
        _check_trust(found, pinned.key)
    _take_cosignatures(found)
    _check_timestamps(source, good, found)
    return found


def _terms(read: RecordRead, part: Part) -> tuple[KeyTerm, ...]:
    try:
        return key_terms(read.shelf)
    except (LedgerError, *TRIPPED) as error:
        part.add(
            Where(CHECKPOINTS), f"the keys cannot be told from the entries: {error}"
        )
        return ()


def _read_checkpoints(
    source: Source, part: Part
) -> "list[tuple[int, SignedCheckpoint]]":
    read = []
    for name in source.names:
        size = checkpoint_size(name)
        if size is None:
            continue
        part.count += 1
        try:
            signed = parse_signed(text_of(source, name, most=MAX_NOTE))
            if signed.size != size:
                raise SealError(f"the checkpoint covers {signed.size} entries")
        except LedgerError as error:
            part.add(Where(name), str(error))
        else:
            read.append((size, signed))
    return read


def _is_of_record(
    signed: SignedCheckpoint, size: int, read: RecordRead, found: SignaturesRead
) -> bool:
    """Tell whether a checkpoint is that of the entries, signed by the key in force."""
    where = Where(f"{CHECKPOINTS}{size}.note")
    if read.roots.get(size) != signed.checkpoint.root:
        found.signed.add(
            where,
            f"the checkpoint is not that of the first {size} entries: the record was "
            "changed after it was signed, or it is not the one that was signed",
        )
        return False
    if not found.terms:
        found.signed.add(where, "the record names no key, so nobody can have signed it")
        return False
    term = term_for(found.terms, size)
    try:
        holds = bool(signed_by(signed.note, [term.key]))
    except SealError as error:
        found.signed.add(where, str(error))
        return False
    if not holds or signed.checkpoint.origin != term.key.name:
        found.signed.add(
            where,
            f"the checkpoint is not signed by {term.key}, which is in force at {size} "
            "entries by what the record says",
        )
        return False
    return True


def _check_recorded(
    read: RecordRead, by_size: Mapping[int, SignedCheckpoint], part: Part
) -> None:
    """Check that every checkpoint that the entries record is in the pack."""
    for found in read.shelf.of_kind("checkpoint.signed"):
        recorded = expect(found.record, CheckpointSigned)
        given = by_size.get(recorded.size)
        where = Where(f"{CHECKPOINTS}{recorded.size}.note", seq=found.seq)
        if given is None:
            part.add(where, f"entry {found.seq} records a checkpoint that is not there")
        elif given.checkpoint.root.hex() != recorded.root:
            part.add(
                where, f"the checkpoint is not the one that entry {found.seq} records"
            )


def _check_trust(found: SignaturesRead, pinned: Key) -> None:
    found.trust.count = 1
    trusted = trusted_terms(found.terms, pinned)
    if not trusted:
        found.trust.add(
            Where(CHECKPOINTS),
            f"the record does not know the key that you pinned, {pinned}: it is another "
            "ledger, or it was opened anew with another key; ask the maker in person",
        )
        return
    if not found.checkpoints:
        found.trust.add(
            Where(CHECKPOINTS),
            "nothing in the pack is signed by the key that you pinned; ask for a pack "
            "with a signed checkpoint",
        )
        return
    for signed in found.checkpoints:
        term = term_for(found.terms, signed.size)
        if term in trusted and term.counts_for(signed.size):
            found.trusted = signed
    last = found.checkpoints[-1]
    if found.trusted is not last:
        found.trust.add(Where(f"{CHECKPOINTS}{last.size}.note"), _why(found, last))


def _why(found: SignaturesRead, last: SignedCheckpoint) -> str:
    term = term_for(found.terms, last.size)
    upto = found.trusted.size if found.trusted else 0
    if not term.counts_for(last.size):
        because = (
            f"its key is revoked from entry {term.revoked_from} on, because others may "
            "have it"
        )
    else:
        because = (
            "no signature of the key that you pinned leads to its key: the old key was "
            "lost or revoked when the new one came"
        )
    return (
        f"the last checkpoint cannot be trusted, {because}; what you pinned vouches for "
        f"the first {upto} entries, so get the line of the present key, {term.key}, from "
        "the maker in person and enrol it with --replace"
    )


def _take_cosignatures(found: SignaturesRead) -> None:
    for checkpoint in found.checkpoints:
        for key in found.pinned.witnesses:
            try:
                cosigned = signed_by(checkpoint.note, [key])
            except SealError as error:
                where = Where(f"{CHECKPOINTS}{checkpoint.size}.note")
                found.signed.add(where, str(error))
                continue
            found.seen += [
                Seen(checkpoint.size, _moment(one.moment), f"witness {key.name}")
                for one in cosigned
                if one.moment is not None
            ]


def _moment(seconds: int) -> datetime:
    try:
        return datetime.fromtimestamp(seconds, UTC)
    except (OverflowError, ValueError, OSError):
        return datetime.max.replace(tzinfo=UTC)


def _check_timestamps(
    source: Source, good: Mapping[int, SignedCheckpoint], found: SignaturesRead
) -> None:
    for name in source.names:
        size = timestamp_size(name)
        if size is None:
            continue
        # Loaded where a pack has timestamps; most have none.
        from ledger.chain.timestamp import check_timestamp, stated_moment  # noqa: PLC0415

        found.stamps.count += 1
        try:
            if size not in good:
                raise SealError("there is no checkpoint that holds for this timestamp")
            token, text = whole(source, name), good[size].note.text
            if not found.pinned.authorities:
                stated_moment(token, text)
                found.unchecked_stamps += 1
                continue
            moment = check_timestamp(token, text, found.pinned.authorities)
            found.seen.append(
                Seen(size, moment, "a timestamp authority that you trust")
            )
        except LedgerError as error:
            found.stamps.add(Where(f"{TIMESTAMPS}{size}.tsr"), str(error))
