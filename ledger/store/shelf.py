"""A shelf of tables: answers from indexes, whatever the length of the history."""

from array import array
from collections import OrderedDict
from collections.abc import (
    Callable,
    Container,
    Hashable,
    Iterable,
    Iterator,
    Mapping,
    Sequence,
)
from datetime import date
from typing import overload

from ledger.books.effect import (
    Book,
    Cause,
    Edge,
    Effects,
    Posting,
    Recorded,
    Subject,
    SubjectKind,
    Tally,
)
from ledger.books.remembering import Remembered
from ledger.books.shelf import Movement, Run, T
from ledger.store.keeping import keep, key_of, leave_out
from ledger.store.opened import read_slots
from ledger.store.rows import PAGE, Rows, Value, listed

_MOST_OPENED = 4 * PAGE
"""How many records are kept; a few of those asked for last are asked for most."""

_FIRST_DAY, _LAST_DAY = date.min.isoformat(), date.max.isoformat()

_ABOUT = """
SELECT slot FROM introduced WHERE kind = :kind AND name = :name
UNION SELECT slot FROM mention WHERE kind = :kind AND name = :name
ORDER BY slot
"""
_ABOUT_IN_KIND = """
SELECT i.slot AS slot FROM introduced i JOIN slot s ON s.slot = i.slot
WHERE i.kind = :kind AND i.name = :name AND s.kind = :entry_kind
UNION SELECT slot FROM mention
WHERE kind = :kind AND name = :name AND entry_kind = :entry_kind
ORDER BY slot
"""
# From one key to the next by index, without reading the days of each.
_KEYS = """
WITH RECURSIVE found (key) AS (
  SELECT MIN(key) FROM tally_day WHERE book = :book
  UNION ALL
  SELECT (SELECT MIN(t.key) FROM tally_day t WHERE t.book = :book AND t.key > found.key)
  FROM found WHERE found.key IS NOT NULL)
SELECT key FROM found WHERE key IS NOT NULL ORDER BY key
"""
_STANDING = _KEYS.replace(
    "SELECT key FROM found",
    "SELECT key, (SELECT d.closing_g FROM tally_day d WHERE d.book = :book "
    "AND d.key = found.key AND d.day <= :until ORDER BY d.day DESC LIMIT 1) FROM found",
)


class SqlShelf:
    """Implements `ledger.books.shelf.Shelf` on the derived tables.

    Records are read from the stored bytes when they are first asked for; those asked for
    last are kept. Long answers are read a page at a time as somebody goes through them, so
    that no question needs memory in proportion to the history. A shelf belongs to one
    transaction.
    """

    def __init__(self, rows: Rows, *, only: Container[str] | None = None) -> None:
        """Take what answers; `put` and `take` need the transaction of a writer.

        Args:
            rows: Whom to ask.
            only: The disclosures that open sealed values, for somebody who may not see
                the others; all where left out.
        """
        self._rows = rows
        self._only = only
        self._remembered = Remembered()
        self._opened: OrderedDict[int, Recorded] = OrderedDict()

    def introducer(self, subject: Subject) -> Recorded | None:
        """Return the record that brought a subject in, if one counts."""
        return self._first(
            "SELECT slot FROM introduced WHERE kind = :kind AND name = :name",
            {"kind": subject.kind.value, "name": subject.name},
        )

    def about(self, subject: Subject, kind: str | None = None) -> Sequence[Recorded]:
        """Return the records that introduce or mention a subject, in slot order."""
        asked = {"kind": subject.kind.value, "name": subject.name}
        if kind is None:
            return self._all(_ABOUT, asked)
        return self._all(_ABOUT_IN_KIND, asked | {"entry_kind": kind})

    def subjects(self, kind: SubjectKind) -> Sequence[Subject]:
        """Return all introduced subjects of a kind, sorted by name."""
        found = self._rows(
            "SELECT name FROM introduced WHERE kind = :kind ORDER BY name",
            {"kind": kind.value},
        )
        return [Subject(kind, name) for (name,) in found]

    def of_kind(self, kind: str) -> Sequence[Recorded]:
        """Return the records of a kind, in slot order."""
        return self._all(
            "SELECT slot FROM slot WHERE kind = :kind ORDER BY slot", {"kind": kind}
        )

    def at(self, slot: int) -> Recorded | None:
        """Return the record that counts in a slot."""
        return self._first("SELECT slot FROM slot WHERE slot = :slot", {"slot": slot})

    def effects(self, slot: int) -> Effects:
        """Return the effects stored for a slot; empty where nothing counts there."""
        return Effects(
            introduces=self._subjects_in("introduced", slot),
            mentions=self._subjects_in("mention", slot),
            postings=tuple(
                Posting(
                    Tally(Book(book), key), date.fromisoformat(day), grams, Cause(cause)
                )
                for book, key, day, grams, cause in self._rows(
                    "SELECT book, key, day, grams, cause FROM posting "
                    "WHERE slot = :slot ORDER BY line",
                    {"slot": slot},
                )
            ),
            edges=tuple(
                Edge(source, target, grams)
                for source, target, grams in self._rows(
                    "SELECT source, target, grams FROM edge "
                    "WHERE slot = :slot ORDER BY line",
                    {"slot": slot},
                )
            ),
        )

    def run(
        self, tally: Tally, since: date | None = None, until: date | None = None
    ) -> Run:
        """Return a running total from `since` to `until`, both included."""
        stretch = _stretch(tally, since, until)
        opening = self._rows(
            "SELECT closing_g FROM tally_day WHERE book = :book AND key = :key "
            "AND day < :since ORDER BY day DESC LIMIT 1",
            stretch,
        )
        found = self._rows(
            "SELECT day, slot, line, grams, cause FROM posting "
            "WHERE book = :book AND key = :key AND day >= :since AND day <= :until "
            "ORDER BY day, slot, line",
            stretch,
        )
        return Run(
            opening_g=opening[0][0] if opening else 0,
            movements=tuple(
                Movement(date.fromisoformat(day), slot, line, grams, Cause(cause))
                for day, slot, line, grams, cause in found
            ),
        )

    def days_moved(
        self, tally: Tally, since: date | None = None, until: date | None = None
    ) -> Sequence[date]:
        """Return the dates on which a running total moved, in order."""
        found = self._rows(
            "SELECT day FROM tally_day WHERE book = :book AND key = :key "
            "AND day >= :since AND day <= :until ORDER BY day",
            _stretch(tally, since, until),
        )
        return [date.fromisoformat(day) for (day,) in found]

    def tallies(self, book: Book) -> Sequence[Tally]:
        """Return all running totals of a book, sorted by key."""
        found = self._rows(_KEYS, {"book": book.value})
        return [Tally(book, key) for (key,) in found]

    def standing(self, book: Book, until: date) -> Iterator[tuple[Tally, int]]:
        """Yield the totals of a book that are not zero when a day is over, by key."""
        asked = {"book": book.value, "until": until.isoformat()}
        for key, grams in self._rows(_STANDING, asked):
            if grams:
                yield Tally(book, key), grams

    def edges_into(self, lots: Iterable[str]) -> Sequence[Edge]:
        """Return the edges whose target is one of the lots, in the order recorded."""
        return self._edges("target", lots)

    def edges_out_of(self, lots: Iterable[str]) -> Sequence[Edge]:
        """Return the edges whose source is one of the lots, in the order recorded."""
        return self._edges("source", lots)

    def put(self, recorded: Recorded, effects: Effects) -> None:
        """Let a record count in its slot, which must be free."""
        keep(self._rows, recorded, effects)
        self._open({recorded.slot: recorded})

    def take(self, slot: int) -> tuple[Recorded, Effects]:
        """Remove what counts in a slot and return it.

        Raises:
            KeyError: Nothing counts there.
        """
        recorded, effects = self.at(slot), self.effects(slot)
        if recorded is None:
            raise KeyError(slot)
        self._remembered.forget()
        leave_out(self._rows, slot, effects)
        self._opened.pop(slot, None)
        return recorded, effects

    def forget(self) -> None:
        """Forget every record that was read, because the tables went back."""
        self._opened.clear()
        self._remembered.forget()

    def remember(self, key: Hashable, work_out: Callable[[], T]) -> T:
        """Return what was worked out before under a key, or work it out."""
        return self._remembered.get(key, work_out)

    def _first(self, sql: str, parameters: Mapping[str, Value]) -> Recorded | None:
        return next(iter(self._all(sql, parameters)), None)

    def _all(self, sql: str, parameters: Mapping[str, Value]) -> Sequence[Recorded]:
        slots = array("q", (slot for (slot,) in self._rows(sql, parameters)))
        return self.read(slots) if len(slots) <= PAGE else _Pages(self, slots)

    def read(self, slots: Sequence[int]) -> list[Recorded]:
        """Return what counts in each of some slots, in their order; no more than a page."""
        known = {slot: self._opened[slot] for slot in slots if slot in self._opened}
        missing = [slot for slot in slots if slot not in known]
        if missing:
            known |= read_slots(self._rows, missing, self._only)
        self._open(known)
        return [known[slot] for slot in slots]

    def _open(self, records: Mapping[int, Recorded]) -> None:
        """Keep records that were just used, instead of those used longest ago."""
        for slot, recorded in records.items():
            self._opened[slot] = recorded
            self._opened.move_to_end(slot)
        while len(self._opened) > _MOST_OPENED:
            self._opened.popitem(last=False)

    def _subjects_in(self, table: str, slot: int) -> tuple[Subject, ...]:
        found = self._rows(
            f"SELECT kind, name FROM {table} WHERE slot = :slot ORDER BY line",  # noqa: S608 - ours
            {"slot": slot},
        )
        return tuple(Subject(SubjectKind(kind), name) for kind, name in found)

    def _edges(self, end: str, lots: Iterable[str]) -> list[Edge]:
        question = (
            "SELECT slot, line, source, target, grams FROM edge "  # noqa: S608 - a column of ours
            f"WHERE {end} IN ({{values}})"
        )
        found = sorted(listed(self._rows, question, lots))
        return [Edge(source, target, grams) for _, _, source, target, grams in found]


def _stretch(tally: Tally, since: date | None, until: date | None) -> dict[str, Value]:
    return key_of(tally) | {
        "since": since.isoformat() if since else _FIRST_DAY,
        "until": until.isoformat() if until else _LAST_DAY,
    }


class _Pages(Sequence[Recorded]):
    """Many records, of which only the slots are in memory."""

    def __init__(self, shelf: SqlShelf, slots: Sequence[int]) -> None:
        self._shelf, self._slots = shelf, slots

    def __len__(self) -> int:
        return len(self._slots)

    def __iter__(self) -> Iterator[Recorded]:
        for first in range(0, len(self._slots), PAGE):
            yield from self._shelf.read(self._slots[first : first + PAGE])

    @overload
    def __getitem__(self, place: int) -> Recorded: ...
    @overload
    def __getitem__(self, place: slice) -> Sequence[Recorded]: ...
    def __getitem__(self, place: int | slice) -> Recorded | Sequence[Recorded]:
        if isinstance(place, slice):
            return _Pages(self._shelf, self._slots[place])
        [found] = self._shelf.read([self._slots[place]])
        return found
