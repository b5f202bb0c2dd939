"""Checking a pack that somebody handed over, with what the reader has from elsewhere."""

import json
from dataclasses import asdict, dataclass
from pathlib import Path

from ledger.audit.check import check_pack
from ledger.audit.heads import read_origin
from ledger.audit.layout import TreeHead
from ledger.audit.signatures import Pinned
from ledger.audit.verdict import Verdict
from ledger.chain.note import Algorithm, parse_key
from ledger.chain.tree import DIGEST_SIZE
from ledger.desk.enrolment import maker_signing_as, remember, witness_keys
from ledger.desk.ground import ground_for
from ledger.desk.signed import read_checkpoint
from ledger.desk.timestamp import read_authorities
from ledger.errors import InputError, NotFoundError


@dataclass(frozen=True, slots=True)
class CheckedForFolder:
    """A check with what a folder knew, and what it remembers now.

    Attributes:
        verdict: What the check found.
        maker: What the maker is called in the folder.
        kept: Number of entries of the checkpoint that was compared with, 0 if none.
        remembered: Number of entries of the checkpoint that was new and is remembered
            from now on, if there is one.
    """

    verdict: Verdict
    maker: str
    kept: int
    remembered: int | None


def check_pack_at(
    path: Path, *, kept: TreeHead | None = None, pinned: Pinned | None = None
) -> Verdict:
    """Check a pack.

    Args:
        path: The pack, a folder or a zip file.
        kept: A tree head kept from an earlier pack, if there is one to compare with.
        pinned: Keys and certificates that the reader has from their owners.

    Raises:
        InputError: There is nothing that can be read as a pack, or it is in a newer
            format.
        SealError: It is not safe to read, or not a zip as packs are written.
    """
    return check_pack(path, kept=kept, pinned=pinned or Pinned(), ground=ground_for)


def check_pack_for(
    folder: Path, path: Path, *, authorities: Path | None = None
) -> CheckedForFolder:
    """Check a pack with what a certifier's folder knows, and remember what was new.

    Args:
        folder: The folder, in which the maker is enrolled.
        path: The pack.
        authorities: PEM file of the certificates of timestamp authorities.

    Raises:
        NotFoundError: The maker is not enrolled.
        InputError: There is nothing that can be read as a pack, or the folder cannot be
            read or written to.
        SealError: The pack is not safe to read, or the folder does not hold.
    """
    origin = read_origin(path)
    if origin is None:
        raise NotFoundError(
            "the record in the pack names no key, so it is of no maker that can be "
            "enrolled; ask the maker for a ledger that signs"
        )
    # The name tells whom to look up; the key is the one that was pinned.
    maker = maker_signing_as(folder, origin)
    verdict = check_pack(
        path,
        kept=TreeHead(maker.last.size, maker.last.checkpoint.root)
        if maker.last
        else None,
        pinned=Pinned(maker.key, witness_keys(folder), read_authorities(authorities)),
        ground=ground_for,
    )
    new = verdict.to_keep
    remembered = new is not None and remember(maker, new)
    return CheckedForFolder(
        verdict=verdict,
        maker=maker.name,
        kept=maker.last.size if maker.last else 0,
        remembered=new.size if new is not None and remembered else None,
    )


def pinned_by_hand(
    key: str | None, witnesses: tuple[str, ...], authorities: Path | None
) -> Pinned:
    """Return what a reader says by hand that they know.

    Args:
        key: Line of the maker's key.
        witnesses: Lines of witnesses' keys.
        authorities: PEM file of the certificates of timestamp authorities.

    Raises:
        InputError: A line is not a key of its sort, or the file cannot be read.
    """
    maker = None if key is None else parse_key(key)
    if maker is not None and maker.algorithm is not Algorithm.NOTE:
        raise InputError(
            f"the key of {maker.name} is a witness's, not a maker's; give the line that "
            "the maker gave you"
        )
    return Pinned(
        maker, tuple(map(parse_key, witnesses)), read_authorities(authorities)
    )


def kept_from(given: str) -> TreeHead:
    """Read what a reader kept: the file of a checkpoint, or a tree head as SIZE:ROOT.

    Raises:
        InputError: It is neither.
    """
    path = Path(given)
    if path.is_file():
        kept = read_checkpoint(path).checkpoint
        return TreeHead(kept.size, kept.root)
    return parse_kept(given)


def parse_kept(text: str) -> TreeHead:
    """Read a tree head that was noted down as SIZE:ROOT, such as `812:9f86d0…`.

    Raises:
        InputError: It is not a number, a colon and 64 hexadecimal digits.
    """
    size, _, root = text.strip().partition(":")
    try:
        digest = bytes.fromhex(root)
    except ValueError:
        digest = b""
    if not (size.isascii() and size.isdigit()) or len(digest) != DIGEST_SIZE:
        raise InputError(
            f"the tree head {text!r} is not a file, nor a number of entries, a colon and "
            f"{2 * DIGEST_SIZE} hexadecimal digits; copy it as it was printed"
        )
    return TreeHead(int(size), digest)


def verdict_json(verdict: Verdict) -> str:
    """Return a verdict as JSON."""
    return json.dumps(
        {
            "holds": verdict.holds,
            "entries": verdict.size,
            "tree_head": verdict.root.hex(),
            "signed_entries": verdict.to_keep.size if verdict.to_keep else 0,
            "as_of": None if verdict.as_of is None else verdict.as_of.isoformat(),
            "checked": [asdict(checked) for checked in verdict.checked],
            "problems": [
                {**asdict(problem.where), "sentence": problem.sentence}
                for problem in verdict.problems
            ],
            "proved": verdict.proved,
            "claimed": verdict.claimed,
            "not_checked": verdict.not_checked,
        },
        indent=2,
        ensure_ascii=False,
    )
