"""Checking a pack that somebody handed over."""

import json
from dataclasses import asdict
from pathlib import Path

from ledger.audit.check import check_pack
from ledger.audit.layout import TreeHead
from ledger.audit.verdict import Verdict
from ledger.chain.tree import DIGEST_SIZE
from ledger.errors import InputError


def check_pack_at(path: Path, *, kept: TreeHead | None = None) -> Verdict:
    """Check a pack.

    Args:
        path: The pack, a folder or a zip file.
        kept: A tree head kept from an earlier pack, if there is one to compare with.

    Raises:
        InputError: There is nothing that can be read as a pack, or it is in a newer
            format.
        SealError: It is not safe to read, or not a zip as packs are written.
    """
    return check_pack(path, kept=kept)


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
            f"the tree head {text!r} is not a number of entries, a colon and "
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
