"""Asking whether an audit could be passed: the books, and what lies beside the ledger."""

from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Final

from ledger.books.readiness import Signed
from ledger.chain.checkpoint import SignedCheckpoint
from ledger.chain.timestamp import stated_moment
from ledger.desk.signed import signed_before
from ledger.desk.timestamp import kept_timestamps
from ledger.errors import LedgerError, SealError
from ledger.store.entries import head
from ledger.store.shelf import SqlShelf
from ledger.trade.signing import CheckpointSigned

if TYPE_CHECKING:
    from ledger.store.rows import Rows

AUTHORITY: Final = "a timestamp authority"


def signed_and_seen(
    rows: "Rows", checkpoints: Callable[[], Path], timestamps: Callable[[], Path]
) -> Signed:
    """Return how far a ledger is signed, and how far others say that they saw it.

    Cosignatures and timestamps were checked when they were taken in; here they are read.

    Args:
        rows: The ledger.
        checkpoints: Gives the file of signed checkpoints, or says there is no place.
        timestamps: Gives the folder of timestamps, or says there is no place.
    """
    entries, _ = head(rows)
    try:
        kept = signed_before(rows, checkpoints()).checkpoints
        if not kept:
            return Signed(entries)
        seen, seen_by, seen_at = _last_seen(kept, timestamps())
    except LedgerError as error:
        return Signed(
            entries, problem=str(error), is_broken=isinstance(error, SealError)
        )
    signed_at, own = _recorded(rows, kept[-1].size)
    return Signed(
        entries=entries,
        covered=kept[-1].size,
        since=entries - kept[-1].size - own,
        signed_at=signed_at,
        seen=seen,
        seen_by=seen_by,
        seen_at=seen_at,
    )


def _recorded(rows: "Rows", size: int) -> tuple[datetime | None, int]:
    """Return when a checkpoint was recorded, and how many entries recorded it."""
    found = [
        one
        for one in SqlShelf(rows).of_kind("checkpoint.signed")
        if isinstance(one.record, CheckpointSigned) and one.record.size == size
    ]
    return (found[-1].recorded_at if found else None), len(found)


def _last_seen(
    kept: Sequence[SignedCheckpoint], folder: Path
) -> tuple[int, str, datetime | None]:
    tokens = kept_timestamps(folder)
    for one in reversed(kept):
        seen = [
            (datetime.fromtimestamp(moment, UTC), signature.name)
            for signature in one.note.signatures
            if (moment := signature.stated_moment) is not None
        ]
        if one.size in tokens:
            moment_stated = stated_moment(tokens[one.size], one.note.text)
            seen.append((moment_stated, AUTHORITY))
        if seen:
            seen_at, seen_by = min(seen)
            return one.size, seen_by, seen_at
    return 0, "", None
