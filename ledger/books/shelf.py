"""What the books may ask of everything recorded so far, and how they add to it.

Two shelves exist: tables in a database, which answer from indexes, and dictionaries in
memory, which a certifier's check and the rebuild use. Both hold only what counts:
an entry that was voided is not on the shelf, and a replacement stands in its slot.
"""

from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Protocol, TypeVar

from ledger.books.effect import (
    Book,
    Cause,
    Edge,
    Effects,
    Recorded,
    Subject,
    SubjectKind,
    Tally,
)

T = TypeVar("T")


@dataclass(frozen=True, slots=True, order=True)
class Movement:
    """One posting as it stands in a running total, in the order in which it counts."""

    day: date
    slot: int
    line: int
    grams: int
    cause: Cause


@dataclass(frozen=True, slots=True)
class Run:
    """A stretch of a running total: what stood before it, and its movements in order."""

    opening_g: int
    movements: tuple[Movement, ...]

    @property
    def closing_g(self) -> int:
        """Grams after the last movement."""
        return self.opening_g + sum(movement.grams for movement in self.movements)


class Shelf(Protocol):
    """Everything recorded that counts, by what it is about."""

    def introducer(self, subject: Subject) -> Recorded | None:
        """Return the record that brought a subject in, if one counts."""

    def about(self, subject: Subject, kind: str | None = None) -> Sequence[Recorded]:
        """Return the records that introduce or mention a subject, in slot order."""

    def subjects(self, kind: SubjectKind) -> Sequence[Subject]:
        """Return all introduced subjects of a kind, sorted by name."""

    def of_kind(self, kind: str) -> Sequence[Recorded]:
        """Return the records of a kind, in slot order."""

    def at(self, slot: int) -> Recorded | None:
        """Return the record that counts in a slot."""

    def effects(self, slot: int) -> Effects:
        """Return the effects stored for a slot; empty where nothing counts there."""

    def run(
        self, tally: Tally, since: date | None = None, until: date | None = None
    ) -> Run:
        """Return a running total from `since` to `until`, both included."""

    def days_moved(
        self, tally: Tally, since: date | None = None, until: date | None = None
    ) -> Sequence[date]:
        """Return the dates on which a running total moved, in order."""

    def tallies(self, book: Book) -> Sequence[Tally]:
        """Return all running totals of a book, sorted by key."""

    def standing(self, book: Book, until: date) -> Iterable[tuple[Tally, int]]:
        """Return the totals of a book that are not zero when a day is over, by key.

        What was used up long ago costs next to nothing.
        """

    def edges_into(self, lots: Iterable[str]) -> Sequence[Edge]:
        """Return the edges whose target is one of the lots, in the order recorded."""

    def edges_out_of(self, lots: Iterable[str]) -> Sequence[Edge]:
        """Return the edges whose source is one of the lots, in the order recorded."""

    def put(self, recorded: Recorded, effects: Effects) -> None:
        """Let a record count in its slot, which must be free."""

    def take(self, slot: int) -> tuple[Recorded, Effects]:
        """Remove what counts in a slot and return it."""

    def remember(self, key: Hashable, work_out: Callable[[], T]) -> T:
        """Return what was worked out before under a key, or work it out.

        It must follow from records that are on the shelf, and not from others being
        absent: it is forgotten when anything is taken, and not when something is put.
        """
