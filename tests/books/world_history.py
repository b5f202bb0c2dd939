"""What of a world no longer counts: its entries as they were first recorded."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from ledger.books.effect import Recorded
from ledger.books.opening import parse_body
from ledger.books.portion import Portion
from tests.world import RECORDED_AT, World


@dataclass(frozen=True)
class WorldHistory:
    """Implements `ledger.books.needed.History` by the entries of a world."""

    world: World

    def first(self, seq: int) -> Recorded | None:
        """Return an entry as it was first recorded."""
        raw = self.world.raws[seq]
        return Recorded(
            seq,
            seq,
            date.fromisoformat(raw["occurred_on"]),
            RECORDED_AT,
            "clerk",
            parse_body(raw["kind"], raw["body"]),
        )

    def on_days(self, since: date | None, until: date | None) -> Iterable[int]:
        """Yield the slots of what counts and occurred in a stretch of time."""
        portion = Portion(since=since, until=until)
        for slot in range(len(self.world.raws)):
            found = self.world.shelf.at(slot)
            if found is not None and portion.covers(found.occurred_on):
                yield slot
