"""Of two entries that do not fit, the one that was changed is named."""

from dataclasses import replace
from datetime import UTC, date, datetime

from hypothesis import given
from hypothesis import strategies as st

from ledger.audit.joints import JointCheck
from ledger.chain.entry import (
    GENESIS_PREV,
    OPENING_KIND,
    Entry,
    entry_bytes,
    leaf_digest,
    parse_entry,
)
from ledger.chain.link import check_links
from ledger.chain.tree import tree_root

LENGTH = 9


def chain() -> list[bytes]:
    raws: list[bytes] = []
    prev = GENESIS_PREV
    for seq in range(LENGTH):
        entry = Entry(
            seq=seq,
            prev=prev,
            kind="lot.moved" if seq else OPENING_KIND,
            occurred_on=date(2026, 3, 2),
            recorded_at=datetime(2026, 3, 2, tzinfo=UTC),
            recorded_by="clerk",
            body={"lot": f"L-{seq}"},
        )
        raws.append(entry_bytes(entry))
        prev = leaf_digest(raws[-1]).hex()
    return raws


WHOLE = chain()
ROOT = tree_root(map(leaf_digest, WHOLE))


def checked(raws: list[bytes]) -> JointCheck:
    check = JointCheck()
    for link in check_links(raws):
        check.take(link)
    check.finish(LENGTH, ROOT)
    return check


def blamed(raws: list[bytes]) -> set[int]:
    return {broken.place for broken in checked(raws).broken}


def test_a_whole_chain_is_not_blamed() -> None:
    assert blamed(WHOLE) == set()


@given(place=st.integers(0, LENGTH - 2))
def test_of_a_changed_body_only_that_entry_is_blamed(place: int) -> None:
    """The last entry is left out: the tree head alone knows it."""
    raws = list(WHOLE)
    raws[place] = raws[place].replace(b"L-", b"M-")

    assert blamed(raws) == {place}


@given(place=st.integers(0, LENGTH - 1))
def test_of_a_changed_link_only_that_entry_is_blamed(place: int) -> None:
    raws = list(WHOLE)
    raws[place] = entry_bytes(replace(parse_entry(raws[place]), prev="f" * 64))

    assert blamed(raws) == {place}


@given(place=st.integers(0, LENGTH - 1), junk=st.binary(max_size=20))
def test_of_an_unreadable_entry_only_that_entry_is_blamed(
    place: int, junk: bytes
) -> None:
    raws = list(WHOLE)
    raws[place] = junk

    assert blamed(raws) == {place}


@given(places=st.sets(st.integers(0, LENGTH - 3), min_size=1))
def test_of_many_changed_bodies_the_last_of_each_run_is_blamed(
    places: set[int],
) -> None:
    """Nothing vouches for what stands right before a changed entry."""
    raws = list(WHOLE)
    for place in places:
        raws[place] = raws[place].replace(b"L-", b"M-")

    last = {place for place in places if place + 1 not in places}
    assert last <= blamed(raws) <= places


def test_where_the_tree_head_cannot_decide_nobody_is_blamed() -> None:
    raws = list(WHOLE)
    for place in (0, 1, LENGTH - 2):
        raws[place] = raws[place].replace(b"L-", b"M-")
    check = checked(raws)

    assert [broken.place for broken in check.broken] == [1, LENGTH - 1]
    assert "one of the two was changed" in check.broken[-1].problem


@given(place=st.integers(1, LENGTH - 2))
def test_a_lost_entry_is_shown_where_it_is_missing(place: int) -> None:
    raws = WHOLE[:place] + WHOLE[place + 1 :]

    assert place in blamed(raws)
