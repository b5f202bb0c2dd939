"""The fields of a form that records an entry, as its page describes them."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from ledger.books.shelf import Shelf

Choice = tuple[str, str]
"""What is recorded, and what a reader sees."""
Choices = Callable[[Shelf], Iterable[Choice]] | Sequence[Choice]


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a form.

    Attributes:
        path: Dotted path in the body of the entry; `*` stands for the row.
        label: What it is called.
        sort: How it is shown: text, day, choice, pick (text with suggestions), scan
            (the same, where a scanner may type), or tick.
        hint: What to write, in a few words.
        required: Whether it must be filled in.
        unit: Unit of a figure that is typed without one.
        choices: What to choose from.
        first: What stands in it until somebody types; a row with nothing else is empty.
    """

    path: str
    label: str
    sort: str = "text"
    hint: str = ""
    required: bool = False
    unit: str = ""
    choices: Choices = ()
    first: str = ""


@dataclass(frozen=True, slots=True)
class Group:
    """Fields that belong together.

    Attributes:
        legend: What they are about.
        fields: The fields.
        further: Fields that are seldom needed, folded away.
        rows: Rows shown at first where the fields stand once a row; 0 where they stand
            once.
    """

    legend: str
    fields: tuple[Field, ...]
    further: tuple[Field, ...] = ()
    rows: int = 0

    @property
    def all_fields(self) -> tuple[Field, ...]:
        """Every field, folded away or not."""
        return (*self.fields, *self.further)

    @property
    def list_path(self) -> str:
        """Path of the list of which each row is an item."""
        return self.fields[0].path.partition(".*")[0]
