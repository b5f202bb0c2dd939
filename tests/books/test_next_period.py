"""ledger.books.closing: which period comes next, and what keeps it open."""

from datetime import UTC, date, datetime

import pytest

from ledger.books.closing import next_period, unsettled_accounts
from tests.world import certified, claim, opened, refused


def test_without_an_account_there_is_no_period_to_close() -> None:
    assert next_period(opened().shelf) is None


@pytest.mark.parametrize(
    ("months", "starts", "first_end", "second_end"),
    [
        (3, 1, date(2025, 3, 31), date(2025, 6, 30)),
        (12, 10, date(2025, 9, 30), date(2026, 9, 30)),
        (6, 3, date(2025, 2, 28), date(2025, 8, 31)),
    ],
)
def test_the_next_period_ends_as_the_terms_say(
    months: int, starts: int, first_end: date, second_end: date
) -> None:
    world = certified(reconciliation_months=months, reconciliation_starts=starts)
    world.receive({"L1": "100"}, "2025-02-10")

    assert next_period(world.shelf) == (date(2025, 2, 1), first_end)
    world.close("2025-02-01", str(first_end), "2026-01-05")
    found = next_period(world.shelf)

    assert found is not None
    start, end = found
    assert (start.toordinal() - first_end.toordinal(), end) == (1, second_end)


def test_every_account_that_must_be_settled_is_told() -> None:
    world = certified(reconciliation_months=3, account={"below_zero_kg": "50"})
    world.receive({"P": "1000"}, "2025-01-02", contract="PLAIN")
    world.receive({"L1": "10"}, "2025-02-10")
    world.recorded_at = datetime(2025, 3, 20, 12, tzinfo=UTC)
    world.sell("X", {"P": "30"}, "2025-03-20", claim())
    world.recorded_at = datetime(2025, 4, 5, 12, tzinfo=UTC)

    [one] = unsettled_accounts(world.shelf, date(2025, 3, 31))
    assert (one.end, one.grams) == (date(2025, 3, 31), -20_000)
    assert not list(unsettled_accounts(world.shelf, date(2025, 3, 30)))
    with refused("period-unsettled"):
        world.close("2025-02-01", "2025-03-31", "2025-04-05")
