"""What is only tried leaves nothing behind, in either database."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from itertools import count

from ledger.desk.foresee import rehearse
from ledger.desk.record import record
from ledger.desk.writing import Writing
from ledger.store.engine import open_engine, rows_of
from ledger.store.entries import frontier
from tests.desk.small_ledger import SMALL
from tests.desk.test_foresee import PAID, RECEIPT

DAY = date(2026, 6, 1)


def test_entries_that_are_tried_are_judged_and_taken_back(url: str) -> None:
    engine = open_engine(url)
    salts = (number.to_bytes(16, "big") for number in count(1))

    @contextmanager
    def transaction() -> Iterator[Writing]:
        with engine.begin() as connection:
            yield Writing(
                rows_of(connection),
                by="clerk",
                now=lambda: datetime(2026, 6, 30, tzinfo=UTC),
                new_salt=lambda: next(salts),
            )

    with transaction() as writing:
        for kind, day, body in SMALL:
            record(writing, kind, date.fromisoformat(day), body)
        root = frontier(writing.rows).root()

    found = rehearse(
        transaction,
        [
            ("shipment.received", DAY, RECEIPT),
            ("payment.made", DAY, PAID | {"contract": "C-9"}),
            ("payment.made", DAY, PAID),
        ],
    )

    assert [place for place, _ in found.refusals] == [1]
    assert [(one.lot, one.after_g) for one in found.foresight.lots] == [
        ("L-9", 199_000)
    ]
    assert {one.what for one in found.foresight.dues} == {"price", "premium"}
    with transaction() as writing:
        assert frontier(writing.rows).root() == root
    engine.dispose()
