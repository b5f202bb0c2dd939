"""What a drawing of a trace is put together from: boxes in columns, and links."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum, auto
from fractions import Fraction

from ledger.books.trace import Way


class Sort(Enum):
    """What a box stands for."""

    SUPPLIER = auto()
    LOT = auto()
    REST = auto()
    CUSTOMER = auto()


@dataclass(slots=True)
class Box:
    """One supplier, lot or customer, or the many that were folded into one box.

    Attributes:
        sort: What it stands for.
        name: What is written in it.
        grams: Traced mass that passes through it.
        is_asked: Whether the trace was asked about it.
        folded: Names of what was folded into it, the most of it first.
        column: Number of its column, from the left.
        row: Number of its row in that column, from the top.
    """

    sort: Sort
    name: str
    grams: Fraction
    is_asked: bool = False
    folded: tuple[str, ...] = ()
    column: int = 0
    row: int = 0


@dataclass(frozen=True, slots=True)
class Link:
    """Mass that went from one box to another."""

    source: Box
    target: Box
    grams: Fraction

    @property
    def span(self) -> int:
        """Columns it spans: none within one, negative where it runs against the rest."""
        return self.target.column - self.source.column


@dataclass(slots=True)
class Column:
    """Boxes above each other.

    Attributes:
        heading: What they have in common, one or two lines.
        boxes: From top to bottom.
        leaving: Mass that left here other than to a customer, by how.
        top: Half rows above the first box.
    """

    heading: tuple[str, ...]
    boxes: list[Box]
    leaving: Mapping[Way, Fraction] = field(default_factory=dict)
    top: int = 0


@dataclass(frozen=True, slots=True)
class Layout:
    """A trace laid out."""

    columns: Sequence[Column]
    links: Sequence[Link]
