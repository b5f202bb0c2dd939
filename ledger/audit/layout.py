"""Names, versions and limits of a pack: what may stand in it, and how large it may be.

docs/reference/pack.md describes the format in words.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

from ledger.books.portion import Portion
from ledger.errors import InputError

PACK_VERSION: Final = 1
"""The number of this format of packs; a reader refuses a newer one."""

BAGIT: Final = "bagit.txt"
BAG_INFO: Final = "bag-info.txt"
MANIFEST: Final = "manifest-sha256.txt"
TAG_MANIFEST: Final = "tagmanifest-sha256.txt"
README: Final = "README.txt"
BY_HAND: Final = "by-hand.txt"
PAGE: Final = "look.html"
VERIFIER: Final = "verify.py"

ENTRIES: Final = "data/entries.jsonl"
DISCLOSURES: Final = "data/disclosures.jsonl"
TREE_HEAD: Final = "data/tree-head.json"
FIGURES: Final = "data/figures/"
SCOPE: Final = FIGURES + "scope.json"
REPORTS: Final = "data/reports/"
DOCUMENTS: Final = "data/documents/"
CHECKPOINTS: Final = "data/checkpoints/"
CONSISTENCY: Final = "data/consistency/"
TIMESTAMPS: Final = "data/timestamps/"

LISTED_TAG_FILES: Final = (
    README,
    BAG_INFO,
    BAGIT,
    BY_HAND,
    PAGE,
    MANIFEST,
    VERIFIER,
)
"""What stands beside the payload and is listed in the tag manifest, in byte order."""

MAX_FILES: Final = 20_000
"""How many files a pack may hold."""

MAX_PACK_BYTES: Final = 2**32 - 1
"""How large a pack may be: what a zip without extensions can hold."""

MAX_LINE_BYTES: Final = 4 * 2**20
"""How long a line of entries or disclosures may be."""

MAX_WHOLE_BYTES: Final = 64 * 2**20
"""How large a file may be that is read whole: figures, manifests, tree head."""

CHUNK: Final = 2**18
"""How many bytes are read at a time."""

_REPORT = re.compile(r"[a-z0-9][a-z0-9_-]{0,79}(\.[a-z0-9]{1,9})?")
_DOCUMENT = re.compile(r"[0-9a-f]{64}")
_CHECKPOINT = re.compile(r"([1-9][0-9]{0,15})\.note")
_STEP = re.compile(r"([1-9][0-9]{0,15})-([1-9][0-9]{0,15})\.txt")
_TIMESTAMP = re.compile(r"([1-9][0-9]{0,15})\.tsr")


@dataclass(frozen=True, slots=True)
class TreeHead:
    """What stands for the entries of a ledger up to a size.

    Attributes:
        size: Number of entries.
        root: Root of the Merkle tree over them (RFC 9162, 2.1.1), 32 bytes.
    """

    size: int
    root: bytes


@dataclass(frozen=True, slots=True)
class Scope:
    """What the figures of a pack cover.

    Attributes:
        as_of: Trade date up to which figures are added up.
        made_at: When the pack was made, in UTC.
        made_by: Who made it.
        entries: Number of entries it was made from.
        portion: The part of the ledger that it shows; None for the whole of it.
        profile: Name and day of the profile by which sealed values are shown; None for
            the usual one.
    """

    as_of: date
    made_at: datetime
    made_by: str
    entries: int
    portion: Portion | None = None
    profile: str | None = None


def is_report(name: str) -> bool:
    """Tell whether a report may be called so, without its folder."""
    return _REPORT.fullmatch(name) is not None


def is_payload(name: str, figures: Iterable[str]) -> bool:
    """Tell whether a file of this name has a place among the payload.

    Args:
        name: Name from the top of the pack.
        figures: Names of the files of figures, without their folder.
    """
    folder, _, last = name.rpartition("/")
    if folder + "/" == REPORTS:
        return is_report(last)
    if folder + "/" == DOCUMENTS:
        return _DOCUMENT.fullmatch(last) is not None
    if folder + "/" in {CHECKPOINTS, CONSISTENCY, TIMESTAMPS}:
        return bool(checkpoint_size(name) or step_sizes(name) or timestamp_size(name))
    return name in required_payload(figures)


def checkpoint_size(name: str) -> int | None:
    """Return the size of the checkpoint that a file is named for, if it is one."""
    found = _CHECKPOINT.fullmatch(name.removeprefix(CHECKPOINTS))
    return int(found[1]) if found and name.startswith(CHECKPOINTS) else None


def timestamp_size(name: str) -> int | None:
    """Return the size of the checkpoint that a timestamp is named for, if it is one."""
    found = _TIMESTAMP.fullmatch(name.removeprefix(TIMESTAMPS))
    return int(found[1]) if found and name.startswith(TIMESTAMPS) else None


def step_sizes(name: str) -> tuple[int, int] | None:
    """Return the two sizes that a consistency proof is named for, if it is one."""
    found = _STEP.fullmatch(name.removeprefix(CONSISTENCY))
    if not found or not name.startswith(CONSISTENCY):
        return None
    return int(found[1]), int(found[2])


def required_payload(figures: Iterable[str]) -> frozenset[str]:
    """Return the files that every pack holds among its payload."""
    computed = (FIGURES + figure for figure in figures)
    return frozenset({ENTRIES, DISCLOSURES, TREE_HEAD, SCOPE, *computed})


def check_size(files: int, octets: int) -> None:
    """Refuse a pack beyond the limits.

    Args:
        files: Number of files.
        octets: Bytes in all of them.

    Raises:
        InputError: It has too many files or bytes.
    """
    if files > MAX_FILES:
        raise InputError(
            f"the pack has {files} files, more than the {MAX_FILES} that a pack may hold; "
            "leave out attached papers"
        )
    if octets > MAX_PACK_BYTES:
        raise InputError(
            f"the pack has {octets} bytes, more than the {MAX_PACK_BYTES} that a pack may "
            "hold; leave out attached papers"
        )
