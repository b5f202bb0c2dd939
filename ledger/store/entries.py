"""The entries as stored, and the only door through which one is written."""

from collections.abc import Iterable, Iterator, Mapping, Sequence

from ledger.chain.entry import GENESIS_PREV, leaf_digest, parse_entry
from ledger.chain.seal import disclosure_digest, open_sealed
from ledger.chain.tree import DIGEST_SIZE, Frontier
from ledger.errors import ConflictError, NotFoundError
from ledger.store.rows import PAGE, Row, Rows, listed


def head(rows: Rows) -> tuple[int, str]:
    """Return where the chain goes on: the next seq, and the prev it must carry."""
    last = rows("SELECT seq, leaf FROM entry ORDER BY seq DESC LIMIT 1")
    if not last:
        return 0, GENESIS_PREV
    [(seq, leaf)] = last
    return seq + 1, leaf.hex()


def append(write: Rows, raw: bytes, disclosures: Sequence[str] = ()) -> int:
    """Write an entry at the end of the chain, and grow the tree by it.

    Args:
        write: The transaction of a writer.
        raw: Canonical bytes of the entry.
        disclosures: Texts that open its sealed values.

    Returns:
        Its seq.

    Raises:
        InputError: The bytes are not an entry.
        SealError: A disclosure does not belong to the entry.
        ConflictError: The entry does not continue the chain, because somebody else
            recorded one in the meantime; or the tree is not that of the entries.
    """
    entry = parse_entry(raw)
    seq, prev = head(write)
    if (entry.seq, entry.prev) != (seq, prev):
        raise ConflictError(
            f"entry {entry.seq} with prev {entry.prev} does not continue the ledger, "
            f"which goes on with {seq} after {prev}: somebody else recorded an entry "
            "in the meantime; look at it and try again"
        )
    tree = frontier(write)
    if tree.size != seq:
        raise ConflictError(
            f"the tree covers {tree.size} entries of {seq}; rebuild what follows from "
            "the entries before recording another"
        )
    # One that does not belong would make the entry unreadable for ever.
    open_sealed(entry.body, disclosures)
    leaf = leaf_digest(raw)
    write(
        "INSERT INTO entry (seq, leaf, raw) VALUES (:seq, :leaf, :raw)",
        {"seq": seq, "leaf": leaf, "raw": raw},
    )
    keep_frontier(write, tree.with_leaf(leaf))
    for text in disclosures:
        write(
            "INSERT INTO disclosure (digest, seq, text) VALUES (:digest, :seq, :text)",
            {"digest": disclosure_digest(text), "seq": seq, "text": text},
        )
    return seq


def entry_raw(rows: Rows, seq: int) -> bytes:
    """Return the canonical bytes of an entry.

    Raises:
        NotFoundError: There is no such entry.
    """
    found = rows("SELECT raw FROM entry WHERE seq = :seq", {"seq": seq})
    if not found:
        raise NotFoundError(
            f"there is no entry {seq}; the next one will be {head(rows)[0]}"
        )
    [(raw,)] = found
    return bytes(raw)


def stream_raws(rows: Rows, start: int = 0, stop: int | None = None) -> Iterator[bytes]:
    """Yield the canonical bytes of entries in order, a page in memory at a time.

    Args:
        rows: Whom to ask.
        start: Seq of the first.
        stop: Seq after the last; the end of the chain where left out.
    """
    for _, raw in _stream(rows, "raw", start, stop):
        yield bytes(raw)


def neighbours_of(rows: Rows, seq: int) -> tuple[int | None, int | None]:
    """Return the numbers of the entries before and after a place, as far as they are."""
    [(before,)] = rows("SELECT MAX(seq) FROM entry WHERE seq < :seq", {"seq": seq})
    [(after,)] = rows("SELECT MIN(seq) FROM entry WHERE seq > :seq", {"seq": seq})
    return before, after


def stream_back(rows: Rows, before: int | None = None) -> Iterator[tuple[int, bytes]]:
    """Yield number and canonical bytes of entries from the last to the first.

    Args:
        rows: Whom to ask.
        before: Number after the first that is yielded; the end where left out.
    """
    until = head(rows)[0] if before is None else before
    while page := rows(
        f"SELECT seq, raw FROM entry WHERE seq < :until ORDER BY seq DESC LIMIT {PAGE}",  # noqa: S608 - ours
        {"until": until},
    ):
        yield from ((seq, bytes(raw)) for seq, raw in page)
        until = page[-1][0]


def stream_leaves(
    rows: Rows, start: int = 0, stop: int | None = None
) -> Iterator[bytes]:
    """Yield the leaf digests of entries in order, a page in memory at a time.

    Args:
        rows: Whom to ask.
        start: Seq of the first.
        stop: Seq after the last; the end of the chain where left out.
    """
    for _, leaf in _stream(rows, "leaf", start, stop):
        yield bytes(leaf)


def stream_disclosures(
    rows: Rows, start: int = 0, stop: int | None = None
) -> Iterator[tuple[int, str]]:
    """Yield what opens sealed values, with the seq of its entry, in order of seq.

    Args:
        rows: Whom to ask.
        start: Seq of the first entry.
        stop: Seq after the last; the end of the chain where left out.
    """
    until = head(rows)[0] if stop is None else stop
    first = start
    while first < until:
        after = min(first + PAGE, until)
        yield from rows(
            "SELECT seq, text FROM disclosure WHERE seq >= :first AND seq < :after "
            "ORDER BY seq, digest",
            {"first": first, "after": after},
        )
        # Not page by page: a number put in behind our back may be any.
        [(following,)] = rows(
            "SELECT MIN(seq) FROM disclosure WHERE seq >= :after", {"after": after}
        )
        first = until if following is None else following


def stream_stored_disclosures(rows: Rows) -> Iterator[tuple[str, int, str]]:
    """Yield every row of disclosures as it is stored: digest, seq and text.

    Only a check of the store needs them so: what is stored may belong to no entry.
    """
    after = ""
    while page := rows(
        "SELECT digest, seq, text FROM disclosure WHERE digest > :after "  # noqa: S608 - ours
        f"ORDER BY digest LIMIT {PAGE}",
        {"after": after},
    ):
        yield from page
        after = page[-1][0]


def disclosures_of(rows: Rows, seqs: Iterable[int]) -> Mapping[int, Sequence[str]]:
    """Return what opens sealed values of entries, by seq; erased ones are missing."""
    found: dict[int, list[str]] = {}
    question = (
        "SELECT seq, text FROM disclosure WHERE seq IN ({values}) ORDER BY seq, digest"
    )
    for seq, text in listed(rows, question, seqs):
        found.setdefault(seq, []).append(text)
    return found


def delete_disclosures(write: Rows, digests: Iterable[str]) -> int:
    """Erase sealed values for good; the entries and every digest stay as they are.

    Args:
        write: The transaction of a writer.
        digests: Digests of the disclosures, as `disclosure_digest` gives them.

    Returns:
        How many there were.
    """
    question = "DELETE FROM disclosure WHERE digest IN ({values}) RETURNING digest"
    return sum(1 for _ in listed(write, question, digests))


def frontier(rows: Rows) -> Frontier:
    """Return the Merkle tree over all entries, as far as it is needed to grow it."""
    kept = rows("SELECT size, frontier FROM tree_head")
    if not kept:
        return Frontier()
    [(size, hashes)] = kept
    return Frontier(
        size,
        tuple(
            bytes(hashes[start : start + DIGEST_SIZE])
            for start in range(0, len(hashes), DIGEST_SIZE)
        ),
    )


def rebuild_frontier(write: Rows) -> Frontier:
    """Build the tree again from the leaves, keep it, and return it."""
    tree = Frontier().with_leaves(stream_leaves(write))
    keep_frontier(write, tree)
    return tree


def keep_frontier(write: Rows, tree: Frontier) -> None:
    """Keep a tree in place of the one that was kept before."""
    write("DELETE FROM tree_head")
    write(
        "INSERT INTO tree_head (place, size, frontier) VALUES (0, :size, :frontier)",
        {"size": tree.size, "frontier": b"".join(tree.hashes)},
    )


def _stream(rows: Rows, column: str, start: int, stop: int | None) -> Iterator[Row]:
    until = head(rows)[0] if stop is None else stop
    first = start
    while page := rows(
        f"SELECT seq, {column} FROM entry "  # noqa: S608 - a column of ours
        f"WHERE seq >= :first AND seq < :until ORDER BY seq LIMIT {PAGE}",
        {"first": first, "until": until},
    ):
        yield from page
        first = page[-1][0] + 1
