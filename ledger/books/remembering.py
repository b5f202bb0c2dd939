"""Remembering what was worked out from a shelf, until something on it changes.

What a lot is made of is asked many times for one sale, and for every sale of the lot.
Nothing that is put on a shelf changes it, only what is taken off: so all is forgotten then.
"""

from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Final, TypeVar, cast

_T = TypeVar("_T")
_MOST: Final = 512
"""How much is remembered; what was asked for longest ago is forgotten first."""


class Remembered:
    """What was worked out before, by what it was."""

    def __init__(self) -> None:
        self._known: OrderedDict[Hashable, object] = OrderedDict()

    def get(self, key: Hashable, work_out: Callable[[], _T]) -> _T:
        """Return what is known under a key; work it out first where it is not."""
        if key in self._known:
            self._known.move_to_end(key)
            return cast("_T", self._known[key])
        found = work_out()
        self._known[key] = found
        if len(self._known) > _MOST:
            self._known.popitem(last=False)
        return found

    def forget(self) -> None:
        """Forget all."""
        self._known.clear()
