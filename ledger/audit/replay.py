"""The books of a pack, added up from its entries alone."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from datetime import date
from functools import partial
from typing import Final, Protocol, TypeAlias

from ledger.books.effect import Book, Effects, Recorded, Tally
from ledger.books.front import FrontShelf
from ledger.books.judge import judge
from ledger.books.memory import MemoryShelf
from ledger.books.opening import open_entry
from ledger.books.portion import Portion
from ledger.books.shelf import Run, Shelf
from ledger.chain.entry import Entry, entry_bytes
from ledger.errors import LedgerError, SealError

# What the rules of the books may trip over in entries that no ledger would have let in,
# such as a day after which there is none. Each makes that entry one that cannot stand.
TRIPPED: Final = (
    ArithmeticError,
    AttributeError,
    LookupError,
    RecursionError,
    TypeError,
    ValueError,
)


class Ground(Shelf, Protocol):
    """A shelf that can go back to where it stood before an entry."""

    def take_in(self, entry: Entry, raw: bytes, disclosures: tuple[str, ...]) -> None:
        """Take in an entry that is about to be judged: its bytes, and what opens it."""

    def stay(self) -> None:
        """Let what was done since it last stood stand."""

    def go_back(self) -> None:
        """Undo what was done since it last stood."""


class MemoryGround(FrontShelf):
    """Implements `Ground` in memory."""

    def __init__(self) -> None:
        """Begin with nothing."""
        super().__init__(MemoryShelf())
        self._back: list[Callable[[], object]] = []

    def take_in(self, entry: Entry, raw: bytes, disclosures: tuple[str, ...]) -> None:
        """Take in nothing: what is recorded stands on the shelf itself."""

    def put(self, recorded: Recorded, effects: Effects) -> None:
        """Let a record count in its slot, which must be free."""
        super().put(recorded, effects)
        self._back.append(partial(super().take, recorded.slot))

    def take(self, slot: int) -> tuple[Recorded, Effects]:
        """Remove what counts in a slot and return it."""
        taken = super().take(slot)
        self._back.append(partial(super().put, *taken))
        return taken

    def stay(self) -> None:
        """Let what was done stand."""
        self._back.clear()

    def go_back(self) -> None:
        """Undo what was done since it last stood."""
        while self._back:
            self._back.pop()()


GroundFor: TypeAlias = Callable[[int], AbstractContextManager[Ground]]
"""Gives an empty shelf for a number of entries, and takes it away again."""


@contextmanager
def in_memory(_entries: int) -> Iterator[Ground]:
    """Give an empty shelf in memory, for any number of entries."""
    yield MemoryGround()


class PartShelf(FrontShelf):
    """A shelf that shows no running total which a part of a ledger cannot add up.

    What an entry does to such a total is kept with the entry all the same, so that it
    is seen to be the same when the entry is counted again.
    """

    def __init__(self, behind: Shelf, portion: Portion) -> None:
        """Take the shelf that answers, and the part that may be told of it."""
        super().__init__(behind)
        self._portion = portion

    def run(
        self, tally: Tally, since: date | None = None, until: date | None = None
    ) -> Run:
        """Return a running total that the part keeps; an empty one for any other."""
        if not self._portion.keeps(tally):
            return Run(0, ())
        return super().run(tally, since, until)

    def days_moved(
        self, tally: Tally, since: date | None = None, until: date | None = None
    ) -> Sequence[date]:
        """Return the dates on which a running total that the part keeps moved."""
        if not self._portion.keeps(tally):
            return ()
        return super().days_moved(tally, since, until)

    def tallies(self, book: Book) -> Sequence[Tally]:
        """Return the running totals of a book that the part keeps."""
        return [one for one in super().tallies(book) if self._portion.keeps(one)]

    def standing(self, book: Book, until: date) -> Iterator[tuple[Tally, int]]:
        """Yield the running totals that the part keeps and that are not zero."""
        for tally, grams in super().standing(book, until):
            if self._portion.keeps(tally):
                yield tally, grams


class Replay:
    """Lets entries count one after another, as the ledger did when it recorded them.

    Attributes:
        shelf: What counts so far.
        judged: Number of entries judged.
    """

    def __init__(
        self, portion: Portion | None = None, ground: Ground | None = None
    ) -> None:
        """Begin with nothing.

        Args:
            portion: The part of the ledger that is shown; None for the whole of it.
            ground: An empty shelf to count on; one in memory where left out.
        """
        self.judged = 0
        self._ground = MemoryGround() if ground is None else ground
        self._shelf: Shelf = (
            self._ground if portion is None else PartShelf(self._ground, portion)
        )

    @property
    def shelf(self) -> Shelf:
        """What counts so far."""
        return self._shelf

    def judge(
        self, entry: Entry, disclosures: Iterable[str], *, raw: bytes = b""
    ) -> None:
        """Let an entry count, if the books allow it; else leave the shelf as it was.

        Args:
            entry: The entry.
            disclosures: Texts of those of its sealed values that are shown.
            raw: Its bytes, where they are at hand.

        Raises:
            LedgerError: The entry cannot be read, or the books refuse it.
        """
        self.judged += 1
        given = tuple(disclosures)
        try:
            recorded = open_entry(entry, given)
            if self._shelf.at(recorded.slot) is not None:
                raise SealError(f"an entry {recorded.seq} counts already")
            self._ground.take_in(entry, raw or entry_bytes(entry), given)
            judge(self._shelf, recorded)
        except LedgerError:
            self._ground.go_back()
            raise
        except TRIPPED as error:
            self._ground.go_back()
            raise SealError(
                f"the books cannot judge it ({type(error).__name__}: {error}); no ledger "
                "would have recorded it"
            ) from error
        self._ground.stay()
