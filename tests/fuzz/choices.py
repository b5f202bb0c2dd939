"""Choices read off bytes, so that whoever picks the bytes steers what is tried."""

from collections.abc import Sequence
from typing import TypeVar

T = TypeVar("T")


class Choices:
    """Makes choices from bytes; when they are used up, always the first choice."""

    def __init__(self, raw: bytes) -> None:
        self._raw = raw
        self._place = 0

    def number(self, limit: int) -> int:
        """Return a number below a limit."""
        size = (max(limit - 1, 1).bit_length() + 7) // 8
        taken = self.some(size)
        return int.from_bytes(taken, "big") % limit if limit else 0

    def one_of(self, things: Sequence[T]) -> T:
        """Return one of some things."""
        return things[self.number(len(things))]

    def some(self, size: int) -> bytes:
        """Return the next bytes, fewer where there are no more."""
        taken = self._raw[self._place : self._place + size]
        self._place += len(taken)
        return taken

    @property
    def is_used_up(self) -> bool:
        """Whether no bytes are left to choose by."""
        return self._place >= len(self._raw)
