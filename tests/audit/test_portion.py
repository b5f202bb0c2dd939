"""A part of a ledger by itself gives the figures of the whole, whatever was recorded."""

from collections.abc import Iterable
from datetime import date
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.audit.replay import Replay
from ledger.books.account import Account
from ledger.books.balance import balance_of
from ledger.books.dues import dues_of
from ledger.books.effect import Book, SubjectKind
from ledger.books.finding import EntryRefusedError
from ledger.books.needed import needed
from ledger.books.opening import open_entry
from ledger.books.portion import Portion
from ledger.books.shelf import Shelf
from ledger.chain.canonical import JsonValue
from ledger.chain.entry import GENESIS_PREV, Entry
from ledger.errors import InputError, RefusedError
from tests.books import random_ledger as draws
from tests.books.random_correction import correction, rejection, withdrawal
from tests.books.world_history import WorldHistory
from tests.world import OTHER_SCHEME, RECORDED_AT, SCHEME, World

LONG = settings.get_current_profile_name() == "long"
DRAWS = (
    draws.receipt,
    draws.receipt,
    draws.batch,
    draws.batch,
    draws.sale,
    draws.sale,
    draws.sale_return,
    draws.lot_entry,
    draws.release,
    draws.certificate_event,
    draws.dispatch,
    draws.terms,
    draws.close,
    correction,
    rejection,
    withdrawal,
)


def replayed(world: World, portion: Portion, entries: Iterable[int]) -> Shelf:
    """Judge some entries of a world alone, as the reader of a part does."""
    replay = Replay(portion)
    for seq in sorted(entries):
        raw = world.raws[seq]
        entry = Entry(
            seq=seq,
            prev=GENESIS_PREV,
            kind=raw["kind"],
            occurred_on=date.fromisoformat(raw["occurred_on"]),
            recorded_at=RECORDED_AT,
            recorded_by="clerk",
            body=raw["body"],
        )
        assert open_entry(entry, ()).seq == seq
        replay.judge(entry, ())
    return replay.shelf


def figures(shelf: Shelf, portion: Portion, as_of: date) -> dict[str, Any]:
    """Return the balances and dues that a part shows."""
    found: dict[str, Any] = {}
    for tally in shelf.tallies(Book.ACCOUNT):
        balance = balance_of(shelf, Account.of(tally), until=as_of)
        # An account that first moves later stands in no balance of the day.
        if portion.keeps(tally) and balance.lowest_on is not None:
            found[tally.key] = balance
    for contract in shelf.subjects(SubjectKind.CONTRACT):
        signed = shelf.introducer(contract)
        if (
            signed is not None
            and signed.occurred_on <= as_of
            and portion.has_contract(shelf, contract.name)
        ):
            found[contract.name] = dues_of(shelf, contract.name, as_of).lines
    return found


def anything(data: st.DataObject, entries: int) -> World:
    """Return a factory in which anything was tried, and what was let in stands."""
    world, today = draws.factory(), 0
    for _ in range(entries):
        today += data.draw(st.sampled_from((0, 1, 1, 3, 9)))
        back = data.draw(st.sampled_from((0, 0, 0, 1, 5, 40)))
        ask = data.draw(st.sampled_from(DRAWS))
        drawn = data.draw(st.composite(ask)(world, draws.day(today - back)))
        if drawn is not None:
            kind, on, body = drawn
            try:
                world.record(kind, on, **body)
            except (RefusedError, InputError):
                continue
    return world


@st.composite
def portions(draw: st.DrawFn, world: World) -> Portion:
    """Draw a part of a world."""
    sales = [r["body"]["sale"] for r in world.raws if r["kind"] == "sale.dispatched"]
    if sales and draw(st.integers(0, 3)) == 0:
        return Portion(sale=draw(st.sampled_from(sales)))
    scheme = draw(st.sampled_from((None, SCHEME, OTHER_SCHEME)))
    since = draw(st.none() | st.dates(date(2024, 12, 1), date(2025, 6, 1)))
    until = draw(st.none() | st.dates(since or date(2024, 12, 1), date(2025, 12, 1)))
    if scheme is None and since is None and until is None:
        scheme = SCHEME
    return Portion(scheme, since, until)


@settings(max_examples=300 if LONG else 20, deadline=None)
@given(st.data())
def test_a_part_gives_the_figures_of_the_whole(data: st.DataObject) -> None:
    world = anything(data, 60 if LONG else 30)
    portion = data.draw(portions(world))
    as_of = portion.until or date(2026, 1, 1)
    try:
        entries = needed(world.shelf, WorldHistory(world), portion, as_of=as_of)
    except EntryRefusedError:
        assert portion.sale is not None
        return

    shown = figures(replayed(world, portion, entries), portion, as_of)
    whole = figures(world.shelf, portion, as_of)
    if portion.sale is None:
        assert shown == whole
    assert all(whole[key] == figure for key, figure in shown.items())


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        (
            "certificate.suspended",
            {
                "certificate": f"birch/{SCHEME}",
                "from_on": "2025-04-01",
                "reason": "no audit",
            },
        ),
        (
            "document.attached",
            {
                "document": "D-1",
                "title": "certificate",
                "sha256": "0" * 64,
                "media_type": "text/plain",
                "size": 3,
                "about": [{"subject": "certificate", "name": f"birch/{SCHEME}"}],
            },
        ),
    ],
)
def test_what_is_about_a_certificate_brings_it_along(
    kind: str, body: dict[str, JsonValue]
) -> None:
    """Also where no goods of the period rest on it: the check asks what it is about."""
    world = draws.factory()
    about = world.record(kind, "2025-04-01", **body)
    portion = Portion(since=date(2025, 3, 1), until=date(2025, 5, 1))
    as_of = date(2025, 5, 1)

    entries = needed(world.shelf, WorldHistory(world), portion, as_of=as_of)

    assert about in entries
    assert replayed(world, portion, entries).at(about) is not None
