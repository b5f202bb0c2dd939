"""What an entry would do is what the books say once it is recorded, and nothing stays."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from ledger.books.dues import dues_of
from ledger.books.effect import Book, Tally
from ledger.desk.foresee import foresee
from ledger.desk.foresight import Foresight
from ledger.desk.record import record
from ledger.desk.writing import Writing
from ledger.errors import InputError, RefusedError
from ledger.store.engine import open_engine, rows_of
from ledger.store.entries import frontier
from ledger.store.shelf import SqlShelf
from tests.desk.small_ledger import opened

DAY = date(2026, 6, 1)
RECEIPT: dict[str, Any] = {
    "shipment": "SH-2",
    "contract": "C-1",
    "lots": [{"lot": "L-9", "net_shipped_kg": "200.000", "net_landed_kg": "199.000"}],
}
PAID: dict[str, Any] = {
    "payment": "PAY-2",
    "contract": "C-1",
    "payee": "coop",
    "towards": "premium",
    "money": {"amount": "100.00", "currency": "USD"},
    "document": "bank 2",
}


class Desk:
    """Writes in a ledger of the test's own."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.engine = open_engine(f"sqlite:///{path}")

    @contextmanager
    def transaction(self) -> Iterator[Writing]:
        with self.engine.begin() as connection:
            yield Writing(
                rows_of(connection),
                by="clerk",
                now=lambda: datetime(2026, 6, 30, 12, tzinfo=UTC),
                new_salt=lambda: bytes(16),
            )

    def foresee(self, kind: str, body: dict[str, Any]) -> Foresight:
        return foresee(self.transaction, kind, DAY, body)

    def record(self, kind: str, body: dict[str, Any]) -> None:
        with self.transaction() as writing:
            record(writing, kind, DAY, body)


@pytest.fixture
def desk(ledger: Path) -> Iterator[Desk]:
    made = Desk(ledger)
    yield made
    made.engine.dispose()


def owed(path: Path) -> dict[tuple[str, str], int]:
    with opened(path) as rows:
        found = dues_of(SqlShelf(rows), "C-1", date(2026, 6, 30))
    return {
        (str(one.duty), one.payee): one.outstanding_minor - one.overpaid_minor
        for one in found.settlements
    }


def closing(path: Path, book: Book) -> dict[Tally, int]:
    with opened(path) as rows:
        shelf = SqlShelf(rows)
        return {tally: shelf.run(tally).closing_g for tally in shelf.tallies(book)}


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("shipment.received", RECEIPT),
        ("payment.made", PAID),
        ("correction", {"target": 13, "reason": "paid to somebody else"}),
        ("correction", {"target": 16, "reason": "not sold after all"}),
        ("lot.written_off", {"lot": "L-2", "mass_kg": "1.000", "reason": "spillage"}),
    ],
)
def test_what_is_foreseen_is_what_recording_does(
    desk: Desk, kind: str, body: dict[str, Any]
) -> None:
    dues_before, stock_before = owed(desk.path), closing(desk.path, Book.STOCK)
    accounts_before = closing(desk.path, Book.ACCOUNT)
    foreseen = desk.foresee(kind, body)
    assert owed(desk.path) == dues_before

    desk.record(kind, body)

    dues, stock, accounts = (
        owed(desk.path),
        closing(desk.path, Book.STOCK),
        closing(desk.path, Book.ACCOUNT),
    )
    assert {
        (one.what, one.payee): (one.before_minor, one.after_minor)
        for one in foreseen.dues
    } == {
        key: (dues_before.get(key, 0), dues.get(key, 0))
        for key in dues | dues_before
        if dues.get(key, 0) != dues_before.get(key, 0)
    }
    assert {one.lot: (one.before_g, one.after_g) for one in foreseen.lots} == {
        tally.key: (stock_before.get(tally, 0), stock[tally])
        for tally in stock
        if stock[tally] != stock_before.get(tally, 0)
    }
    assert sorted((one.before_g, one.after_g) for one in foreseen.accounts) == sorted(
        (accounts_before.get(tally, 0), accounts[tally])
        for tally in accounts
        if accounts[tally] != accounts_before.get(tally, 0)
    )
    assert foreseen.dues or foreseen.lots


def test_foreseeing_leaves_the_ledger_as_it_was(desk: Desk) -> None:
    before = desk.path.with_name("ledger.db")
    with opened(before) as rows:
        root = frontier(rows).root()

    desk.foresee("shipment.received", RECEIPT)
    desk.foresee("shipment.received", {"shipment": "SH-2"})

    with opened(before) as rows:
        assert frontier(rows).root() == root


def test_what_would_be_refused_says_why(desk: Desk) -> None:
    unread = desk.foresee("shipment.received", {"shipment": "SH-2"})
    refused = desk.foresee("payment.made", PAID | {"contract": "C-9"})

    assert isinstance(unread.refusal, InputError)
    assert "field lots of shipment.received is missing" in str(unread.refusal)
    assert isinstance(refused.refusal, RefusedError)
    assert "contract C-9, which is not recorded" in str(refused.refusal)
    assert (refused.accounts, refused.lots, refused.dues) == ((), (), ())


def test_a_market_quote_is_compared_over_every_contract(desk: Desk) -> None:
    found = desk.foresee(
        "quote.recorded",
        {
            "market": "beans",
            "unit": "USD/t",
            "source": "invented",
            "quotes": [{"on": "2026-06-01", "level": "3000.00"}],
        },
    )

    assert found == Foresight()
