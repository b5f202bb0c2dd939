"""A shelf in front of another: passes every question on, for others to change a few."""

from collections.abc import Callable, Hashable, Iterable, Sequence
from datetime import date

from ledger.books.effect import (
    Book,
    Edge,
    Effects,
    Recorded,
    Subject,
    SubjectKind,
    Tally,
)
from ledger.books.shelf import Run, Shelf, T


class FrontShelf:
    """Implements `ledger.books.shelf.Shelf` by another shelf."""

    def __init__(self, behind: Shelf) -> None:
        """Take the shelf that answers."""
        self._behind = behind

    def introducer(self, subject: Subject) -> Recorded | None:
        """Return the record that brought a subject in, if one counts."""
        return self._behind.introducer(subject)

    def about(self, subject: Subject, kind: str | None = None) -> Sequence[Recorded]:
        """Return the records that introduce or mention a subject, in slot order."""
        return self._behind.about(subject, kind)

    def subjects(self, kind: SubjectKind) -> Sequence[Subject]:
        """Return all introduced subjects of a kind, sorted by name."""
        return self._behind.subjects(kind)

    def of_kind(self, kind: str) -> Sequence[Recorded]:
        """Return the records of a kind, in slot order."""
        return self._behind.of_kind(kind)

    def at(self, slot: int) -> Recorded | None:
        """Return the record that counts in a slot."""
        return self._behind.at(slot)

    def effects(self, slot: int) -> Effects:
        """Return the effects stored for a slot; empty where nothing counts there."""
        return self._behind.effects(slot)

    def run(
        self, tally: Tally, since: date | None = None, until: date | None = None
    ) -> Run:
        """Return a running total from `since` to `until`, both included."""
        return self._behind.run(tally, since, until)

    def days_moved(
        self, tally: Tally, since: date | None = None, until: date | None = None
    ) -> Sequence[date]:
        """Return the dates on which a running total moved, in order."""
        return self._behind.days_moved(tally, since, until)

    def tallies(self, book: Book) -> Sequence[Tally]:
        """Return all running totals of a book, sorted by key."""
        return self._behind.tallies(book)

    def standing(self, book: Book, until: date) -> Iterable[tuple[Tally, int]]:
        """Return the totals of a book that are not zero when a day is over, by key."""
        return self._behind.standing(book, until)

    def edges_into(self, lots: Iterable[str]) -> Sequence[Edge]:
        """Return the edges whose target is one of the lots, in the order recorded."""
        return self._behind.edges_into(lots)

    def edges_out_of(self, lots: Iterable[str]) -> Sequence[Edge]:
        """Return the edges whose source is one of the lots, in the order recorded."""
        return self._behind.edges_out_of(lots)

    def put(self, recorded: Recorded, effects: Effects) -> None:
        """Let a record count in its slot, which must be free."""
        self._behind.put(recorded, effects)

    def take(self, slot: int) -> tuple[Recorded, Effects]:
        """Remove what counts in a slot and return it."""
        return self._behind.take(slot)

    def remember(self, key: Hashable, work_out: Callable[[], T]) -> T:
        """Return what was worked out before under a key, or work it out."""
        return self._behind.remember(key, work_out)
