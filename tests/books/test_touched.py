"""ledger.books.touched: what some received lots went into, as of a day."""

from datetime import date

from ledger.books.touched import touched_lots
from tests.world import certified


def test_what_was_made_later_is_not_touched_yet() -> None:
    world = certified()
    world.receive({"L": "100"}, "2025-01-10")
    world.make({"L": "40"}, {"Q": "40"}, "2025-01-20")

    def touched(on: date) -> dict[str, int]:
        lots = touched_lots(world.shelf, ["L"], on)
        return {lot.lot: lot.left.grams if lot.left else 0 for lot in lots}

    assert touched(date(2025, 1, 19)) == {"L": 100_000}
    assert touched(date(2025, 1, 20)) == {"L": 60_000, "Q": 40_000}
