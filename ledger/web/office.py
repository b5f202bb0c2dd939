"""What the pages stand on: where the ledger is, how it is read, and who writes in it."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from ledger import wiring
from ledger.desk.books import OpenBooks, open_books
from ledger.desk.readiness import Answers
from ledger.desk.window import Windows, sight_of
from ledger.desk.writing import Writing
from ledger.store.people import Person, Window
from ledger.web.once import Once
from ledger.web.pack_room import PackRoom
from ledger.web.turns import Turns

if TYPE_CHECKING:
    from ledger.store.rows import Rows


@dataclass(frozen=True, slots=True)
class Office:
    """One ledger, open for as long as its pages are served.

    Attributes:
        place: Where the ledger is kept.
        ledger: The ledger, open for writing.
        windows: What of it was laid out for certifiers.
        turns: Who is being served with something heavy.
        once: What came of the forms that were sent last.
        packs: Packs that people asked for.
        answers: What audits would find, as it was last asked.
    """

    place: wiring.Place
    ledger: wiring.Ledger
    windows: Windows = field(default_factory=lambda: Windows(wiring.now))
    turns: Turns = field(default_factory=Turns)
    once: Once = field(default_factory=Once)
    packs: PackRoom = field(default_factory=PackRoom)
    answers: Answers = field(default_factory=Answers)

    @contextmanager
    def rows(self) -> Iterator["Rows"]:
        """Open the ledger for reading, as it stands at this moment."""
        with wiring.reading(self.place) as rows:
            yield rows

    @contextmanager
    def books(self, *, recorded_by: datetime | None = None) -> Iterator[OpenBooks]:
        """Open the books for reading, as they stand or as they stood when recorded."""
        with self.rows() as rows, open_books(rows, recorded_by=recorded_by) as books:
            yield books

    @contextmanager
    def books_in(
        self, window: Window, *, recorded_by: datetime | None = None
    ) -> Iterator[OpenBooks]:
        """Open the books of what a certifier may see, and of nothing beside."""
        sight = sight_of(window, today=self.today(), recorded_by=recorded_by)
        with self.rows() as rows, self.windows.books(rows, sight) as books:
            yield books

    @contextmanager
    def writing(self, by: str) -> Iterator[Writing]:
        """Hold the ledger for writing in somebody's name, all or nothing."""
        with self.ledger.transaction(by=by) as writing:
            yield writing

    @contextmanager
    def writing_as(self, person: Person) -> Iterator[Writing]:
        """Hold the ledger for writing in a person's name, as far as their roles go."""
        with self.writing(person.name) as writing:
            yield replace(writing, roles=person.roles)

    @property
    def papers(self) -> Path:
        """The folder in which attached papers are kept, by the digest of each."""
        return self.place.papers_path

    @staticmethod
    def now() -> datetime:
        """Return this moment, in UTC."""
        return wiring.now()

    @classmethod
    def today(cls) -> date:
        """Return this day, in UTC."""
        return cls.now().date()


@contextmanager
def open_office(place: wiring.Place, *, by: str) -> Iterator[Office]:
    """Open the ledger that pages are to be served of.

    Args:
        place: Where it is kept.
        by: Who writes what nobody in particular does.

    Raises:
        NotFoundError: There is no ledger there.
    """
    with wiring.writing(place, by=by) as ledger:
        office = Office(place, ledger)
        try:
            yield office
        finally:
            office.packs.close()
            office.windows.close()
