"""How fast one caller may ask: a bucket of permits that fills up again with time."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from math import ceil
from typing import Final

_MOST_CALLERS: Final = 10_000


@dataclass(slots=True)
class Pace:
    """Counts what callers ask; it is kept by one process and lost with it.

    Attributes:
        now: Gives this moment.
        most: How many requests one may make at once after a rest.
        per_second: How many more each second after that.
    """

    now: Callable[[], datetime]
    most: int = 240
    per_second: float = 20.0
    _left: dict[str, tuple[float, datetime]] = field(default_factory=dict)

    def wait_seconds(self, caller: str) -> int:
        """Count one request, and return how many seconds it is too early; 0 if it is not.

        Args:
            caller: Who asks; a request that is too early is not counted.
        """
        now = self.now()
        left, at = self._left.get(caller, (float(self.most), now))
        passed = max((now - at).total_seconds(), 0.0)
        left = min(left + passed * self.per_second, float(self.most))
        if left < 1:
            self._left[caller] = (left, now)
            return max(ceil((1 - left) / self.per_second), 1)
        if len(self._left) >= _MOST_CALLERS:
            self._left.clear()
        self._left[caller] = (left - 1, now)
        return 0


@dataclass(frozen=True, slots=True)
class Paces:
    """How fast everybody may ask.

    Attributes:
        known: Whoever has a token that holds, by the token.
        strangers: Whoever has none, by the address.
    """

    known: Pace
    strangers: Pace

    @classmethod
    def usual(cls, now: Callable[[], datetime]) -> "Paces":
        """Return the paces that are kept where nothing else is said."""
        return cls(Pace(now), Pace(now, most=30, per_second=0.5))
