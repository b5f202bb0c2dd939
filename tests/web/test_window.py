"""A certifier sees what a pack of the same part discloses, on every page, and no more."""

import io
import json
import re
import zipfile
from collections.abc import Iterator
from datetime import date
from html import unescape
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from ledger.books.balance import balances
from ledger.desk.pack import make_pack
from ledger.desk.people import change
from ledger.desk.record import record
from ledger.desk.window import portion_of, sight_of
from ledger.errors import NotFoundError
from ledger.store.entries import frontier
from ledger.store.people import Window
from ledger.trade.role import Role
from ledger.web.api.call import Call
from ledger.web.api.calls import CALLS
from ledger.web.office import Office
from tests.web.conftest import PERSON_OF, Visitor, visit_as
from tests.web.crawl import crawl, route_of
from tests.web.programs import program
from tests.web.recorded import stored, words_in

WINDOWS = {
    "one scheme": Window("osierfold"),
    "one scheme for half a year": Window(
        "osierfold", date(2025, 7, 1), date(2025, 12, 31)
    ),
    "a quarter": Window(None, date(2026, 4, 1), date(2026, 6, 30)),
    "the whole": Window(),
}
PER_ROUTE = 3
"""How many addresses of one page are opened."""


@pytest.mark.parametrize("window", WINDOWS.values(), ids=WINDOWS)
def test_a_window_holds_what_a_pack_of_it_holds(
    read_office: Office, window: Window, tmp_path: Path
) -> None:
    sight = sight_of(window, today=read_office.today())
    with read_office.rows() as rows:
        make_pack(
            rows,
            out=tmp_path / "pack",
            as_of=sight.as_of,
            made_at=read_office.now(),
            made_by="demo",
            portion=sight.portion,
        )
    lines = (tmp_path / "pack/data/entries.jsonl").read_bytes().splitlines()
    shown = [line for line in lines if line.startswith(b"{")]
    given = [
        json.loads(line)
        for line in (tmp_path / "pack/data/disclosures.jsonl").read_text().splitlines()
    ]

    with read_office.books_in(window) as books:
        entries, disclosures = stored(books.rows)
        size = frontier(books.rows).size

    assert entries == shown
    assert disclosures == sorted((one["seq"], one["text"]) for one in given)
    assert size == len(lines)


@pytest.mark.parametrize("window", WINDOWS.values(), ids=WINDOWS)
def test_accounts_in_a_window_are_those_of_the_whole(
    read_office: Office, window: Window
) -> None:
    until = sight_of(window, today=read_office.today()).as_of
    portion = portion_of(window)

    with read_office.books() as books:
        whole = [
            one
            for one in balances(books.shelf, since=None, until=until)
            if portion is None or portion.keeps(one.account.tally)
        ]
    with read_office.books_in(window) as books:
        part = list(balances(books.shelf, since=None, until=until))

    assert part == whole
    assert part


def test_a_window_shows_the_books_as_they_stood_when_recorded(
    read_office: Office,
) -> None:
    with read_office.books() as books:
        moment = books.shelf.of_kind("sale.dispatched")[40].recorded_at
    with read_office.books(recorded_by=moment) as books:
        whole = list(balances(books.shelf, since=None, until=moment.date()))
    with read_office.books_in(WINDOWS["one scheme"], recorded_by=moment) as books:
        part = list(balances(books.shelf, since=None, until=moment.date()))
        last = max(books.shelf.of_kind("sale.dispatched"), key=lambda one: one.seq)

    assert part == [one for one in whole if one.account.scheme == "osierfold"]
    assert last.recorded_at <= moment


def test_a_window_follows_the_ledger(office: Office) -> None:
    with office.books_in(WINDOWS["one scheme"]) as books:
        before = frontier(books.rows).size
    with office.writing("demo") as writing:
        record(
            writing,
            "lot.moved",
            office.today(),
            {"lot": some_lot(office), "to_place": "elsewhere"},
        )

    with office.books_in(WINDOWS["one scheme"]) as books:
        assert frontier(books.rows).size == before + 1


def some_lot(office: Office) -> str:
    with office.books() as books:
        return str(books.shelf.of_kind("lot.moved")[0].record.model_dump()["lot"])


def test_a_window_on_a_scheme_without_terms_shows_nothing(read_office: Office) -> None:
    with (
        pytest.raises(NotFoundError, match="no terms of it are recorded"),
        read_office.books_in(Window("nothing-such")),
    ):
        pass


# --- Every page and every download that a certifier may open ----------------------------


@pytest.fixture(scope="module")
def narrow(read_office: Office) -> Iterator[Visitor]:
    """A certifier with a window on one scheme for half a year."""
    name, before = PERSON_OF[Role.CERTIFIER], WINDOWS["one scheme"]
    window = WINDOWS["one scheme for half a year"]
    with read_office.writing("demo") as writing:
        change(writing, name, roles={Role.CERTIFIER}, window=window, ended=False)
    yield visit_as(read_office, Role.CERTIFIER)
    with read_office.writing("demo") as writing:
        change(writing, name, roles={Role.CERTIFIER}, window=before, ended=False)


@pytest.fixture(scope="module")
def outside(read_office: Office, narrow: Visitor) -> re.Pattern[str]:
    """Every name and text that is recorded, and not to be seen by this certifier."""
    del narrow
    with read_office.rows() as rows:
        everything = words_in(rows)
    with read_office.books_in(WINDOWS["one scheme for half a year"]) as books:
        seen = words_in(books.rows)
    # What is a part of something that may be seen is no proof of a leak.
    # Who has signed in is told their own name.
    together = "\n".join({*seen, PERSON_OF[Role.CERTIFIER]})
    hidden = sorted(word for word in everything - seen if word not in together)
    assert len(hidden) > 200
    return re.compile(
        "|".join(rf"(?<![\w-]){re.escape(word)}(?![\w-])" for word in hidden)
    )


def told_by(raw: bytes, media_type: str) -> str:
    """What an answer tells: the text of a page, or of every part of a workbook."""
    if "spreadsheet" not in media_type and not raw.startswith(b"PK"):
        return unescape(raw.decode("utf-8", "replace"))
    with zipfile.ZipFile(io.BytesIO(raw)) as parts:
        return "\n".join(
            unescape(parts.read(name).decode("utf-8", "replace"))
            for name in parts.namelist()
        )


def test_no_page_or_download_tells_a_certifier_what_lies_outside(
    narrow: Visitor, outside: re.Pattern[str]
) -> None:
    leaks, routes = [], set()
    for address, answer in crawl(narrow, per_route=PER_ROUTE):
        assert answer.status_code < 500, address
        path = urlsplit(address).path
        routes.add(route_of(narrow, path))
        # The page for the browser alone is the same for everybody, and a file of ours.
        if path != "/look":
            told = told_by(answer.content, answer.headers.get("content-type", ""))
            leaks += [(address, found) for found in set(outside.findall(told))]

    assert not leaks
    assert routes >= {
        *("/balance", "/balance/{account:path}", "/dues", "/dues/{contract:path}"),
        *("/trace", "/entries", "/entries/{seq}", "/samples", "/findings", "/papers"),
    }


NAMED = {
    "/sales/{}": "sale.dispatched",
    "/lots/{}": "shipment.received",
    "/shipments/{}": "shipment.received",
    "/contracts/{}": "contract.signed",
    "/dues/{}": "contract.signed",
    "/batches/{}": "batch.made",
    "/statements/{}": "party.registered",
    "/trace?of={}": "sale.dispatched",
    "/recall?of={}": "shipment.received",
}


def test_what_lies_outside_is_not_found_by_its_address(
    narrow: Visitor, read_office: Office, outside: re.Pattern[str]
) -> None:
    with read_office.books() as whole:
        entries = {
            kind: [
                found.record.model_dump(mode="json")
                for found in whole.shelf.of_kind(kind)
            ]
            for kind in {*NAMED.values()}
        }
        seqs = {
            kind: [one.seq for one in whole.shelf.of_kind(kind)] for kind in entries
        }
    for address, kind in NAMED.items():
        for body in entries[kind]:
            name = str(
                body[kind.split(".")[0]]
                if "lots" not in address
                else body["lots"][0]["lot"]
            )
            if not outside.fullmatch(name):
                continue
            answer = narrow.get(address.format(name))
            assert answer.status_code in {403, 404}, address.format(name)
            assert set(outside.findall(unescape(answer.text))) <= {name}
            break
    with read_office.books_in(WINDOWS["one scheme for half a year"]) as books:
        shown = {seq for (seq,) in books.rows("SELECT seq FROM entry")}
    hidden = [seq for kind in seqs for seq in seqs[kind] if seq not in shown]
    for seq in hidden[:10]:
        assert narrow.get(f"/entries/{seq}").status_code in {403, 404}


@pytest.mark.parametrize(
    "call",
    [call for call in CALLS if Role.CERTIFIER in call.may and call.method == "GET"],
    ids=lambda call: call.name,
)
def test_no_call_tells_a_certifier_what_lies_outside(
    narrow: Visitor, read_office: Office, outside: re.Pattern[str], call: Call
) -> None:
    assert narrow.secret
    answer = program(read_office, Role.CERTIFIER).make(call)

    assert answer.status_code < 500
    told = told_by(answer.content, answer.headers.get("content-type", ""))
    # What was asked for may be said again.
    asked = {str(part) for part in call.example.values()}
    assert set(outside.findall(told)) <= asked
