"""A shelf that notes which slots an answer came from: what a question rests on."""

from collections.abc import Callable, Hashable, Iterable, Sequence

from ledger.books.effect import Edge, Recorded, Subject, SubjectKind
from ledger.books.front import FrontShelf
from ledger.books.shelf import Shelf, T


class NotingShelf(FrontShelf):
    """Passes every question on, and notes the slots of the records that answer it.

    Records that were only looked through because they are of a kind, and movements of a
    running total, are not noted: which of these a part of a ledger needs follows from
    what it is about, not from who asks.

    Attributes:
        noted: The slots.
    """

    def __init__(self, behind: Shelf, *, without: int | None = None) -> None:
        """Take the shelf that answers.

        Args:
            behind: The shelf.
            without: A slot whose record is kept out of every answer, so that an entry can
                be judged as if it were new.
        """
        super().__init__(behind)
        self.noted: set[int] = set()
        self._without = without

    def introducer(self, subject: Subject) -> Recorded | None:
        """Return the record that brought a subject in, and note it."""
        found = super().introducer(subject)
        return None if found is None else self._note(found)

    def about(self, subject: Subject, kind: str | None = None) -> Sequence[Recorded]:
        """Return the records about a subject, and note them."""
        found = (self._note(one) for one in super().about(subject, kind))
        return [one for one in found if one is not None]

    def of_kind(self, kind: str) -> Sequence[Recorded]:
        """Return the records of a kind, without noting them."""
        found = super().of_kind(kind)
        return [one for one in found if one.slot != self._without]

    def at(self, slot: int) -> Recorded | None:
        """Return the record that counts in a slot, and note it."""
        found = super().at(slot)
        return None if found is None else self._note(found)

    def edges_into(self, lots: Iterable[str]) -> Sequence[Edge]:
        """Return the edges into some lots, and note what brought in all lots on them."""
        return self._joined(super().edges_into(lots))

    def edges_out_of(self, lots: Iterable[str]) -> Sequence[Edge]:
        """Return the edges out of some lots, and note what brought in all on them."""
        return self._joined(super().edges_out_of(lots))

    def remember(self, key: Hashable, work_out: Callable[[], T]) -> T:  # noqa: PLR6301 - overrides
        """Work it out, so that what it rests on is noted."""
        del key
        return work_out()

    def _note(self, found: Recorded) -> Recorded | None:
        if found.slot == self._without:
            return None
        self.noted.add(found.slot)
        return found

    def _joined(self, edges: Sequence[Edge]) -> Sequence[Edge]:
        for lot in {name for edge in edges for name in (edge.source, edge.target)}:
            self.introducer(Subject(SubjectKind.LOT, lot))
        return edges
