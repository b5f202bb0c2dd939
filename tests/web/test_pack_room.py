"""Packs are made one after the other, for whoever asked, and taken away in the end."""

import threading
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from ledger.desk.pack import Packed
from ledger.errors import NotFoundError, RefusedError, SealError
from ledger.web.pack_room import MOST_KEPT, MOST_WAITING, Order, PackRoom

NOW = datetime(2026, 10, 1, tzinfo=UTC)


@pytest.fixture
def room() -> Iterator[PackRoom]:
    opened = PackRoom()
    yield opened
    opened.close()


def written(out: Path) -> Packed:
    out.write_bytes(b"PK")
    return Packed(out, 1, 1, bytes(32), 1, (), 0)


def ask(room: PackRoom, ticket: str, make: Callable[[Path], Packed] = written) -> Order:
    return room.order(ticket, by="anna", about=ticket, asked_at=NOW, make=make)


def wait(*orders: Order) -> None:
    pause = threading.Event()
    while not all(order.is_over for order in orders):
        pause.wait(0.005)


def test_asking_returns_before_the_pack_is_made(room: PackRoom) -> None:
    may_go_on = threading.Event()

    def slow(out: Path) -> Packed:
        may_go_on.wait()
        return written(out)

    order = ask(room, "a", slow)
    assert not order.is_over
    may_go_on.set()
    wait(order)

    assert order.packed is not None
    assert order.path.read_bytes() == b"PK"


def test_only_who_asked_finds_it(room: PackRoom) -> None:
    order = ask(room, "a")

    assert room.find("a", by="anna") is order
    assert room.orders_of("ben") == ()
    for ticket, by in (("a", "ben"), ("b", "anna")):
        with pytest.raises(NotFoundError, match="ask for it anew"):
            room.find(ticket, by=by)


def test_a_refusal_is_told_and_a_bug_is_ours(
    room: PackRoom, caplog: pytest.LogCaptureFixture
) -> None:
    def refuse(_: Path) -> Packed:
        raise SealError("the part cannot be shown by itself")

    def fail(_: Path) -> Packed:
        raise ZeroDivisionError

    refused, failed = ask(room, "a", refuse), ask(room, "b", fail)
    wait(refused, failed)

    assert refused.refusal == "the part cannot be shown by itself"
    assert "on our side" in failed.refusal
    assert "ZeroDivisionError" in caplog.text
    assert "ZeroDivisionError" not in failed.refusal


def test_more_than_a_few_do_not_wait(room: PackRoom) -> None:
    may_go_on = threading.Event()

    def slow(out: Path) -> Packed:
        may_go_on.wait()
        return written(out)

    orders = [ask(room, str(number), slow) for number in range(MOST_WAITING)]
    with pytest.raises(RefusedError, match="ask again when one of them is ready"):
        ask(room, "one more")
    may_go_on.set()
    wait(*orders)

    wait(ask(room, "one more"))


def test_old_packs_make_room_for_new_ones(room: PackRoom) -> None:
    orders = []
    for number in range(MOST_KEPT + 3):
        orders.append(ask(room, str(number)))
        wait(*orders)

    assert [order.ticket for order in room.orders_of("anna")] == [
        str(number) for number in reversed(range(3, MOST_KEPT + 3))
    ]
    assert [order.path.exists() for order in orders] == [False] * 3 + [True] * MOST_KEPT


def test_nobody_else_may_read_the_folder_and_closing_takes_it_away(
    room: PackRoom,
) -> None:
    order = ask(room, "a")
    wait(order)
    folder = order.path.parents[1]

    assert folder.stat().st_mode & 0o077 == 0
    room.close()
    assert not folder.exists()
