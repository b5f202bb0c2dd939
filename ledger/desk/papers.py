"""Attaching papers: kept beside the ledger by their digest, recorded, put into packs."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Final

from ledger.books.effect import Recorded, Subject, SubjectKind
from ledger.books.lookup import expect
from ledger.books.shelf import Shelf
from ledger.chain.canonical import JsonValue
from ledger.desk.record import Recording, record
from ledger.desk.writing import Writing
from ledger.errors import NotFoundError
from ledger.intake.paper import media_type_of
from ledger.store.paper_file import keep_paper, kept_paper, read_paper
from ledger.store.shelf import SqlShelf
from ledger.trade.control import DocumentAttached

if TYPE_CHECKING:
    from ledger.store.rows import Rows

_SHORT: Final = 16


@dataclass(frozen=True, slots=True)
class Paper:
    """A paper to attach.

    Attributes:
        filename: What the file is called; it is not recorded.
        raw: Its bytes.
        title: What it is, such as "bill of lading".
        about: Sort and name of each thing that it belongs to.
        document: Name of the document; made from its digest where left empty.
    """

    filename: str
    raw: bytes
    title: str
    about: Sequence[tuple[str, str]]
    document: str = ""


def attach(
    writing: Writing, folder: Path, papers: Sequence[Paper], *, on: date
) -> tuple[Recording, ...]:
    """Keep papers beside the ledger and record them, all or none.

    Args:
        writing: The open transaction.
        folder: The folder of papers.
        papers: The papers.
        on: Day on which they were attached.

    Raises:
        InputError: A file is of a sort that no paper is, or a field cannot be read.
        EntryRefusedError: One belongs to something that is not recorded, or there is a
            document of that name.
    """
    # The books judge first: what they refuse leaves no file behind.
    made = tuple(
        record(writing, DocumentAttached.kind, on, _body_of(paper)) for paper in papers
    )
    for paper in papers:
        keep_paper(folder, paper.raw)
    return made


def _body_of(paper: Paper) -> dict[str, JsonValue]:
    digest = sha256(paper.raw).hexdigest()
    about: list[JsonValue] = [
        {"subject": subject, "name": name} for subject, name in paper.about
    ]
    return {
        "document": paper.document or f"paper-{digest[:_SHORT]}",
        "title": paper.title,
        "sha256": digest,
        "media_type": media_type_of(paper.filename, paper.raw),
        "size": len(paper.raw),
        "about": about,
    }


def papers_about(
    shelf: Shelf, kind: SubjectKind, name: str
) -> tuple[tuple[Recorded, DocumentAttached], ...]:
    """Return the papers that belong to a thing, in the order recorded."""
    found = shelf.about(Subject(kind, name), DocumentAttached.kind)
    return tuple((one, expect(one.record, DocumentAttached)) for one in found)


def all_papers(shelf: Shelf) -> tuple[tuple[Recorded, DocumentAttached], ...]:
    """Return every paper that an entry records, the last first."""
    found = reversed(shelf.of_kind(DocumentAttached.kind))
    return tuple((one, expect(one.record, DocumentAttached)) for one in found)


def kept_of(
    folder: Callable[[], Path], papers: Sequence[tuple[Recorded, DocumentAttached]]
) -> frozenset[str]:
    """Return the digests of the papers whose file is kept.

    Args:
        folder: Gives the folder of papers; asked only if there are papers.
        papers: The papers.

    Raises:
        NotFoundError: There is no place where papers are kept.
    """
    digests = {paper.sha256 for _, paper in papers}
    return frozenset(one for one in digests if kept_paper(folder(), one) is not None)


def _recorded_paper(shelf: Shelf, digest: str) -> DocumentAttached:
    """Return what is recorded of a paper.

    Raises:
        NotFoundError: No entry on the shelf records it.
    """
    for one in _recorded(shelf):
        if one.sha256 == digest:
            return one
    raise NotFoundError(
        "no entry that you may see records this paper; choose one from the page Papers"
    )


def opened_paper(
    shelf: Shelf, folder: Path, digest: str
) -> tuple[DocumentAttached, bytes]:
    """Return what is recorded of a paper, and its bytes.

    Raises:
        NotFoundError: No entry on the shelf records it, or it is not kept here.
        SealError: The file was changed after it was attached.
    """
    return _recorded_paper(shelf, digest), read_paper(folder, digest)


def papers_for_pack(rows: "Rows", folder: Callable[[], Path]) -> Mapping[str, Path]:
    """Return the file of every recorded paper that is kept, by its digest.

    Args:
        rows: The ledger.
        folder: Gives the folder of papers; asked only if a paper is recorded.

    Raises:
        NotFoundError: There is no place where papers are kept.
    """
    found = sorted({one.sha256 for one in _recorded(SqlShelf(rows))})
    kept = {digest: kept_paper(folder(), digest) for digest in found}
    return {digest: path for digest, path in kept.items() if path is not None}


def _recorded(shelf: Shelf) -> Iterator[DocumentAttached]:
    for found in shelf.of_kind(DocumentAttached.kind):
        yield expect(found.record, DocumentAttached)
