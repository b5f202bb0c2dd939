"""What a page takes on the server, against the bare SQL that it needs; and how large it is.

Run with `make bench-pages`, or `python -m tests.bench.pages ENTRIES`. The ledger is the one
of `tests.bench.large`: beans bought, ground into a tank and sold, for years. The bound is
the same questions asked again with nothing around them: every statement that the page
sends to the database, over a connection of its own.
"""

import re
import sqlite3
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from functools import partial
from itertools import islice
from pathlib import Path
from typing import Final
from unittest.mock import patch
from urllib.parse import quote

from starlette.testclient import TestClient

from ledger import wiring
from ledger.books.balance import balances
from ledger.books.effect import SubjectKind
from ledger.desk.people import admit
from ledger.desk.record import record
from ledger.desk.signing_in import begin_visit
from ledger.store.rows import NOTHING, Row, Rows, Value
from ledger.trade.role import Role
from ledger.web.app import make_app
from ledger.web.office import Office, open_office
from ledger.web.visit import COOKIE
from tests.bench.__main__ import Measured, median_of
from tests.bench.large import Step, steps

ENTRIES: Final = 100_000
MOST_BYTES: Final = 200 * 1024
AT_A_TIME: Final = 2_000

Asked = list[tuple[str, Mapping[str, Value]]]


def make_ledger(path: Path, entries: int) -> None:
    """Record so many entries, judged one after another as they are made."""
    place = wiring.Place(f"sqlite:///{path}")
    left = steps(entries)
    with wiring.writing(place, by="clerk", create=True) as ledger:
        while some := tuple(islice(left, AT_A_TIME)):
            record_all(ledger, some)


def record_all(ledger: wiring.Ledger, some: Iterable[Step]) -> None:
    """Record entries in one transaction."""
    with ledger.transaction() as writing:
        for kind, day, body in some:
            record(writing, kind, day, body)


@contextmanager
def served(path: Path) -> Iterator[tuple[Office, TestClient]]:
    """Serve the pages to a compliance officer, over a client in memory."""
    place = wiring.Place(f"sqlite:///{path}")
    with open_office(place, by="clerk") as office:
        with office.writing("clerk") as writing:
            admit(
                writing,
                "officer",
                shown="Officer",
                roles={Role.COMPLIANCE},
                new_secret=wiring.new_secret,
            )
            secret = begin_visit(writing, "officer", new_secret=wiring.new_secret)
        client = TestClient(make_app(office), base_url="http://localhost")
        client.cookies.set(COOKIE, secret)
        yield office, client


@contextmanager
def listening() -> Iterator[Asked]:
    """Note down every statement that is sent while a page is answered."""
    asked: Asked = []
    real = wiring.reading

    @contextmanager
    def noting(where: wiring.Place) -> Iterator[Rows]:
        with real(where) as rows:

            def noted(
                sql: str, parameters: Mapping[str, Value] = NOTHING, /
            ) -> list[Row]:
                asked.append((sql, dict(parameters)))
                return rows(sql, parameters)

            yield noted

    with patch.object(wiring, "reading", noting):
        yield asked


def ask_again(path: Path, asked: Asked) -> None:
    """Send the same statements over a connection of the standard library."""
    connection = sqlite3.connect(path, isolation_level=None)
    for sql, parameters in asked:
        connection.execute(sql, parameters).fetchall()
    connection.close()


def measured(path: Path, client: TestClient, address: str) -> str:
    """Return how long a page took, against its bare SQL, and how large it is."""

    def open_page() -> bytes:
        answered = client.get(address)
        answered.raise_for_status()
        return answered.content

    with listening() as asked:
        content = open_page()
    took = median_of(open_page)
    bound = median_of(partial(ask_again, path, asked))
    told = Measured(address.partition("?")[0], took, "its bare SQL", bound)
    bare = re.sub(rb"<svg.*?</svg>", b"", content, flags=re.DOTALL)
    fits = "fits" if len(bare) < MOST_BYTES else "TOO LARGE"
    return (
        f"{told}; {len(asked)} statements; {len(bare) / 1024:.0f} KB without pictures: "
        f"{fits}, {len(content) / 1024:.0f} KB with them"
    )


def addresses(office: Office) -> tuple[str, ...]:
    """Return the mass balance, one account with all its movements, and a late trace."""
    with office.books() as books:
        (account, *_) = balances(books.shelf)
        sales = books.shelf.subjects(SubjectKind.SALE)
    latest = max(sales, key=lambda one: int(one.name.split("-")[1])).name
    return "/balance", f"/balance/{quote(str(account.account))}", f"/trace?of={latest}"


def main(entries: int) -> None:
    """Make a ledger, and open its mass balance and a trace."""
    with tempfile.TemporaryDirectory() as scratch, ExitStack() as stack:
        path = Path(scratch) / "ledger.db"
        start = time.perf_counter()
        make_ledger(path, entries)
        print(
            f"made {entries} entries in {time.perf_counter() - start:.0f} s", flush=True
        )
        office, client = stack.enter_context(served(path))
        for address in addresses(office):
            print(measured(path, client, address), flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if sys.argv[1:] else ENTRIES)
