"""The line of an entry that a pack does not show: the digest of the entry alone.

No entry is 64 hexadecimal digits, so the two sorts of line cannot be mistaken for each
other.
"""

import re
from bisect import insort
from dataclasses import dataclass, field
from typing import Final

from ledger.books.sampling import ticket
from ledger.chain.entry import leaf_digest
from ledger.chain.link import Withheld

ASKED_FOR: Final = 3
"""How many of the entries that are not shown are drawn, to be asked for."""

_DIGEST_LINE: Final = re.compile(rb"[0-9a-f]{64}")


def withheld_line(withheld: Withheld) -> bytes:
    """Return the line of an entry that is not shown, without the line feed."""
    return withheld.digest.hex().encode()


def entry_or_withheld(line: bytes) -> bytes | Withheld:
    """Return the bytes of an entry, or what is known of one that is not shown.

    Args:
        line: A line of the file of entries, without the line feed.
    """
    if _DIGEST_LINE.fullmatch(line):
        return Withheld(bytes.fromhex(line.decode()))
    return line


def digest_of_line(line: bytes) -> bytes:
    """Return the digest of the entry of a line, whether or not it is shown: 32 bytes."""
    found = entry_or_withheld(line)
    return found.digest if isinstance(found, Withheld) else leaf_digest(found)


@dataclass(slots=True)
class NotShown:
    """The entries that a pack does not show: how many, and which of them to ask for.

    They are drawn by the tree head, as sales are, so that nobody can choose them.

    Attributes:
        root: Root of the tree, 32 bytes.
        count: How many there are.
        drawn: Tickets and numbers of those that are drawn, in order of the tickets.
    """

    root: bytes
    count: int = 0
    drawn: list[tuple[str, int]] = field(default_factory=list)

    def add(self, seq: int) -> None:
        """Note that an entry is not shown."""
        self.count += 1
        insort(self.drawn, (ticket(self.root, seq), seq))
        del self.drawn[ASKED_FOR:]
