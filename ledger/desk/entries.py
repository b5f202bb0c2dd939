"""Looking entries up: a page of the record, or one entry and what became of it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final

from ledger.books.effect import Effects, Recorded
from ledger.books.lookup import expect
from ledger.books.opening import parse_body
from ledger.books.shelf import Shelf
from ledger.chain.canonical import JsonValue
from ledger.chain.entry import Entry, leaf_digest, parse_entry
from ledger.chain.seal import Hidden, open_sealed, parse_disclosure
from ledger.desk.sealed_for import EntryReader
from ledger.desk.showing import what_is_sealed
from ledger.errors import NotFoundError
from ledger.store.entries import (
    disclosures_of,
    entry_raw,
    neighbours_of,
    stream_back,
)
from ledger.store.opened import writers_of
from ledger.trade.control import Correction
from ledger.trade.record import body_of

if TYPE_CHECKING:
    from ledger.store.rows import Rows

PAGE_OF_ENTRIES: Final = 100


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which entries somebody looks for; what is left empty does not matter.

    Attributes:
        kind: Kind of the entry.
        by: Who recorded it.
        since: First trade date.
        until: Last trade date.
        before: Only entries recorded before this number.
    """

    kind: str = ""
    by: str = ""
    since: date | None = None
    until: date | None = None
    before: int | None = None

    def is_met(self, entry: Entry) -> bool:
        """Tell whether an entry is one of them."""
        return (
            self.kind in {"", entry.kind}
            and self.by in {"", entry.recorded_by}
            and (self.since is None or self.since <= entry.occurred_on)
            and (self.until is None or entry.occurred_on <= self.until)
        )


@dataclass(frozen=True, slots=True)
class Standing:
    """Whether what an entry recorded counts.

    Attributes:
        slot: Place in which it counts, or did.
        by: Entry that wrote what counts there now; None where nothing does and no entry
            keeps the place.
        is_void: Whether nothing counts in its place any more.
    """

    slot: int
    by: int | None
    is_void: bool


@dataclass(frozen=True, slots=True)
class PageOfEntries:
    """Some entries, the last recorded first.

    Attributes:
        entries: The entries, each with its standing.
        before: Number to go on before; None where there are no more.
    """

    entries: tuple[tuple[Entry, Standing], ...]
    before: int | None


@dataclass(frozen=True, slots=True)
class OneEntry:
    """One entry as somebody may see it.

    Attributes:
        entry: The entry as stored.
        raw: Its canonical bytes.
        digest: Its digest, in hexadecimal, which the next entry carries as `prev`.
        neighbours: Numbers of the entries before and after it that the reader may see.
        body: Its body, with the sealed values that the reader may see put back.
        hidden: Where sealed values stay sealed for the reader, and how many.
        erased: How many of them nobody can open any more.
        standing: Whether what it recorded counts.
        effects: What it does to the books; nothing where it does not count.
        corrections: Corrections that name it, or what stands in its place, as recorded.
    """

    entry: Entry
    raw: bytes
    digest: str
    neighbours: tuple[int | None, int | None]
    body: Mapping[str, JsonValue]
    hidden: tuple[Hidden, ...]
    erased: int
    standing: Standing
    effects: Effects
    corrections: tuple[Recorded, ...]


def find_entries(
    rows: "Rows", wanted: Wanted, reader: EntryReader, *, most: int = PAGE_OF_ENTRIES
) -> PageOfEntries:
    """Return the last entries that somebody looks for.

    Args:
        rows: The ledger.
        wanted: Which ones.
        reader: Who looks.
        most: How many at most.
    """
    found: list[Entry] = []
    for entry in _met(rows, wanted, reader):
        if len(found) == most:
            return PageOfEntries(_with_standing(rows, found), found[-1].seq)
        found.append(entry)
    return PageOfEntries(_with_standing(rows, found), None)


def _met(rows: "Rows", wanted: Wanted, reader: EntryReader) -> Iterator[Entry]:
    # Canonical JSON writes a member in one way only, so most entries need no parsing.
    signs = [
        f'"{name}":"{value}"'.encode()
        for name, value in (("kind", wanted.kind), ("recorded_by", wanted.by))
        if value
    ]
    for seq, raw in stream_back(rows, wanted.before):
        if all(sign in raw for sign in signs) and reader.sees_entry(seq):
            entry = parse_entry(raw)
            if wanted.is_met(entry):
                yield entry


def read_entry(rows: "Rows", shelf: Shelf, seq: int, reader: EntryReader) -> OneEntry:
    """Return one entry as somebody may see it.

    Args:
        rows: The ledger.
        shelf: Its books.
        seq: Number of the entry.
        reader: Who looks.

    Raises:
        NotFoundError: There is no such entry, or the reader may not see it.
    """
    if not reader.sees_entry(seq):
        raise NotFoundError(
            f"entry {seq} is not among those that you may see; ask the maker for it"
        )
    raw = entry_raw(rows, seq)
    entry = parse_entry(raw)
    kind, sealed_body = what_is_sealed(entry)
    kept = disclosures_of(rows, [seq]).get(seq, ())
    shown = [
        text
        for text in kept
        if reader.sees(kind, parse_disclosure(text).name, sealed_body)
    ]
    opened = open_sealed(entry.body, shown)
    [(_, standing)] = _with_standing(rows, [entry])
    counts = standing.by == seq
    return OneEntry(
        entry=entry,
        raw=raw,
        digest=leaf_digest(raw).hex(),
        neighbours=neighbours_of(rows, seq),
        body=in_order(entry.kind, opened.body),
        hidden=opened.hidden,
        erased=sum(one.count for one in opened.hidden) - (len(kept) - len(shown)),
        standing=standing,
        effects=shelf.effects(standing.slot) if counts else Effects(),
        corrections=tuple(
            one
            for one in _touching(shelf, standing.slot)
            if one.seq != seq and reader.sees_entry(one.seq)
        ),
    )


def in_order(kind: str, body: Mapping[str, JsonValue]) -> dict[str, JsonValue]:
    """Return a body with its members in the order of its model, not of the alphabet."""
    ordered = body_of(parse_body(kind, body, hidden=True, converted_before=True))
    replacing = ordered.get("replacement")
    if isinstance(replacing, dict) and isinstance(replacing["body"], dict):
        inside = in_order(str(replacing["entry_kind"]), replacing["body"])
        ordered["replacement"] = {**replacing, "body": inside}
    return ordered


def _touching(shelf: Shelf, slot: int) -> Iterator[Recorded]:
    """Yield the corrections of what counts in a slot, in the order recorded."""
    touched = {slot}
    corrections = sorted(shelf.of_kind("correction"), key=lambda found: found.seq)
    for found in corrections:
        if expect(found.record, Correction).target in touched:
            touched.add(found.seq)
            yield found


def _with_standing(
    rows: "Rows", entries: list[Entry]
) -> tuple[tuple[Entry, Standing], ...]:
    slots = [_slot_of(rows, entry) for entry in entries]
    writers = writers_of(rows, set(slots))
    return tuple(
        (entry, _standing(entry, slot, writers.get(slot)))
        for entry, slot in zip(entries, slots, strict=True)
    )


def _standing(entry: Entry, slot: int, writer: tuple[int, str] | None) -> Standing:
    if entry.kind == "correction" and "replacement" not in entry.body:
        # It may keep the place of what it made void, and counts in any case.
        keeps_place = writer is not None and writer[0] == entry.seq
        return Standing(slot if keeps_place else entry.seq, entry.seq, is_void=False)
    if writer is None:
        return Standing(slot, None, is_void=True)
    seq, kind = writer
    return Standing(slot, seq, is_void=kind == "correction" and seq != entry.seq)


def _slot_of(rows: "Rows", entry: Entry) -> int:
    """Return the place in which what an entry recorded counts, or did."""
    found = entry
    while found.kind == "correction":
        target = found.body["target"]
        if not isinstance(target, int):
            raise TypeError(target)
        found = parse_entry(entry_raw(rows, target))
    return found.seq
