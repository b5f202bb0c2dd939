"""What a certifier sees on the pages: what a pack of the same part would disclose.

The part is laid out in a file of its own: the entries it shows, what is shown of their
sealed values, and the books added up from these alone. Whoever asks that file cannot be
told anything else, whatever they ask. It is kept while the ledger stays as it is; a large
one may be some entries behind, because laying it out takes long.
"""

from collections import OrderedDict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import Lock
from typing import TYPE_CHECKING, Final

from ledger.audit.replay import PartShelf, Replay
from ledger.books.portion import Portion
from ledger.chain.entry import parse_entry
from ledger.desk.books import OpenBooks
from ledger.desk.pack import Wanted, select
from ledger.desk.portion import portion_asked
from ledger.desk.showing import Reader, shown_disclosures
from ledger.store.entries import entry_raw, frontier, keep_frontier
from ledger.store.people import Window
from ledger.store.proof import trees_at
from ledger.store.shelf import SqlShelf

if TYPE_CHECKING:
    from ledger.store.rows import Rows

_MOST_KEPT: Final = 8
_MANY: Final = 20_000
"""Entries up to which what is laid out is never behind the ledger."""
_REST: Final = 20
"""What holds more is laid out anew after so many times as long as it took."""


@dataclass(frozen=True, slots=True)
class Sight:
    """What somebody may look at.

    Attributes:
        portion: The part of the ledger; None for the whole of it.
        as_of: Trade date up to which figures may be asked.
        recorded_by: Moment of recording up to which entries count; None for all.
    """

    portion: Portion | None
    as_of: date
    recorded_by: datetime | None = None


@dataclass(frozen=True, slots=True)
class _LaidOut:
    path: Path
    size: int
    erasures: int
    at: datetime
    took: timedelta


def sight_of(
    window: Window, *, today: date, recorded_by: datetime | None = None
) -> Sight:
    """Return what somebody with a window may look at.

    Args:
        window: The window.
        today: This day.
        recorded_by: Moment of recording up to which entries count; all where left out.

    Raises:
        InputError: The window ends before it begins.
    """
    portion = portion_of(window)
    as_of = today if window.until is None else min(today, window.until)
    return Sight(portion, as_of, recorded_by)


def portion_of(window: Window) -> Portion | None:
    """Return the part of a ledger that a window shows; None for the whole of it.

    Raises:
        InputError: The window ends before it begins.
    """
    return portion_asked(
        scheme=window.scheme, since=window.since, until=window.until, sale=None
    )


@dataclass(slots=True)
class Windows:
    """Parts of one ledger, laid out for those who may see no more.

    Attributes:
        now: Gives this moment.
    """

    now: Callable[[], datetime]
    _laid_out: OrderedDict[Sight, _LaidOut] = field(default_factory=OrderedDict)
    _folder: TemporaryDirectory[str] | None = None
    _one_at_a_time: Lock = field(default_factory=Lock)
    _made: int = 0

    @contextmanager
    def books(self, rows: "Rows", sight: Sight) -> Iterator[OpenBooks]:
        """Open the books of a part of a ledger, and nothing beside.

        Args:
            rows: The ledger, as it stands at one moment.
            sight: What may be seen of it.

        Yields:
            The books; also their rows hold only the part.

        Raises:
            NotFoundError: Nothing is recorded of the scheme.
            SealError: The part cannot be shown by itself.
        """
        from ledger.store.scratch import laid_out_rows

        with self._one_at_a_time:
            stack = laid_out_rows(self._path(rows, sight))
            part = stack.__enter__()
        try:
            shelf = SqlShelf(part)
            yield OpenBooks(
                part,
                shelf if sight.portion is None else PartShelf(shelf, sight.portion),
            )
        finally:
            stack.__exit__(None, None, None)

    def close(self) -> None:
        """Remove everything that was laid out."""
        if self._folder is not None:
            self._folder.cleanup()
            self._folder = None
        self._laid_out.clear()

    def _path(self, rows: "Rows", sight: Sight) -> Path:
        kept = self._laid_out.get(sight)
        if kept is None or not self._holds(rows, kept):
            kept = self._lay_out(rows, sight)
        self._laid_out.move_to_end(sight)
        while len(self._laid_out) > _MOST_KEPT:
            self._laid_out.popitem(last=False)[1].path.unlink()
        return kept.path

    def _holds(self, rows: "Rows", kept: _LaidOut) -> bool:
        if frontier(rows).size == kept.size:
            return True
        return (
            kept.size > _MANY
            and self.now() < kept.at + _REST * kept.took
            and _erasures(rows) == kept.erasures
        )

    def _lay_out(self, rows: "Rows", sight: Sight) -> _LaidOut:
        if self._folder is None:
            self._folder = TemporaryDirectory(prefix="evenweight-")
        self._made += 1
        begun, path = self.now(), Path(self._folder.name) / f"{self._made}.db"
        try:
            lay_out(rows, sight, path)
        except BaseException:
            path.unlink(missing_ok=True)
            raise
        before = self._laid_out.pop(sight, None)
        if before is not None:
            before.path.unlink()
        ended = self.now()
        made = _LaidOut(
            path, frontier(rows).size, _erasures(rows), ended, ended - begun
        )
        self._laid_out[sight] = made
        return made


def lay_out(rows: "Rows", sight: Sight, path: Path) -> None:
    """Write the part of a ledger that somebody may see to a file of its own.

    Args:
        rows: The ledger, as it stands at one moment.
        sight: What may be seen of it.
        path: A file that is not there yet.

    Raises:
        NotFoundError: Nothing is recorded of the scheme.
        SealError: The part cannot be shown by itself.
    """
    from ledger.store.scratch import ScratchShelf, scratch_rows_at

    tree = frontier(rows)
    wanted = Wanted(sight.as_of, sight.portion)
    with scratch_rows_at(path) as part:
        ground = ScratchShelf(part)
        if sight.portion is not None and sight.recorded_by is None:
            select(rows, tree.root(), wanted, ground=ground)
        else:
            replay = Replay(sight.portion, ground)
            reader = select(rows, tree.root(), wanted).reader
            size = _replay(rows, reader, replay, sight.recorded_by)
            tree = trees_at(rows, [size])[size]
        keep_frontier(part, tree)
        part("COMMIT")


def _replay(
    rows: "Rows", reader: Reader, replay: Replay, until: datetime | None
) -> int:
    """Let the entries count that a reader sees, and return how many there are in all."""
    shown: dict[int, list[str]] = {}
    for seq, text in shown_disclosures(rows, reader):
        shown.setdefault(seq, []).append(text)
    size = frontier(rows).size
    for seq in range(size):
        raw = entry_raw(rows, seq)
        entry = parse_entry(raw)
        if until is not None and entry.recorded_at > until:
            return seq
        if reader.sees_entry(seq):
            replay.judge(entry, shown.get(seq, ()), raw=raw)
    return size


def _erasures(rows: "Rows") -> int:
    """Return how often personal data were erased: what is erased must not stay in sight."""
    [(count,)] = rows("SELECT COUNT(*) FROM slot WHERE kind = 'disclosure.erased'")
    return int(count)
