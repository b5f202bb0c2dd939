"""Tree heads at several sizes and the keys of a ledger, read from the entries of a pack.

One pass over the entries; of all of them only those that tell of keys are kept.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from ledger.audit.layout import ENTRIES
from ledger.audit.source import lines_of, open_source
from ledger.audit.withheld import digest_of_line
from ledger.books.effect import Recorded
from ledger.books.opening import open_entry
from ledger.books.signing import KeyTerm, terms_of
from ledger.chain.entry import parse_entry
from ledger.chain.note import parse_key
from ledger.chain.tree import Frontier
from ledger.errors import SealError
from ledger.trade.opening import LedgerOpened

_KEY_KINDS: Final = (b'"kind":"key.rotated"', b'"kind":"key.revoked"')


@dataclass(frozen=True, slots=True)
class HeadsRead:
    """What reading the entries of a pack told.

    Attributes:
        size: Number of entries.
        roots: Root of the tree over the first entries, by the sizes asked for; sizes
            beyond the last entry are missing.
        terms: The keys of the ledger, in order.
    """

    size: int
    roots: Mapping[int, bytes]
    terms: tuple[KeyTerm, ...]


def read_heads(pack: Path, sizes: Collection[int]) -> HeadsRead:
    """Read the entries of a pack for its tree heads and keys, and nothing else.

    Args:
        pack: The pack, a folder or a zip file.
        sizes: Numbers of entries for which the root is wanted.

    Raises:
        InputError: There is nothing that can be read as a pack, or an entry about keys
            cannot be read.
        SealError: It is not safe to read, holds no entries, or a key does not hold.
    """
    wanted, roots = set(sizes), {}
    tree = Frontier()
    first: str | None = None
    told: list[Recorded] = []
    with open_source(pack) as source:
        if ENTRIES not in source.names:
            raise SealError(f"the pack holds no {ENTRIES}, so nothing can be compared")
        for line in lines_of(source, ENTRIES):
            if tree.size == 0:
                first = _first_key(line.raw)
            if any(kind in line.raw for kind in _KEY_KINDS):
                told.append(open_entry(parse_entry(line.raw), ()))
            tree = tree.with_leaf(digest_of_line(line.raw))
            if tree.size in wanted:
                roots[tree.size] = tree.root()
    return HeadsRead(
        tree.size,
        roots,
        terms_of(
            first,
            rotations=[one for one in told if one.kind == "key.rotated"],
            revocations=[one for one in told if one.kind == "key.revoked"],
        ),
    )


def read_origin(pack: Path) -> str | None:
    """Return the name under which the ledger in a pack signs, by its first entry.

    Args:
        pack: The pack, a folder or a zip file.

    Raises:
        InputError: There is nothing that can be read as a pack, or no first entry.
        SealError: It is not safe to read.
    """
    with open_source(pack) as source:
        if ENTRIES not in source.names:
            return None
        first = next(lines_of(source, ENTRIES), None)
    line = None if first is None else _first_key(first.raw)
    return None if line is None else parse_key(line).name


def _first_key(raw: bytes) -> str | None:
    record = open_entry(parse_entry(raw), ()).record
    return record.public_key if isinstance(record, LedgerOpened) else None
