"""Tables that are thrown away: they answer as memory does, and can go back."""

import tempfile
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from ledger.audit.check import check_pack
from ledger.audit.replay import MemoryGround, Replay
from ledger.books.effect import Book, SubjectKind
from ledger.books.shelf import Shelf
from ledger.chain.entry import GENESIS_PREV, Entry, entry_bytes
from ledger.desk import ground
from ledger.desk.check import check_pack_at
from ledger.errors import LedgerError
from ledger.store.rows import PAGE, Rows
from ledger.store.scratch import ScratchShelf, scratch_rows
from tests.audit.test_part_attacks import leave_out, write_lines
from tests.audit.two_schemes import RIVER, TWO_SCHEMES, lines_of, part_of
from tests.desk.small_ledger import fill
from tests.world import RECORDED_AT, World, certified, claim


@pytest.fixture
def rows() -> Iterator[Rows]:
    with scratch_rows() as found:
        yield found


def entries_of(world: World) -> Iterator[Entry]:
    for raw in world.raws:
        yield Entry(
            seq=raw["seq"],
            prev=GENESIS_PREV,
            kind=raw["kind"],
            occurred_on=date.fromisoformat(raw["occurred_on"]),
            recorded_at=RECORDED_AT,
            recorded_by="clerk",
            body=raw["body"],
        )


def busy_world() -> World:
    """A world in which something was bought, made, sold, corrected and refused."""
    world = certified(claim())
    world.receive({"L1": "100", "L2": "50"})
    world.make({"L1": "60", "L2": "20"}, {"M": "80"})
    wrong = world.sell("X1", {"M": "10"}, "2025-02-01", claim())
    world.sell("X2", {"M": "20"}, "2025-02-02", claim())
    world.void(wrong)
    world.write_off("M", "1", "2025-02-03")
    return world


def told(shelf: Shelf) -> list[object]:
    """Return everything that a shelf tells."""
    tallies = [tally for book in Book for tally in shelf.tallies(book)]
    subjects = [one for kind in SubjectKind for one in shelf.subjects(kind)]
    return [
        [(tally, shelf.run(tally), list(shelf.days_moved(tally))) for tally in tallies],
        [(one, shelf.introducer(one), list(shelf.about(one))) for one in subjects],
        [(slot, shelf.at(slot), shelf.effects(slot)) for slot in range(40)],
        list(shelf.edges_into(["M", "L1"])),
    ]


def test_it_answers_as_memory_does(rows: Rows) -> None:
    on_disk, in_memory = Replay(ground=ScratchShelf(rows)), Replay()
    for entry in entries_of(busy_world()):
        on_disk.judge(entry, ())
        in_memory.judge(entry, (), raw=entry_bytes(entry))

    assert told(on_disk.shelf) == told(in_memory.shelf)


def test_what_is_refused_leaves_nothing_behind(rows: Rows) -> None:
    replay, memory = Replay(ground=ScratchShelf(rows)), Replay(ground=MemoryGround())
    entries = list(entries_of(busy_world()))
    for entry in entries:
        for one in (replay, memory):
            one.judge(entry, ())
            with pytest.raises(LedgerError, match="counts already"):
                one.judge(entry, ())

    assert told(replay.shelf) == told(memory.shelf)


def test_a_refusal_halfway_is_undone(rows: Rows) -> None:
    world = busy_world()
    entries = list(entries_of(world))
    last = entries[-1]
    oversold = Entry(
        seq=len(entries),
        prev=GENESIS_PREV,
        kind="lot.written_off",
        occurred_on=last.occurred_on,
        recorded_at=RECORDED_AT,
        recorded_by="clerk",
        body={"lot": "M", "mass_kg": "1000.000", "reason": "spillage"},
    )
    replay = Replay(ground=ScratchShelf(rows))
    for entry in entries:
        replay.judge(entry, ())
    before = told(replay.shelf)
    with pytest.raises(LedgerError, match="below zero"):
        replay.judge(oversold, ())

    assert told(replay.shelf) == before
    assert rows("SELECT COUNT(*) FROM entry") == [(len(entries),)]


def test_long_answers_are_read_page_by_page(rows: Rows) -> None:
    shelf = ScratchShelf(rows)
    replay = Replay(ground=shelf)
    entries = list(entries_of(certified(claim())))
    parties = [
        Entry(
            seq=len(entries) + number,
            prev=GENESIS_PREV,
            kind="party.registered",
            occurred_on=entries[-1].occurred_on,
            recorded_at=RECORDED_AT,
            recorded_by="clerk",
            body={"party": f"P{number}", "roles": ["customer"], "country": "NL"},
        )
        for number in range(PAGE + 5)
    ]
    for entry in (*entries, *parties):
        replay.judge(entry, ())
    found = shelf.of_kind("party.registered")
    slots = [one.slot for one in found]

    assert len(found) == len(slots) > PAGE
    assert slots == sorted(slots)
    assert found[-1].slot == slots[-1]
    assert [one.slot for one in found[-3:]] == slots[-3:]


def test_the_file_is_removed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    with scratch_rows():
        during = list(tmp_path.glob("evenweight-*/scratch.db"))

    assert len(during) == 1
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("spoil", ["nothing", "left out", "swapped", "repeated", "cut"])
def test_the_verdict_is_the_same_on_disk_as_in_memory(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, spoil: str
) -> None:
    fill(tmp_path / "ledger.db", TWO_SCHEMES)
    pack = tmp_path / "pack"
    part_of(tmp_path / "ledger.db", pack, RIVER if spoil == "left out" else None)
    lines = lines_of(pack)
    if spoil == "left out":
        leave_out(pack, 12)
    elif spoil == "swapped":
        write_lines(pack, [*lines[:12], lines[13], lines[12], *lines[14:]])
    elif spoil == "repeated":
        write_lines(pack, [*lines[:13], lines[12], *lines[13:]])
    elif spoil == "cut":
        write_lines(pack, lines[:-3])
    monkeypatch.setattr(ground, "MOST_IN_MEMORY", 5)

    assert check_pack_at(pack) == check_pack(pack)
    assert check_pack(pack).holds == (spoil == "nothing")
