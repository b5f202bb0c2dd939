"""A refused entry leaves no trace in the books of a check."""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ledger.audit.replay import Replay
from ledger.books.effect import Book, SubjectKind
from ledger.books.shelf import Shelf
from ledger.chain.canonical import JsonValue
from ledger.chain.entry import Entry, parse_entry
from ledger.errors import LedgerError


def shown(shelf: Shelf) -> object:
    """Return everything that a shelf can be asked."""
    tallies = [tally for book in Book for tally in shelf.tallies(book)]
    subjects = [subject for kind in SubjectKind for subject in shelf.subjects(kind)]
    slots = [slot for slot in range(40) if shelf.at(slot) is not None]
    return (
        [(tally, shelf.run(tally)) for tally in tallies],
        [
            (subject, shelf.introducer(subject), shelf.about(subject))
            for subject in subjects
        ],
        [(slot, shelf.at(slot), shelf.effects(slot)) for slot in slots],
        shelf.edges_into(["L-1", "L-2"]),
        shelf.edges_out_of(["L-1", "L-2"]),
        shelf.of_kind("sale.dispatched"),
    )


@pytest.fixture(scope="session")
def entries(small_pack: Path) -> list[Entry]:
    raws = (small_pack / "data/entries.jsonl").read_bytes().splitlines()
    return [parse_entry(raw) for raw in raws]


@settings(
    deadline=None,
    max_examples=40,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(target=st.integers(0, 30), cut=st.integers(1, 22))
def test_refused_entries_change_nothing(
    target: int, cut: int, entries: list[Entry]
) -> None:
    with_refusals, without = Replay(), Replay()
    for entry in entries[:cut]:
        with_refusals.judge(entry, ())
        without.judge(entry, ())
    void: dict[str, JsonValue] = {"target": target, "reason": "x"}
    for seq, body in ((30, void), (0, {}), (31, {})):
        wrong = Entry(
            seq=seq,
            prev="0" * 64,
            kind="correction",
            occurred_on=entries[-1].occurred_on,
            recorded_at=entries[-1].recorded_at,
            recorded_by="forger",
            body=body,
        )
        try:
            with_refusals.judge(wrong, ())
        except LedgerError:
            continue
        without.judge(wrong, ())

    assert shown(with_refusals.shelf) == shown(without.shelf)


def test_an_entry_counts_once(entries: list[Entry]) -> None:
    replay = Replay()
    replay.judge(entries[0], ())

    with pytest.raises(LedgerError, match="counts already"):
        replay.judge(entries[0], ())
