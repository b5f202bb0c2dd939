"""A shelf of dictionaries: what a certifier's check and the rebuild add up in."""

from bisect import bisect_left, bisect_right, insort
from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from datetime import date
from typing import Self

from ledger.books.effect import (
    Book,
    Edge,
    Effects,
    Recorded,
    Subject,
    SubjectKind,
    Tally,
)
from ledger.books.remembering import Remembered
from ledger.books.shelf import Movement, Run, T


class _RunningTotal:
    """Movements in order, with the total before each, kept up from the change on."""

    def __init__(self) -> None:
        self._movements: list[Movement] = []
        self._before: list[int] = [0]

    def add(self, movement: Movement) -> None:
        insort(self._movements, movement)
        self._settle(bisect_left(self._movements, movement))

    def remove(self, movement: Movement) -> None:
        place = bisect_left(self._movements, movement)
        del self._movements[place]
        self._settle(place)

    def _settle(self, place: int) -> None:
        del self._before[place + 1 :]
        total = self._before[place]
        for movement in self._movements[place:]:
            total += movement.grams
            self._before.append(total)

    def run(self, since: date | None, until: date | None) -> Run:
        first, last = 0, len(self._movements)
        if since is not None:
            first = bisect_left(self._movements, since, key=lambda m: m.day)
        if until is not None:
            last = bisect_right(self._movements, until, key=lambda m: m.day)
        return Run(self._before[first], tuple(self._movements[first:last]))

    def __bool__(self) -> bool:
        return bool(self._movements)


class MemoryShelf:
    """Implements `ledger.books.shelf.Shelf` on dictionaries."""

    def __init__(self) -> None:
        self._remembered = Remembered()
        self._slots: dict[int, tuple[Recorded, Effects]] = {}
        self._of_kind: dict[str, set[int]] = defaultdict(set)
        self._introducers: dict[Subject, int] = {}
        self._about: dict[tuple[Subject, str | None], list[int]] = defaultdict(list)
        self._totals: dict[Tally, _RunningTotal] = defaultdict(_RunningTotal)
        self._into: dict[str, list[tuple[int, int, Edge]]] = defaultdict(list)
        self._out_of: dict[str, list[tuple[int, int, Edge]]] = defaultdict(list)

    def copy(self) -> Self:
        """Return a shelf of its own that holds the same, to go back to."""
        copied = type(self)()
        for slot in sorted(self._slots):
            copied.put(*self._slots[slot])
        return copied

    def introducer(self, subject: Subject) -> Recorded | None:
        """Return the record that brought a subject in, if one counts."""
        slot = self._introducers.get(subject)
        return None if slot is None else self._slots[slot][0]

    def about(self, subject: Subject, kind: str | None = None) -> Sequence[Recorded]:
        """Return the records that introduce or mention a subject, in slot order."""
        return [self._slots[slot][0] for slot in self._about.get((subject, kind), ())]

    def subjects(self, kind: SubjectKind) -> Sequence[Subject]:
        """Return all introduced subjects of a kind, sorted by name."""
        return sorted(s for s in self._introducers if s.kind is kind)

    def of_kind(self, kind: str) -> Sequence[Recorded]:
        """Return the records of a kind, in slot order."""
        slots = sorted(self._of_kind.get(kind, ()))
        return [self._slots[slot][0] for slot in slots]

    def at(self, slot: int) -> Recorded | None:
        """Return the record that counts in a slot."""
        found = self._slots.get(slot)
        return None if found is None else found[0]

    def effects(self, slot: int) -> Effects:
        """Return the effects stored for a slot; empty where nothing counts there."""
        found = self._slots.get(slot)
        return Effects() if found is None else found[1]

    def run(
        self, tally: Tally, since: date | None = None, until: date | None = None
    ) -> Run:
        """Return a running total from `since` to `until`, both included."""
        total = self._totals.get(tally)
        return Run(0, ()) if total is None else total.run(since, until)

    def days_moved(
        self, tally: Tally, since: date | None = None, until: date | None = None
    ) -> Sequence[date]:
        """Return the dates on which a running total moved, in order."""
        moved = self.run(tally, since, until).movements
        return sorted({movement.day for movement in moved})

    def tallies(self, book: Book) -> Sequence[Tally]:
        """Return all running totals of a book, sorted by key."""
        return sorted(
            t for t, total in self._totals.items() if t.book is book and total
        )

    def standing(self, book: Book, until: date) -> Iterator[tuple[Tally, int]]:
        """Yield the totals of a book that are not zero when a day is over, by key."""
        for tally in self.tallies(book):
            grams = self.run(tally, until=until).closing_g
            if grams:
                yield tally, grams

    def edges_into(self, lots: Iterable[str]) -> Sequence[Edge]:
        """Return the edges whose target is one of the lots, in the order recorded."""
        return _in_order(self._into, lots)

    def edges_out_of(self, lots: Iterable[str]) -> Sequence[Edge]:
        """Return the edges whose source is one of the lots, in the order recorded."""
        return _in_order(self._out_of, lots)

    def put(self, recorded: Recorded, effects: Effects) -> None:
        """Let a record count in its slot, which must be free."""
        slot = recorded.slot
        self._slots[slot] = (recorded, effects)
        self._of_kind[recorded.kind].add(slot)
        for subject in effects.introduces:
            self._introducers[subject] = slot
        for subject in subjects_of(effects):
            insort(self._about[subject, None], slot)
            insort(self._about[subject, recorded.kind], slot)
        for line, posting in enumerate(effects.postings):
            movement = Movement(posting.day, slot, line, posting.grams, posting.cause)
            self._totals[posting.tally].add(movement)
        for line, edge in enumerate(effects.edges):
            insort(self._into[edge.target], (slot, line, edge), key=_place)
            insort(self._out_of[edge.source], (slot, line, edge), key=_place)

    def take(self, slot: int) -> tuple[Recorded, Effects]:
        """Remove what counts in a slot and return it."""
        self._remembered.forget()
        recorded, effects = self._slots.pop(slot)
        self._of_kind[recorded.kind].remove(slot)
        for subject in effects.introduces:
            del self._introducers[subject]
        for subject in subjects_of(effects):
            self._about[subject, None].remove(slot)
            self._about[subject, recorded.kind].remove(slot)
        for line, posting in enumerate(effects.postings):
            movement = Movement(posting.day, slot, line, posting.grams, posting.cause)
            self._totals[posting.tally].remove(movement)
        for line, edge in enumerate(effects.edges):
            self._into[edge.target].remove((slot, line, edge))
            self._out_of[edge.source].remove((slot, line, edge))
        return recorded, effects

    def remember(self, key: Hashable, work_out: Callable[[], T]) -> T:
        """Return what was worked out before under a key, or work it out."""
        return self._remembered.get(key, work_out)


def subjects_of(effects: Effects) -> Sequence[Subject]:
    """Return every subject an entry introduces or mentions, once each, sorted."""
    return sorted({*effects.introduces, *effects.mentions})


def _place(item: tuple[int, int, Edge]) -> tuple[int, int]:
    return item[0], item[1]


def _in_order(
    edges: dict[str, list[tuple[int, int, Edge]]], lots: Iterable[str]
) -> Sequence[Edge]:
    found = [item for lot in set(lots) for item in edges.get(lot, ())]
    return [edge for _, _, edge in sorted(found, key=_place)]
