"""What a check found: what holds, what does not and where, and what that means."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from typing import Final

from ledger.chain.checkpoint import SignedCheckpoint

SHOWN: Final = 50
"""How many problems of one part of the check are listed; the others are counted."""


@dataclass(frozen=True, slots=True)
class Where:
    """A place in a pack.

    Attributes:
        file: Name of the file from the top of the pack.
        line: Line in it, counted from 1, if one is meant.
        seq: Number of the entry, if one is meant.
        byte: Offset in the file, counted from 0: of the first byte that differs, or of
            the line where only that is known.
    """

    file: str
    line: int | None = None
    seq: int | None = None
    byte: int | None = None

    def __str__(self) -> str:
        parts = [self.file]
        if self.line is not None:
            parts.append(f"line {self.line}")
        if self.seq is not None:
            parts.append(f"entry {self.seq}")
        if self.byte is not None:
            parts.append(f"byte {self.byte}")
        return ", ".join(parts)


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that does not hold, and where.

    Attributes:
        where: The place.
        sentence: What is wrong there.
    """

    where: Where
    sentence: str


@dataclass(frozen=True, slots=True)
class Checked:
    """One part of the check.

    Attributes:
        name: What was checked.
        holds: Whether all of it holds.
        count: How many things were looked at.
        detail: What was found, in a few words.
    """

    name: str
    holds: bool
    count: int
    detail: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """What came of checking a pack.

    Attributes:
        checked: Every part of the check, in order.
        problems: What does not hold, located; empty if everything holds.
        proved: What the reader can rely on, whoever made the pack.
        claimed: What rests on the maker's word.
        not_checked: What no reading of this pack can tell.
        size: Number of entries read.
        root: Root of the tree over them, 32 bytes.
        as_of: Trade date of the figures, if the pack says one.
        to_keep: The last checkpoint under a key that the reader pinned, if it continues
            what the reader kept; to be kept for the next visit.
    """

    checked: tuple[Checked, ...]
    problems: tuple[Problem, ...]
    proved: tuple[str, ...]
    claimed: tuple[str, ...]
    not_checked: tuple[str, ...]
    size: int
    root: bytes
    as_of: date | None
    to_keep: SignedCheckpoint | None = None

    @property
    def holds(self) -> bool:
        """Whether every part of the check holds."""
        return all(checked.holds for checked in self.checked)


@dataclass(slots=True)
class Part:
    """One part of a check while it runs.

    Attributes:
        name: What is checked.
        count: How many things were looked at so far.
        problems: What does not hold, up to `SHOWN`.
        found: How many problems there are in all.
    """

    name: str
    count: int = 0
    problems: list[Problem] = field(default_factory=list)
    found: int = 0

    def add(self, where: Where, sentence: str) -> None:
        """Note that something does not hold."""
        self.found += 1
        if len(self.problems) < SHOWN:
            self.problems.append(Problem(where, sentence))

    def add_all(self, problems: Iterable[Problem]) -> None:
        """Note several things that do not hold."""
        for problem in problems:
            self.add(problem.where, problem.sentence)

    @property
    def holds(self) -> bool:
        """Whether nothing was found wrong."""
        return not self.found

    def checked(self, detail: str) -> Checked:
        """Return the part as it stands in the verdict.

        Args:
            detail: What to say where everything holds.
        """
        if self.holds:
            return Checked(self.name, holds=True, count=self.count, detail=detail)
        more = self.found - len(self.problems)
        unlisted = f", {more} of them not listed" if more else ""
        told = counted(self.found, "problem") + unlisted
        return Checked(self.name, holds=False, count=self.count, detail=told)


def counted(count: int, noun: str) -> str:
    """Return a number with its noun, such as "1 entry" or "3 entries"."""
    if count == 1:
        return f"1 {noun}"
    return f"{count} {noun[:-1]}ies" if noun.endswith("y") else f"{count} {noun}s"
