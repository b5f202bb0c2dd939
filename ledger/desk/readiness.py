"""Asking whether an audit could be passed: the books, and what lies beside the ledger."""

from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Final

from ledger.books.readiness import Readiness, Signed, readiness
from ledger.chain.checkpoint import SignedCheckpoint
from ledger.chain.timestamp import stated_moment
from ledger.desk.signed import signed_before
from ledger.desk.timestamp import kept_timestamps
from ledger.errors import LedgerError, SealError
from ledger.store.entries import head
from ledger.store.shelf import SqlShelf
from ledger.trade.signing import CheckpointSigned

if TYPE_CHECKING:
    from ledger.desk.books import OpenBooks
    from ledger.store.rows import Rows

AUTHORITY: Final = "a timestamp authority"
_MOST_KEPT: Final = 4


@dataclass(slots=True)
class Answers:
    """What audits would find, kept while the ledger stays as it is.

    The answer asks about everything that is owed and a year of making, which takes long on
    a large ledger, and the same page is opened many times between two entries.
    """

    _kept: OrderedDict[tuple[date, int], Readiness] = field(default_factory=OrderedDict)
    _one_at_a_time: Lock = field(default_factory=Lock)

    def on(self, books: "OpenBooks", day: date, signed: Signed) -> Readiness:
        """Return what an audit on a day would find first.

        Args:
            books: The whole ledger, as it stands at one moment.
            day: Trade date.
            signed: How far the record is signed and seen, at this moment.

        Raises:
            EntryRefusedError: The ledger is not opened yet.
        """
        asked = day, head(books.rows)[0]
        with self._one_at_a_time:
            if asked not in self._kept:
                self._kept[asked] = readiness(books.shelf, day, signed)
            self._kept.move_to_end(asked)
            while len(self._kept) > _MOST_KEPT:
                self._kept.popitem(last=False)
            return replace(self._kept[asked], signed=signed)


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
