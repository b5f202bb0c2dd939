"""The books of a pack, added up from its entries alone."""

from collections.abc import Callable, Iterable, Sequence
from datetime import date
from functools import partial
from typing import Final

from ledger.books.effect import Book, Effects, Recorded, Tally
from ledger.books.front import FrontShelf
from ledger.books.judge import judge
from ledger.books.memory import MemoryShelf
from ledger.books.opening import open_entry
from ledger.books.portion import Portion
from ledger.books.shelf import Run, Shelf
from ledger.chain.entry import Entry
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


class _ReturningShelf(FrontShelf):
    """A shelf that can go back to where it stood before an entry."""

    def __init__(self, behind: Shelf) -> None:
        super().__init__(behind)
        self._back: list[Callable[[], object]] = []

    def put(self, recorded: Recorded, effects: Effects) -> None:
        super().put(recorded, effects)
        self._back.append(partial(super().take, recorded.slot))

    def take(self, slot: int) -> tuple[Recorded, Effects]:
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


class _PartShelf(FrontShelf):
    """A shelf that shows no running total which a part of a ledger cannot add up.

    What an entry does to such a total is kept with the entry all the same, so that it
    is seen to be the same when the entry is counted again.
    """

    def __init__(self, behind: Shelf, portion: Portion) -> None:
        super().__init__(behind)
        self._portion = portion

    def run(
        self, tally: Tally, since: date | None = None, until: date | None = None
    ) -> Run:
        if not self._portion.keeps(tally):
            return Run(0, ())
        return super().run(tally, since, until)

    def tallies(self, book: Book) -> Sequence[Tally]:
        return [one for one in super().tallies(book) if self._portion.keeps(one)]


class Replay:
    """Lets entries count one after another, as the ledger did when it recorded them.

    Attributes:
        shelf: What counts so far.
        judged: Number of entries judged.
    """

    def __init__(self, portion: Portion | None = None) -> None:
        """Begin with nothing.

        Args:
            portion: The part of the ledger that is shown; None for the whole of it.
        """
        self.judged = 0
        self._returning = _ReturningShelf(MemoryShelf())
        self._shelf: Shelf = (
            self._returning if portion is None else _PartShelf(self._returning, portion)
        )

    @property
    def shelf(self) -> Shelf:
        """What counts so far."""
        return self._shelf

    def judge(self, entry: Entry, disclosures: Iterable[str]) -> None:
        """Let an entry count, if the books allow it; else leave the shelf as it was.

        Raises:
            LedgerError: The entry cannot be read, or the books refuse it.
        """
        self.judged += 1
        try:
            recorded = open_entry(entry, disclosures)
            if self._shelf.at(recorded.slot) is not None:
                raise SealError(f"an entry {recorded.seq} counts already")
            judge(self._shelf, recorded)
        except LedgerError:
            self._returning.go_back()
            raise
        except TRIPPED as error:
            self._returning.go_back()
            raise SealError(
                f"the books cannot judge it ({type(error).__name__}: {error}); no ledger "
                "would have recorded it"
            ) from error
        self._returning.stay()
