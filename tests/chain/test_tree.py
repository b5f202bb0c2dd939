import contextlib
import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.chain.entry import leaf_digest
from ledger.chain.tree import (
    Frontier,
    check_consistency,
    check_inclusion,
    consistency_path,
    consistency_spans,
    inclusion_path,
    inclusion_spans,
    span_roots,
    tree_root,
)
from ledger.errors import InputError, SealError
from tests.chain import vectors

EIGHT = tuple(leaf_digest(leaf) for leaf in vectors.EIGHT_LEAVES)
EIGHT_ROOTS = tuple(bytes.fromhex(root) for root in vectors.EIGHT_ROOTS)
GARBAGE = hashlib.sha256(b"garbage").digest()
LEAVES = [leaf_digest(bytes([number])) for number in range(130)]
SIZES = st.integers(1, len(LEAVES))


# ---- The definitions of RFC 9162, section 2.1, as literally as Python allows ----


def below(width: int) -> int:
    """The largest power of two smaller than the width."""
    power = 1
    while power * 2 < width:
        power *= 2
    return power


def mth(d: Sequence[bytes]) -> bytes:
    """Section 2.1.1, over leaf hashes."""
    if not d:
        return hashlib.sha256().digest()
    if len(d) == 1:
        return d[0]
    k = below(len(d))
    return hashlib.sha256(b"\x01" + mth(d[:k]) + mth(d[k:])).digest()


def path(m: int, d: Sequence[bytes]) -> list[bytes]:
    """Section 2.1.3.1."""
    if len(d) == 1:
        return []
    k = below(len(d))
    if m < k:
        return [*path(m, d[:k]), mth(d[k:])]
    return [*path(m - k, d[k:]), mth(d[:k])]


def subproof(m: int, d: Sequence[bytes], *, b: bool) -> list[bytes]:
    """Section 2.1.4.1."""
    if m == len(d):
        return [] if b else [mth(d)]
    k = below(len(d))
    if m <= k:
        return [*subproof(m, d[:k], b=b), mth(d[k:])]
    return [*subproof(m - k, d[k:], b=False), mth(d[:k])]


@given(st.lists(st.binary(min_size=32, max_size=32), max_size=70))
def test_the_growing_tree_has_the_root_of_the_definition(leaves: list[bytes]) -> None:
    frontier = Frontier()
    for leaf in leaves:
        frontier = frontier.with_leaf(leaf)

    assert mth(leaves) == frontier.root() == tree_root(leaves)
    assert len(leaves) == frontier.size


@given(SIZES, st.data())
def test_inclusion_paths_are_those_of_the_definition(
    size: int, data: st.DataObject
) -> None:
    leaves = LEAVES[:size]
    index = data.draw(st.integers(0, size - 1))

    proof = inclusion_path(leaves, index)

    assert path(index, leaves) == list(proof)
    check_inclusion(leaves[index], index=index, size=size, path=proof, root=mth(leaves))


@given(SIZES, st.data())
def test_consistency_paths_are_those_of_the_definition(
    size: int, data: st.DataObject
) -> None:
    leaves = LEAVES[:size]
    old_size = data.draw(st.integers(1, size))

    proof = consistency_path(leaves, old_size)

    assert subproof(old_size, leaves, b=True) == list(proof)
    check_consistency(
        old_size=old_size,
        old_root=mth(leaves[:old_size]),
        size=size,
        root=mth(leaves),
        path=proof,
    )


# ---- Published figures ----


# certificate-transparency, cpp/merkletree/merkle_tree_test.cc, kSHA256Roots.
@pytest.mark.parametrize("size", range(9))
def test_the_roots_of_the_eight_leaves_are_those_published(size: int) -> None:
    assert vectors.EIGHT_ROOTS[size] == tree_root(EIGHT[:size]).hex()


# The same source, kSHA256Paths.
@pytest.mark.parametrize(("index", "size", "hexes"), vectors.INCLUSION_PROOFS)
def test_inclusion_proofs_are_those_published(
    index: int, size: int, hexes: tuple[str, ...]
) -> None:
    proof = inclusion_path(EIGHT[:size], index)

    assert hexes == tuple(digest.hex() for digest in proof)
    check_inclusion(
        EIGHT[index], index=index, size=size, path=proof, root=EIGHT_ROOTS[size]
    )


# The same source, kSHA256Proofs.
@pytest.mark.parametrize(("old_size", "size", "hexes"), vectors.CONSISTENCY_PROOFS)
def test_consistency_proofs_are_those_published(
    old_size: int, size: int, hexes: tuple[str, ...]
) -> None:
    proof = consistency_path(EIGHT[:size], old_size)

    assert hexes == tuple(digest.hex() for digest in proof)
    check_consistency(
        old_size=old_size,
        old_root=EIGHT_ROOTS[old_size],
        size=size,
        root=EIGHT_ROOTS[size],
        path=proof,
    )


# draft-ietf-plants-merkle-tree-certs, appendix "Subtree Test Vectors": a subtree is
# valid if its start is a multiple of the power of two that its width rounds up to.
def test_the_accumulated_subtrees_of_130_leaves_are_those_published() -> None:
    accumulated = hashlib.sha256()
    for end in range(131):
        for start in range(end + 1):
            if start % (1 << max(end - start - 1, 0).bit_length()) == 0:
                root = tree_root(LEAVES[start:end]).hex()
                accumulated.update(f"[{start}, {end}) {root}\n".encode())

    assert accumulated.hexdigest() == vectors.SUBTREES_OF_130_LEAVES


# ---- Proofs that must not hold ----
# The ways of spoiling a sound proof are those of the probes that
# github.com/transparency-dev/merkle publishes in testdata/ (at 417fb0c3).


@dataclass(frozen=True)
class Inclusion:
    leaf: bytes
    index: int
    size: int
    path: tuple[bytes, ...]
    root: bytes

    def check(self) -> None:
        check_inclusion(
            self.leaf, index=self.index, size=self.size, path=self.path, root=self.root
        )


@dataclass(frozen=True)
class Consistency:
    old_size: int
    old_root: bytes
    size: int
    root: bytes
    path: tuple[bytes, ...]

    def check(self) -> None:
        check_consistency(
            old_size=self.old_size,
            old_root=self.old_root,
            size=self.size,
            root=self.root,
            path=self.path,
        )


def flipped(digest: bytes, bit: int) -> bytes:
    return bytes([digest[0] ^ (1 << bit), *digest[1:]])


def spoiled_paths(proof: tuple[bytes, ...], *roots: bytes) -> list[tuple[bytes, ...]]:
    """Paths with a digest changed, added, lost or exchanged."""
    flips = [
        (*proof[:place], flipped(digest, 3), *proof[place + 1 :])
        for place, digest in enumerate(proof)
    ]
    additions = [b"", GARBAGE, *roots, *proof[:1]]
    return [
        *flips,
        *[(addition, *proof) for addition in additions],
        *[(*proof, addition) for addition in additions],
        *[(*proof[:1], GARBAGE, *proof[1:])],
        *[variant for variant in ((), proof[1:], proof[:-1]) if variant != proof],
    ]


INCLUSIONS = [
    Inclusion(
        EIGHT[index],
        index,
        size,
        tuple(bytes.fromhex(digest) for digest in proof),
        EIGHT_ROOTS[size],
    )
    for index, size, proof in vectors.INCLUSION_PROOFS
]
CONSISTENCIES = [
    Consistency(
        old_size,
        EIGHT_ROOTS[old_size],
        size,
        EIGHT_ROOTS[size],
        tuple(bytes.fromhex(digest) for digest in proof),
    )
    for old_size, size, proof in vectors.CONSISTENCY_PROOFS
]

INCLUSION_PROBES: dict[str, Callable[[Inclusion], Inclusion]] = {
    "index plus 1": lambda sound: replace(sound, index=sound.index + 1),
    "index minus 1": lambda sound: replace(sound, index=sound.index - 1),
    "index minus 1 in 64 bits": lambda sound: replace(sound, index=2**64 - 1),
    "index with another bit": lambda sound: replace(sound, index=sound.index ^ 2),
    "size doubled": lambda sound: replace(sound, size=sound.size * 2),
    "size halved": lambda sound: replace(sound, size=sound.size // 2),
    "size nought": lambda sound: replace(sound, size=0),
    "no root": lambda sound: replace(sound, root=b""),
    "another root": lambda sound: replace(sound, root=GARBAGE),
    "root of no leaves": lambda sound: replace(sound, root=EIGHT_ROOTS[0]),
    "no leaf": lambda sound: replace(sound, leaf=b""),
    "another leaf": lambda sound: replace(sound, leaf=GARBAGE),
    "no root and no leaf": lambda sound: replace(sound, root=b"", leaf=b""),
}


@pytest.mark.parametrize("sound", INCLUSIONS)
@pytest.mark.parametrize("probe", INCLUSION_PROBES)
def test_a_spoiled_inclusion_proof_is_refused(sound: Inclusion, probe: str) -> None:
    sound.check()

    with pytest.raises(SealError):
        INCLUSION_PROBES[probe](sound).check()


@pytest.mark.parametrize("sound", INCLUSIONS)
def test_a_spoiled_inclusion_path_is_refused(sound: Inclusion) -> None:
    for spoiled in spoiled_paths(sound.path, sound.root):
        with pytest.raises(SealError):
            replace(sound, path=spoiled).check()


CONSISTENCY_PROBES: dict[str, Callable[[Consistency], Consistency]] = {
    "old size nought": lambda sound: replace(sound, old_size=0),
    "both sizes nought": lambda sound: replace(sound, old_size=0, size=0),
    "old size beyond": lambda sound: replace(sound, old_size=sound.size + 1),
    "size doubled": lambda sound: replace(sound, size=sound.size * 2),
    "size halved": lambda sound: replace(sound, size=sound.size // 2),
    "another old root": lambda sound: replace(sound, old_root=GARBAGE),
    "another root": lambda sound: replace(sound, root=GARBAGE),
    "no old root": lambda sound: replace(sound, old_root=b""),
    "no root": lambda sound: replace(sound, root=b""),
    "neither root": lambda sound: replace(sound, old_root=b"", root=b""),
}


@pytest.mark.parametrize("sound", CONSISTENCIES)
@pytest.mark.parametrize("probe", CONSISTENCY_PROBES)
def test_a_spoiled_consistency_proof_is_refused(sound: Consistency, probe: str) -> None:
    sound.check()

    with pytest.raises(SealError):
        CONSISTENCY_PROBES[probe](sound).check()


@pytest.mark.parametrize("sound", CONSISTENCIES)
def test_a_spoiled_consistency_path_is_refused(sound: Consistency) -> None:
    for spoiled in spoiled_paths(sound.path, sound.old_root, sound.root):
        with pytest.raises(SealError):
            replace(sound, path=spoiled).check()


@pytest.mark.parametrize(
    "sound", [sound for sound in CONSISTENCIES if sound.old_size < sound.size]
)
def test_a_consistency_proof_of_other_trees_is_refused(sound: Consistency) -> None:
    others = [
        replace(sound, old_root=sound.root, root=sound.old_root),
        replace(sound, old_size=sound.old_size + 1),
        replace(sound, old_size=sound.old_size ^ 2),
    ]

    for other in others:
        with pytest.raises(SealError):
            other.check()


def test_a_path_longer_than_its_tree_is_refused_even_if_it_leads_to_the_root() -> None:
    """Whoever states a root can choose one that an overlong path leads to."""
    leaf, old, new = EIGHT[0], tree_root(EIGHT[:3]), tree_root(EIGHT[:4])

    with pytest.raises(SealError, match="too long"):
        check_inclusion(
            leaf, index=0, size=1, path=[GARBAGE], root=mth([GARBAGE, leaf])
        )
    with pytest.raises(SealError, match="does not continue"):
        check_consistency(
            old_size=3,
            old_root=mth([GARBAGE, old]),
            size=4,
            root=mth([GARBAGE, new]),
            path=[*consistency_path(EIGHT[:4], 3), GARBAGE],
        )


@given(SIZES, st.data())
def test_no_leaf_is_proved_in_another_place(size: int, data: st.DataObject) -> None:
    index = data.draw(st.integers(0, size - 1))
    other = data.draw(st.integers(0, size - 1).filter(index.__ne__))
    leaves = LEAVES[:size]

    with pytest.raises(SealError):
        check_inclusion(
            leaves[other],
            index=index,
            size=size,
            path=inclusion_path(leaves, index),
            root=tree_root(leaves),
        )


@given(SIZES, SIZES, st.data())
def test_a_rewritten_beginning_is_not_consistent(
    one: int, other: int, data: st.DataObject
) -> None:
    """A newer tree in which one old leaf was changed never continues the old one."""
    old_size, size = sorted((one, other))
    place = data.draw(st.integers(0, old_size - 1))
    rewritten = [*LEAVES[:place], GARBAGE, *LEAVES[place + 1 : size]]

    with pytest.raises(SealError):
        check_consistency(
            old_size=old_size,
            old_root=tree_root(LEAVES[:old_size]),
            size=size,
            root=tree_root(rewritten),
            path=consistency_path(rewritten, old_size),
        )


@given(
    st.integers(-2, 9),
    st.integers(-2, 9),
    st.lists(st.sampled_from([*EIGHT, b""]), max_size=5),
    st.sampled_from(EIGHT_ROOTS),
    st.sampled_from(EIGHT_ROOTS),
)
def test_checking_any_proof_raises_nothing_but_our_error(
    one: int, other: int, proof: list[bytes], old_root: bytes, root: bytes
) -> None:
    for claim in (
        Consistency(one, old_root, other, root, tuple(proof)),
        Inclusion(old_root, one, other, tuple(proof), root),
    ):
        with contextlib.suppress(SealError):
            claim.check()


# ---- Keeping and growing a tree ----


@given(st.integers(0, 130), st.integers(0, 130))
def test_a_kept_frontier_grows_on_as_if_it_had_never_been_put_away(
    one: int, other: int
) -> None:
    kept, size = sorted((one, other))
    frontier = Frontier().with_leaves(LEAVES[:kept])

    again = Frontier(frontier.size, frontier.hashes)

    assert Frontier().with_leaves(LEAVES[:size]) == again.with_leaves(LEAVES[kept:size])
    assert frontier == Frontier().with_leaves(LEAVES[:kept])


@pytest.mark.parametrize(
    ("size", "hashes"),
    [(-1, (GARBAGE,)), (0, (GARBAGE,)), (2, (GARBAGE, GARBAGE)), (3, (GARBAGE,))],
)
def test_a_frontier_of_the_wrong_shape_is_refused(
    size: int, hashes: tuple[bytes, ...]
) -> None:
    with pytest.raises(SealError, match="complete subtrees"):
        Frontier(size, hashes)


@pytest.mark.parametrize("digest", [b"", GARBAGE[:-1], GARBAGE + b"\x00"])
def test_what_is_not_a_digest_is_refused(digest: bytes) -> None:
    with pytest.raises(SealError, match="a digest in the tree has"):
        Frontier(1, (digest,))
    with pytest.raises(SealError, match="a digest in the tree has"):
        Frontier().with_leaf(digest)
    with pytest.raises(SealError, match="a digest in the tree has"):
        tree_root([GARBAGE, digest, GARBAGE])


@pytest.mark.parametrize(("size", "index"), [(0, 0), (8, 8), (8, -1)])
def test_no_path_leads_from_a_leaf_that_is_not_there(size: int, index: int) -> None:
    with pytest.raises(InputError, match=f"there is no leaf {index}"):
        inclusion_path(EIGHT[:size], index)


@pytest.mark.parametrize(("size", "old_size"), [(0, 0), (8, 0), (8, 9), (8, -1)])
def test_no_path_leads_from_a_tree_that_is_empty_or_larger(
    size: int, old_size: int
) -> None:
    with pytest.raises(InputError, match="cannot be compared"):
        consistency_path(EIGHT[:size], old_size)


# ---- Proofs read once from a stream --------------------------------------------


@given(SIZES, st.data())
def test_a_streamed_proof_is_that_of_the_definition(
    size: int, data: st.DataObject
) -> None:
    """RFC 9162, sections 2.1.3.1 and 2.1.4.1, against the recursive reading above."""
    index = data.draw(st.integers(0, size - 1))
    old = data.draw(st.integers(1, size))
    spans = (*inclusion_spans(size, index), *consistency_spans(size, old))
    roots = span_roots(iter(LEAVES[:size]), spans)
    streamed = [roots[span] for span in spans]

    assert streamed == [
        *path(index, LEAVES[:size]),
        *subproof(old, LEAVES[:size], b=True),
    ]


@given(SIZES, st.data())
def test_the_subtrees_of_an_inclusion_proof_and_the_leaf_are_the_whole_tree(
    size: int, data: st.DataObject
) -> None:
    index = data.draw(st.integers(0, size - 1))
    spans = sorted([*inclusion_spans(size, index), (index, index + 1)])

    assert [place for low, high in spans for place in range(low, high)] == list(
        range(size)
    )


def test_a_stream_that_ends_early_is_said() -> None:
    with pytest.raises(InputError, match="only 7 leaves"):
        span_roots(EIGHT[:7], inclusion_spans(8, 0))


def test_a_stream_of_something_else_is_refused() -> None:
    with pytest.raises(SealError, match="has 3 bytes"):
        span_roots([b"abc"], [(0, 1)])


def test_nothing_is_asked_of_a_stream_without_need() -> None:
    assert span_roots(EIGHT, ()) == {}
