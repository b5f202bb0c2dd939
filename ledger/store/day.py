"""What counts on some days, found by its date."""

from collections.abc import Iterator
from datetime import date

from ledger.store.rows import PAGE, Rows


def stream_slots_on(
    rows: Rows, since: date | None = None, until: date | None = None
) -> Iterator[int]:
    """Yield the slots of what counts and occurred in a stretch of time, in slot order.

    Args:
        rows: Whom to ask.
        since: First trade date; from the beginning where left out.
        until: Last trade date; to the end where left out.
    """
    stretch = {
        "since": (since or date.min).isoformat(),
        "until": (until or date.max).isoformat(),
    }
    after = -1
    while page := rows(
        "SELECT slot FROM slot WHERE slot > :after "  # noqa: S608 - a number of ours
        f"AND occurred_on >= :since AND occurred_on <= :until ORDER BY slot LIMIT {PAGE}",
        stretch | {"after": after},
    ):
        yield from (slot for (slot,) in page)
        [(after,)] = page[-1:]
