"""Attached papers in a pack: each must be one that an entry records."""

from collections.abc import Mapping
from dataclasses import dataclass

from ledger.audit.layout import DOCUMENTS
from ledger.audit.source import FileDigest
from ledger.audit.verdict import Part, Where
from ledger.books.shelf import Shelf
from ledger.trade.control import DocumentAttached


@dataclass(frozen=True, slots=True)
class PapersRead:
    """What came of comparing papers with what is recorded.

    Attributes:
        part: Whether every paper in the pack is one that an entry records.
        missing: Number of papers that are recorded but not in the pack.
    """

    part: Part
    missing: int


def check_papers(shelf: Shelf, digests: Mapping[str, FileDigest]) -> PapersRead:
    """Compare the papers in a pack with the entries that record them."""
    recorded: dict[str, DocumentAttached] = {}
    for found in shelf.of_kind("document.attached"):
        if isinstance(found.record, DocumentAttached):
            recorded[found.record.sha256] = found.record
    part = Part("attached papers")
    papers = {name for name in digests if name.startswith(DOCUMENTS)}
    for name in sorted(papers):
        part.count += 1
        digest, named = digests[name], name.removeprefix(DOCUMENTS)
        if digest.sha256 != named:
            part.add(Where(name), f"the file's digest is {digest.sha256}, not its name")
        elif named not in recorded:
            part.add(Where(name), "no entry records this paper")
        elif digest.size != recorded[named].size:
            part.add(
                Where(name),
                f"the paper has {digest.size} bytes, but {recorded[named].size} are "
                "recorded",
            )
    missing = sum(1 for sha256 in recorded if DOCUMENTS + sha256 not in papers)
    return PapersRead(part, missing)
