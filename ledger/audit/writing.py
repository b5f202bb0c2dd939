"""Writing a pack: all of it or nothing, and the same bytes for the same contents."""

import os
import shutil
import tempfile
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from hashlib import file_digest
from pathlib import Path
from typing import IO

from ledger.audit.bag import (
    BAGIT_TEXT,
    bag_info_text,
    manifest_text,
    oxum_of,
)
from ledger.audit.disclosures import disclosure_line
from ledger.audit.enclosed import enclosed
from ledger.audit.figure import COMPUTED, Asked, figure_text
from ledger.audit.layout import (
    BAG_INFO,
    BAGIT,
    CHECKPOINTS,
    CHUNK,
    CONSISTENCY,
    DISCLOSURES,
    DOCUMENTS,
    ENTRIES,
    FIGURES,
    LISTED_TAG_FILES,
    MANIFEST,
    MAX_LINE_BYTES,
    REPORTS,
    SCOPE,
    TAG_MANIFEST,
    TIMESTAMPS,
    TREE_HEAD,
    Scope,
    TreeHead,
    check_size,
    is_report,
)
from ledger.audit.scope import scope_text, tree_head_text
from ledger.audit.source import FileDigest, digest_of
from ledger.audit.withheld import withheld_line
from ledger.audit.zipped import Member, zip_parts
from ledger.books.shelf import Shelf
from ledger.chain.checkpoint import SignedCheckpoint
from ledger.chain.entry import leaf_digest
from ledger.chain.extension import Extension
from ledger.chain.link import Withheld
from ledger.chain.tree import Frontier
from ledger.errors import ConflictError, InputError, SealError

_ZIP = ".zip"


@dataclass(frozen=True, slots=True)
class Contents:
    """What goes into a pack.

    Attributes:
        organisation: Name of the maker as the opening entry states it.
        scope: What the figures cover.
        head: What stands for the entries.
        entries: Canonical bytes of every entry, in order, or the digest of one that is
            not shown.
        disclosures: Number of the entry and text of every disclosure that is shown, in
            order of entry and digest.
        shelf: The books over these entries.
        reports: Content of each report by its file name.
        documents: The file of each attached paper by its SHA-256 in hexadecimal.
        checkpoints: Everything that was signed, in order of size.
        extensions: The proof of each checkpoint that it continues the one before.
        timestamps: What authorities answered, by the size of the checkpoint.
    """

    organisation: str
    scope: Scope
    head: TreeHead
    entries: Iterable[bytes | Withheld]
    disclosures: Iterable[tuple[int, str]]
    shelf: Shelf
    reports: Mapping[str, bytes] = field(default_factory=dict)
    documents: Mapping[str, Path] = field(default_factory=dict)
    checkpoints: tuple[SignedCheckpoint, ...] = ()
    extensions: tuple[Extension, ...] = ()
    timestamps: Mapping[int, bytes] = field(default_factory=dict)


def write_pack(contents: Contents, out: Path, *, replace: bool = False) -> int:
    """Write a pack and return the number of its files.

    Nothing is at `out` until all of it is.

    Args:
        contents: What goes into it.
        out: Where to; a zip file if the name ends in .zip, else a folder.
        replace: Whether a pack that is there already may be overwritten.

    Raises:
        ConflictError: Something is there already.
        InputError: A report or paper cannot go into a pack, it would be too large, or
            the place cannot be written to.
        SealError: The entries are not those of the tree head.
    """
    _check_place(out, replace=replace)
    try:
        with _beside(out) as workplace:
            folder = workplace / _folder_name(out)
            folder.mkdir()
            digests = _write_folder(contents, folder)
            made = folder
            if out.suffix.lower() == _ZIP:
                made = workplace / "made"
                _zip(folder, digests, made)
            _put(made, out, workplace / "old", replace=replace)
    except OSError as error:
        raise InputError(
            f"the pack cannot be written to {out} ({error.strerror or error}); check the "
            "folder and the room on the disk"
        ) from error
    return len(digests)


def _check_place(out: Path, *, replace: bool) -> None:
    if not out.parent.is_dir():
        raise InputError(f"there is no folder {out.parent}; make it, or name another")
    if not os.path.lexists(out):
        return
    if not replace:
        raise ConflictError(
            f"there is something at {out} already; name another place, or say that it may "
            "be replaced"
        )
    is_zip = out.suffix.lower() == _ZIP
    replaceable = out.is_file() if is_zip else (out / BAGIT).is_file()
    if out.is_symlink() or not replaceable:
        raise ConflictError(
            f"what is at {out} is not a pack, so it is not replaced; name another place"
        )


@contextmanager
def _beside(out: Path) -> Iterator[Path]:
    """Make a folder on the same disk for what is not finished, and remove it again."""
    workplace = Path(tempfile.mkdtemp(prefix=f".{out.name}.", dir=out.parent))
    try:
        yield workplace
    finally:
        shutil.rmtree(workplace, ignore_errors=True)


def _folder_name(out: Path) -> str:
    """Return the folder in a zip: named as the zip is, where that is a plain name."""
    return out.stem if is_report(out.stem.lower()) else "pack"


def _write_folder(contents: Contents, folder: Path) -> dict[str, FileDigest]:
    digests: dict[str, FileDigest] = {}
    for name, chunks in _payload(contents):
        digests[name] = _write(folder / name, chunks)
    info = bag_info_text(
        organisation=contents.organisation,
        as_of=contents.scope.as_of,
        made_on=contents.scope.made_at.date(),
        oxum=oxum_of(digests.values()),
    )
    manifest = manifest_text({name: one.sha256 for name, one in digests.items()})
    for name, text in (
        (BAGIT, BAGIT_TEXT),
        (BAG_INFO, info),
        *enclosed().items(),
        (MANIFEST, manifest),
    ):
        digests[name] = _write(folder / name, [text])
    listed = manifest_text({name: digests[name].sha256 for name in LISTED_TAG_FILES})
    digests[TAG_MANIFEST] = _write(folder / TAG_MANIFEST, [listed])
    check_size(len(digests), sum(one.size for one in digests.values()))
    return digests


def _payload(contents: Contents) -> Iterator[tuple[str, Iterable[bytes]]]:
    yield ENTRIES, record_lines(contents.entries, contents.head)
    yield DISCLOSURES, (disclosure_line(*given) for given in contents.disclosures)
    yield TREE_HEAD, [tree_head_text(contents.head)]
    yield SCOPE, [scope_text(contents.scope)]
    asked = Asked(
        contents.shelf, contents.head, contents.scope.as_of, contents.scope.portion
    )
    for figure in COMPUTED:
        yield FIGURES + figure.file, [figure_text(figure, figure.rows(asked))]
    for report, content in sorted(contents.reports.items()):
        if not is_report(report):
            raise InputError(
                f"a report cannot be named {report!r} in a pack; use small letters, "
                "digits, hyphens and one full stop"
            )
        yield REPORTS + report, [content]
    for sha256, path in sorted(contents.documents.items()):
        yield DOCUMENTS + sha256, _document_chunks(sha256, path)
    yield from _signed(contents)


def _signed(contents: Contents) -> Iterator[tuple[str, Iterable[bytes]]]:
    for signed in contents.checkpoints:
        yield f"{CHECKPOINTS}{signed.size}.note", [str(signed.note).encode()]
        if signed.size in contents.timestamps:
            name = f"{TIMESTAMPS}{signed.size}.tsr"
            yield name, [contents.timestamps[signed.size]]
    for step in contents.extensions:
        name = f"{CONSISTENCY}{step.old_size}-{step.signed.size}.txt"
        yield name, [str(step).encode()]


def record_lines(
    entries: Iterable[bytes | Withheld], head: TreeHead
) -> Iterator[bytes]:
    """Yield the lines of the record, as they stand in `data/entries.jsonl`.

    Args:
        entries: Canonical bytes of every entry, in order, or the digest of one that is
            not shown.
        head: What stands for them.

    Raises:
        InputError: An entry is longer than a line may be.
        SealError: The entries are not those of the tree head.
    """
    tree = Frontier()
    for entry in entries:
        if isinstance(entry, Withheld):
            tree = tree.with_leaf(entry.digest)
            yield withheld_line(entry) + b"\n"
            continue
        raw = entry
        if len(raw) > MAX_LINE_BYTES:
            raise InputError(
                f"entry {tree.size} has {len(raw)} bytes, more than the {MAX_LINE_BYTES} "
                "that a line of a pack may have"
            )
        tree = tree.with_leaf(leaf_digest(raw))
        yield raw + b"\n"
    if (tree.size, tree.root()) != (head.size, head.root):
        raise SealError(
            f"the {tree.size} stored entries do not give the tree head that the ledger "
            "keeps; verify the ledger and find out what was changed before packing it"
        )


def _document_chunks(sha256: str, path: Path) -> Iterator[bytes]:
    with path.open("rb") as file:
        if file_digest(file, "sha256").hexdigest() != sha256:
            raise SealError(
                f"the paper at {path} is not the file that was recorded: its digest is "
                f"not {sha256}; put the recorded file there"
            )
        file.seek(0)
        yield from _read_on(file)


def _write(path: Path, chunks: Iterable[bytes]) -> FileDigest:
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("xb") as file:
        digest = digest_of(_written(file, chunks))
        file.flush()
        os.fsync(file.fileno())
    return digest


def _written(file: IO[bytes], chunks: Iterable[bytes]) -> Iterator[bytes]:
    for chunk in chunks:
        file.write(chunk)
        yield chunk


def _zip(folder: Path, digests: Mapping[str, FileDigest], out: Path) -> None:
    top = folder.name + "/"
    members = [
        Member(top + name, digests[name].size, digests[name].crc)
        for name in sorted(digests)
    ]
    headers = sum(2 * len(member.name) + 76 for member in members) + 22
    check_size(len(members), sum(member.size for member in members) + headers)
    with out.open("xb") as file:
        for part in zip_parts(members):
            if isinstance(part, bytes):
                file.write(part)
            else:
                _copy(folder / part.name.removeprefix(top), file)
        file.flush()
        os.fsync(file.fileno())


def _copy(path: Path, file: IO[bytes]) -> None:
    with path.open("rb") as content:
        for chunk in _read_on(content):
            file.write(chunk)


def _read_on(file: IO[bytes]) -> Iterator[bytes]:
    while chunk := file.read(CHUNK):
        yield chunk


def _put(made: Path, out: Path, old: Path, *, replace: bool) -> None:
    """Move what was made into its place, and what was there out of the way."""
    _check_place(out, replace=replace)
    if made.is_file():
        made.replace(out)
        return
    if out.is_dir():
        out.rename(old)
    try:
        made.rename(out)
    except OSError:
        if old.is_dir():
            old.rename(out)
        raise
