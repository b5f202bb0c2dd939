"""Whether two packs of one maker agree, whatever part of the ledger each of them shows.

Two packs of one ledger have the same digests in the same places, as far as the shorter
goes. And what one shows may tell that the other leaves out an entry that its own part
needs.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from ledger.audit.disclosures import DisclosureCheck
from ledger.audit.layout import CHECKPOINTS, ENTRIES, SCOPE, Scope, checkpoint_size
from ledger.audit.replay import TRIPPED, Replay
from ledger.audit.scope import parse_scope
from ledger.audit.source import Line, Source, lines_of, open_source, whole
from ledger.audit.verdict import Part, Where, counted
from ledger.audit.withheld import digest_of_line, entry_or_withheld
from ledger.books.effect import Recorded
from ledger.books.finding import EntryRefusedError
from ledger.books.lookup import expect
from ledger.books.needed import needed
from ledger.books.opening import open_entry
from ledger.books.portion import Portion
from ledger.books.shelf import Shelf
from ledger.chain.entry import Entry, parse_entry
from ledger.chain.link import Withheld
from ledger.errors import LedgerError
from ledger.trade.control import Correction


@dataclass(frozen=True, slots=True)
class Agreement:
    """What came of comparing two packs.

    Attributes:
        part: Whether they agree.
        same: How many entries from the first on have the same digests.
        seen: Of these, how many the second shows that the first does not.
    """

    part: Part
    same: int
    seen: int


def compare_packs(path: Path, other: Path) -> Agreement:
    """Compare a pack with another one of the same maker.

    Neither is checked by itself here.

    Args:
        path: The pack, a folder or a zip file.
        other: Another one.

    Raises:
        InputError: There is nothing that can be read as a pack.
        SealError: One is not safe to read.
    """
    part = Part(f"agrees with {other.name}")
    with open_source(path) as own, open_source(other) as second:
        same, seen = _compare_lines(own, second, part)
        if part.holds:
            _compare_parts(own, second, part, same)
            _compare_parts(second, own, part, same, of=f" of {other.name}")
    part.count = same
    return Agreement(part, same, seen)


def _compare_lines(own: Source, second: Source, part: Part) -> tuple[int, int]:
    same, seen = 0, 0
    for line, other in zip(_lines(own), _lines(second), strict=False):
        if digest_of_line(line.raw) != digest_of_line(other.raw):
            part.add(
                Where(ENTRIES, line.number, same, line.start),
                f"entry {same} is another one in the other pack: they are of two "
                "ledgers, or one ledger was rewritten from there on"
                f"{_signed_twice(own, second, same)}",
            )
            break
        hides = isinstance(entry_or_withheld(line.raw), Withheld)
        seen += hides and not isinstance(entry_or_withheld(other.raw), Withheld)
        same += 1
    return same, seen


def _lines(source: Source) -> Iterator[Line]:
    if ENTRIES in source.names:
        yield from lines_of(source, ENTRIES)


def _signed_twice(own: Source, second: Source, place: int) -> str:
    """Return what to say where both packs have a checkpoint beyond a place."""
    sizes = [
        min(
            (
                size
                for name in source.names
                if (size := checkpoint_size(name)) and size > place
            ),
            default=None,
        )
        for source in (own, second)
    ]
    if None in sizes:
        return ""
    one, two = sizes
    return (
        f". Both carry a checkpoint beyond it ({CHECKPOINTS}{one}.note and "
        f"{CHECKPOINTS}{two}.note): if both hold under the key that you pinned, the two "
        "together prove that the maker signed two histories; keep both packs"
    )


def _compare_parts(
    own: Source, second: Source, part: Part, size: int, *, of: str = ""
) -> None:
    """Note what a pack leaves out, though another shows that its part needs it."""
    scope = _scope(own)
    if scope is None or scope.portion is None:
        return
    try:
        wanted = _wanted(second, scope, size)
    except (LedgerError, *TRIPPED) as error:
        part.add(Where(SCOPE), f"the two cannot be compared any further: {error}")
        return
    shown = {
        line.number - 1: line.raw
        for line in _lines(second)
        if line.number - 1 in wanted
    }
    for line in _lines(own):
        seq = line.number - 1
        if seq in shown and isinstance(entry_or_withheld(line.raw), Withheld):
            found = entry_or_withheld(shown[seq])
            if not isinstance(found, Withheld):
                part.add(
                    Where(ENTRIES, line.number, seq, line.start),
                    f"entry {seq}{of} is left out, but it belongs to what the pack is "
                    f"about ({scope.portion}): the other pack shows it as "
                    f"{parse_entry(found).kind}",
                )


def _scope(source: Source) -> Scope | None:
    if SCOPE not in source.names:
        return None
    try:
        return parse_scope(whole(source, SCOPE))
    except LedgerError:
        return None


def _wanted(source: Source, scope: Scope, size: int) -> frozenset[int]:
    """Return which of the first entries a part needs, as far as a pack tells."""
    theirs, portion = _scope(source), scope.portion
    replay = Replay(None if theirs is None else theirs.portion)
    for entry, given in _entries(source, size):
        try:
            replay.judge(entry, given)
        except LedgerError:
            continue
    history = _History.of(source, replay.shelf, size)
    if portion is None:
        return frozenset()
    try:
        return needed(replay.shelf, history, portion, as_of=scope.as_of)
    except EntryRefusedError:
        # What that part is about does not occur here at all.
        return frozenset()


def _entries(source: Source, size: int) -> Iterator[tuple[Entry, tuple[str, ...]]]:
    """Yield the first entries as far as they are shown, with what opens them."""
    disclosures = DisclosureCheck(source, Part("sealed values"))
    for line in _lines(source):
        seq = line.number - 1
        if seq >= size:
            return
        raw = entry_or_withheld(line.raw)
        if not isinstance(raw, Withheld):
            entry = parse_entry(raw)
            yield entry, disclosures.open(seq, entry)


@dataclass(frozen=True, slots=True)
class _History:
    """Implements `ledger.books.needed.History` on a pack."""

    shelf: Shelf
    size: int
    firsts: dict[int, Recorded]

    @classmethod
    def of(cls, source: Source, shelf: Shelf, size: int) -> "_History":
        """Return what a shelf over the first entries of a pack cannot tell."""
        corrected = {
            expect(found.record, Correction).target
            for found in shelf.of_kind("correction")
        }
        firsts = {
            entry.seq: open_entry(entry, given)
            for entry, given in _entries(source, size)
            if entry.seq in corrected
        }
        return cls(shelf, size, firsts)

    def first(self, seq: int) -> Recorded | None:
        """Return an entry as it was first recorded, if it is shown."""
        return self.firsts.get(seq)

    def on_days(self, since: date | None, until: date | None) -> Iterator[int]:
        """Yield the slots of what counts and occurred in a stretch of time."""
        stretch = Portion(since=since, until=until)
        for slot in range(self.size):
            found = self.shelf.at(slot)
            if found is not None and stretch.covers(found.occurred_on):
                yield slot


def agreed(found: Agreement, other: Path) -> str:
    """Return what it means that two packs agree."""
    seen = (
        f" It shows {counted(found.seen, 'entry')} that this one does not, and each is "
        "the one whose digest stands here."
        if found.seen
        else ""
    )
    return (
        f"The pack {other.name} is of the same ledger: the first "
        f"{counted(found.same, 'entry')} are the same in both.{seen}"
    )
