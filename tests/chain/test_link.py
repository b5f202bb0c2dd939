import json
from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.chain.canonical import JsonValue, canonical_bytes
from ledger.chain.entry import (
    GENESIS_PREV,
    Entry,
    entry_bytes,
    leaf_digest,
    parse_entry,
)
from ledger.chain.link import Break, check_links
from ledger.chain.tree import Frontier, tree_root
from tests.chain.strategies import chain

LENGTH = 7
RAWS = chain(LENGTH)
ROOT = tree_root([leaf_digest(raw) for raw in RAWS])
PLACES = st.integers(0, LENGTH - 1)


def breaks(raws: list[bytes]) -> list[Break]:
    return [found for link in check_links(raws) for found in link.breaks]


def broken_at(raws: list[bytes]) -> set[int]:
    return {found.seq_expected for found in breaks(raws)}


def root(raws: list[bytes]) -> bytes:
    """The root a reader computes in the pass that checks the links."""
    return Frontier().with_leaves(link.digest for link in check_links(raws)).root()


def changed(raw: bytes, **members: JsonValue) -> bytes:
    return canonical_bytes({**json.loads(raw), **members})


def test_a_sound_chain_has_no_breaks() -> None:
    links = list(check_links(RAWS))

    assert not [link for link in links if link.breaks]
    assert [leaf_digest(raw) for raw in RAWS] == [link.digest for link in links]
    assert [parse_entry(raw) for raw in RAWS] == [link.entry for link in links]


def test_no_entries_have_no_links() -> None:
    assert not list(check_links([]))


@pytest.mark.parametrize("start", range(1, LENGTH))
def test_a_check_can_take_up_where_another_ended(start: int) -> None:
    prev = leaf_digest(RAWS[start - 1]).hex()

    links = list(check_links(RAWS[start:], seq=start, prev=prev))

    assert not [link for link in links if link.breaks]
    assert [leaf_digest(raw) for raw in RAWS[start:]] == [link.digest for link in links]


def test_a_check_that_starts_at_the_wrong_place_says_so() -> None:
    (first, *others) = check_links(RAWS[2:], seq=3, prev=leaf_digest(RAWS[2]).hex())

    assert [found.seq_expected for found in first.breaks] == [3, 3]
    assert not [link for link in others if link.breaks]


@given(PLACES, st.data())
def test_any_changed_byte_is_found_and_located(place: int, data: st.DataObject) -> None:
    """It shows at the entry, or at the next, or, in the last entry, in the root."""
    raw = bytearray(RAWS[place])
    position = data.draw(st.integers(0, len(raw) - 1))
    raw[position] = data.draw(st.integers(0, 255).filter(raw[position].__ne__))
    raws = [*RAWS[:place], bytes(raw), *RAWS[place + 1 :]]

    assert broken_at(raws) <= {place, place + 1}
    assert broken_at(raws) or place == LENGTH - 1
    assert root(raws) != ROOT


@given(PLACES)
def test_every_byte_changed_to_its_neighbour_is_found(place: int) -> None:
    for position in range(len(RAWS[place])):
        raw = bytearray(RAWS[place])
        raw[position] ^= 1
        raws = [*RAWS[:place], bytes(raw), *RAWS[place + 1 :]]

        assert broken_at(raws) <= {place, place + 1}
        assert broken_at(raws) or place == LENGTH - 1
        assert root(raws) != ROOT


@given(PLACES)
def test_a_removed_entry_is_located_once(place: int) -> None:
    """Only the tail can go unnoticed by the chain; the root and its size tell."""
    raws = [*RAWS[:place], *RAWS[place + 1 :]]

    assert broken_at(raws) == ({place} if place < LENGTH - 1 else set())
    assert root(raws) != ROOT


@given(PLACES, PLACES)
def test_a_repeated_entry_is_located(place: int, source: int) -> None:
    raws = [*RAWS[:place], RAWS[source], *RAWS[place:]]

    assert min(broken_at(raws)) in {place, place + 1}
    assert broken_at(raws) <= {place, place + 1, place + 2}
    assert root(raws) != ROOT


@given(st.integers(1, LENGTH - 1))
def test_a_forged_entry_put_in_is_located(place: int) -> None:
    """It can name the entry before it, but no later entry names it."""
    forged = entry_bytes(
        Entry(
            seq=place,
            prev=leaf_digest(RAWS[place - 1]).hex(),
            kind="lot.moved",
            occurred_on=date(2026, 3, 2),
            recorded_at=datetime(2026, 3, 4, tzinfo=UTC),
            recorded_by="u2",
            body={},
        )
    )
    raws = [*RAWS[:place], forged, *RAWS[place:]]

    assert broken_at(raws) == {place + 1}


@given(PLACES, PLACES)
def test_swapped_entries_are_located(one: int, other: int) -> None:
    raws = list(RAWS)
    raws[one], raws[other] = raws[other], raws[one]
    low, high = sorted((one, other))

    if low == high:
        assert not broken_at(raws)
        return
    assert {low, high} <= broken_at(raws) <= {low, low + 1, high, high + 1}
    assert root(raws) != ROOT


def test_all_breaks_are_reported_not_only_the_first() -> None:
    raws = [*RAWS[:1], b"?", RAWS[2], *RAWS[4:]]

    found = breaks(raws)

    assert [found.seq_expected for found in found] == [1, 2, 3, 3]
    assert "the bytes are not an entry" in found[0].problem
    assert "prev is" in found[1].problem
    assert "seq is 4 where 3 should stand" in found[2].problem
    assert "prev is" in found[3].problem


def test_the_count_goes_on_over_entries_that_cannot_be_read() -> None:
    unreadable = [RAWS[0], b"?", b"!", *RAWS[3:]]
    lost_and_unreadable = [RAWS[0], RAWS[2], b"?", *RAWS[4:]]

    assert [found.seq_expected for found in breaks(unreadable)] == [1, 2, 3]
    assert [found.seq_expected for found in breaks(lost_and_unreadable)] == [1, 1, 2, 4]


def test_bytes_that_are_no_entry_still_have_a_digest() -> None:
    (link,) = check_links([b"?"])

    assert link.entry is None
    assert link.digest == leaf_digest(b"?")


def test_a_rewritten_chain_holds_and_only_a_kept_root_tells() -> None:
    """What a chain alone cannot prove: its owner can compute every link again."""
    raws = list(RAWS[:3])
    raws[2] = changed(raws[2], recorded_by="u9")
    for raw in RAWS[3:]:
        raws.append(changed(raw, prev=leaf_digest(raws[-1]).hex()))

    assert not breaks(raws)
    assert root(raws) != ROOT


@pytest.mark.parametrize(
    ("members", "problem"),
    [
        ({"seq": 1}, "seq is 1 where 0 should stand"),
        ({"prev": "f" * 64}, f"the digest {GENESIS_PREV}"),
        ({"kind": "lot.moved"}, "the first entry, and no other, is ledger.opened"),
    ],
)
def test_a_wrong_first_entry_is_named(
    members: dict[str, JsonValue], problem: str
) -> None:
    (link,) = check_links([changed(RAWS[0], **members)])

    (found,) = link.breaks
    assert found.seq_expected == 0
    assert problem in found.problem


def test_a_ledger_opens_only_once() -> None:
    again = changed(RAWS[1], kind="ledger.opened")

    assert broken_at([RAWS[0], again]) == {1}
