import pytest
from sqlalchemy import Engine

from ledger.chain.entry import GENESIS_PREV, entry_bytes, parse_entry
from ledger.chain.link import check_links
from ledger.chain.seal import disclosure_digest
from ledger.chain.tree import Frontier, tree_root
from ledger.errors import (
    ConflictError,
    InputError,
    LedgerError,
    NotFoundError,
    SealError,
)
from ledger.store.derived import drop_derived
from ledger.store.engine import rows_of
from ledger.store.entries import (
    append,
    delete_disclosures,
    disclosures_of,
    entry_raw,
    frontier,
    head,
    rebuild_frontier,
    stream_disclosures,
    stream_leaves,
    stream_raws,
)
from ledger.store.rows import PAGE, Rows
from tests.store.sample import append_next, chain, fill, written


def test_an_empty_ledger_goes_on_with_the_first_entry(write: Rows) -> None:
    assert head(write) == (0, GENESIS_PREV)
    assert list(stream_raws(write)) == []
    assert frontier(write) == Frontier()


def test_entries_are_stored_as_they_are_and_in_order(write: Rows) -> None:
    entries = fill(write, 7)

    assert list(stream_raws(write)) == [entry.raw for entry in entries]
    assert list(stream_leaves(write)) == [entry.leaf for entry in entries]
    assert head(write) == (7, entries[-1].leaf.hex())


@pytest.mark.parametrize(
    ("start", "stop"),
    [(0, None), (3, None), (0, 0), (2, 5), (7, 7), (9, None), (5, 99)],
)
def test_a_stretch_of_the_chain_can_be_read(
    write: Rows, start: int, stop: int | None
) -> None:
    raws = [entry.raw for entry in fill(write, 7)]

    assert list(stream_raws(write, start, stop)) == raws[start:stop]


def test_a_chain_longer_than_a_page_is_read_whole(write: Rows) -> None:
    entries = fill(write, PAGE * 2 + 3)

    assert list(stream_raws(write)) == [entry.raw for entry in entries]
    assert [d for _, d in stream_disclosures(write)] == [
        text for entry in entries for text in entry.disclosures
    ]


def test_the_tree_grows_with_every_entry(write: Rows) -> None:
    leaves: list[bytes] = []
    for entry in chain(20):
        append(write, entry.raw, entry.disclosures)
        leaves.append(entry.leaf)

        assert frontier(write).root() == tree_root(leaves)


def test_the_tree_can_be_built_again_from_the_leaves(write: Rows) -> None:
    fill(write, 11)
    kept = frontier(write)
    drop_derived(write)

    assert frontier(write) == Frontier()
    assert rebuild_frontier(write) == kept
    assert frontier(write) == kept


def test_nothing_is_recorded_on_a_tree_that_is_not_that_of_the_entries(
    write: Rows,
) -> None:
    fill(write, 3)
    drop_derived(write)

    with pytest.raises(ConflictError, match="rebuild what follows"):
        append_next(write)
    assert head(write)[0] == 3


def test_one_entry_can_be_read(write: Rows) -> None:
    entries = fill(write, 3)

    assert entry_raw(write, 1) == entries[1].raw


def test_an_entry_that_is_not_there_is_named(write: Rows) -> None:
    fill(write, 3)

    with pytest.raises(NotFoundError, match="no entry 3; the next one will be 3"):
        entry_raw(write, 3)


@pytest.mark.parametrize("seq", [0, 2, 4])
def test_an_entry_out_of_turn_is_refused(write: Rows, seq: int) -> None:
    entries = fill(write, 3)

    with pytest.raises(ConflictError, match="goes on with 3"):
        append(write, written(seq, entries[-1].leaf.hex()).raw)
    assert list(stream_raws(write)) == [entry.raw for entry in entries]


def test_an_entry_after_another_than_the_last_is_refused(write: Rows) -> None:
    entries = fill(write, 3)

    with pytest.raises(ConflictError, match="somebody else recorded"):
        append(write, written(3, entries[1].leaf.hex()).raw)
    assert head(write)[0] == 3


def test_bytes_that_are_no_entry_are_refused(write: Rows) -> None:
    fill(write, 3)
    raw = written(3, head(write)[1]).raw

    with pytest.raises(InputError):
        append(write, raw + b" ")
    assert head(write)[0] == 3


def test_a_disclosure_of_another_entry_is_refused(write: Rows) -> None:
    entries = fill(write, 4)
    stray = entries[1].disclosures

    with pytest.raises(SealError):
        append(write, written(4, entries[-1].leaf.hex()).raw, stray)
    assert head(write)[0] == 4


def test_disclosures_are_found_by_entry(write: Rows) -> None:
    entries = fill(write, 7)

    assert disclosures_of(write, [1, 2, 4, 4, 99]) == {
        1: list(entries[1].disclosures),
        4: list(entries[4].disclosures),
    }
    assert list(stream_disclosures(write, 2, 5)) == [(4, entries[4].disclosures[0])]


def test_an_erased_disclosure_leaves_the_chain_as_it_was(write: Rows) -> None:
    entries = fill(write, 7)
    digests = [disclosure_digest(entries[4].disclosures[0]), "A" * 43]

    assert delete_disclosures(write, digests) == 1
    assert disclosures_of(write, [1, 4]) == {1: list(entries[1].disclosures)}
    assert not [link for link in check_links(stream_raws(write)) if link.breaks]
    assert frontier(write).root() == tree_root(entry.leaf for entry in entries)


def test_of_two_who_read_the_same_head_the_second_is_told(engine: Engine) -> None:
    with engine.begin() as connection:
        fill(rows_of(connection), 3)
    with engine.begin() as connection:
        seq, prev = head(rows_of(connection))
    mine = written(seq, prev, body={"lot": "mine", "to_place": "Shelf-1"})
    with engine.begin() as connection:
        append_next(rows_of(connection))

    with (
        pytest.raises(ConflictError, match="goes on with 4"),
        engine.begin() as connection,
    ):
        append(rows_of(connection), mine.raw)
    with engine.begin() as connection:
        assert head(rows_of(connection))[0] == 4


def test_what_fails_half_way_leaves_nothing(engine: Engine) -> None:
    def record_two_and_fail() -> None:
        with engine.begin() as connection:
            write = rows_of(connection)
            append_next(write)
            append_next(write)
            append(write, b"no entry")

    with pytest.raises(LedgerError):
        record_two_and_fail()
    with engine.begin() as connection:
        assert head(rows_of(connection)) == (0, GENESIS_PREV)
        assert frontier(rows_of(connection)) == Frontier()


def test_stored_bytes_are_those_of_the_entry(write: Rows) -> None:
    fill(write, 2)
    raw = entry_raw(write, 1)

    assert entry_bytes(parse_entry(raw)) == raw
