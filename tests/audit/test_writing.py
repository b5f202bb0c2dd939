"""Writing a pack: the same each time, and all of it or nothing."""

import os
import zipfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from hashlib import sha256
from pathlib import Path

import pytest

from ledger.audit import layout
from ledger.audit.check import check_pack
from ledger.audit.layout import MAX_LINE_BYTES, Scope, TreeHead
from ledger.audit.writing import Contents, write_pack
from ledger.books.judge import judge
from ledger.books.memory import MemoryShelf
from ledger.books.opening import open_entry
from ledger.chain.entry import leaf_digest, parse_entry
from ledger.chain.link import Withheld
from ledger.chain.tree import tree_root
from ledger.errors import ConflictError, InputError, SealError
from tests.audit.forging import files_of

MADE_AT = datetime(2026, 7, 1, 8, 0, tzinfo=UTC)


@pytest.fixture(scope="session")
def contents(tiny_pack: Path) -> Contents:
    """What a tiny pack was made of, read from it."""
    raws = (tiny_pack / "data/entries.jsonl").read_bytes().splitlines()
    shelf = MemoryShelf()
    for raw in raws:
        judge(shelf, open_entry(parse_entry(raw), ()))
    return Contents(
        organisation="Invented Maker",
        scope=Scope(date(2026, 6, 30), MADE_AT, "clerk", len(raws)),
        head=TreeHead(len(raws), tree_root(map(leaf_digest, raws))),
        entries=raws,
        disclosures=[],
        shelf=shelf,
    )


def bytes_of(path: Path) -> dict[str, bytes]:
    if path.is_file():
        return {path.name: path.read_bytes()}
    return {name: (path / name).read_bytes() for name in files_of(path)}


@pytest.mark.parametrize("name", ["pack", "pack.zip"])
def test_the_same_contents_give_the_same_bytes(
    name: str, contents: Contents, tmp_path: Path
) -> None:
    (tmp_path / "one").mkdir()
    (tmp_path / "two").mkdir()
    write_pack(contents, tmp_path / "one" / name)
    os.utime(tmp_path / "one", (0, 0))
    write_pack(contents, tmp_path / "two" / name)

    assert bytes_of(tmp_path / "one" / name) == bytes_of(tmp_path / "two" / name)
    assert check_pack(tmp_path / "one" / name).holds


def test_the_folder_in_a_zip_is_named_as_the_zip_where_that_is_a_plain_name(
    contents: Contents, tmp_path: Path
) -> None:
    for name, folder in (
        ("Audit-2026.zip", "Audit-2026/"),
        ("Überblick 2026.zip", "pack/"),
        (".zip.zip", "pack/"),
    ):
        write_pack(contents, tmp_path / name)
        with zipfile.ZipFile(tmp_path / name) as found:
            assert {member.split("/")[0] + "/" for member in found.namelist()} == {
                folder
            }
        assert check_pack(tmp_path / name).holds


@pytest.mark.parametrize("name", ["pack", "pack.zip"])
def test_what_is_there_is_kept_unless_told_otherwise(
    name: str, contents: Contents, tmp_path: Path
) -> None:
    out = tmp_path / name
    write_pack(contents, out)
    before = bytes_of(out)
    later = replace(contents, scope=replace(contents.scope, made_by="another"))
    with pytest.raises(ConflictError, match="there is something at"):
        write_pack(later, out)

    assert bytes_of(out) == before
    write_pack(later, out, replace=True)
    assert bytes_of(out) != before
    assert check_pack(out).holds
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_what_is_no_pack_is_never_replaced(contents: Contents, tmp_path: Path) -> None:
    folder = tmp_path / "papers"
    folder.mkdir()
    (folder / "letter.txt").write_text("dear certifier")
    (tmp_path / "link.zip").symlink_to(folder / "letter.txt")
    (tmp_path / "folder.zip").mkdir()
    for out in (folder, tmp_path / "link.zip", tmp_path / "folder.zip"):
        with pytest.raises(ConflictError, match="is not a pack"):
            write_pack(contents, out, replace=True)

    assert (folder / "letter.txt").read_text() == "dear certifier"


def test_a_folder_that_is_not_there_is_named(
    contents: Contents, tmp_path: Path
) -> None:
    with pytest.raises(InputError, match="there is no folder"):
        write_pack(contents, tmp_path / "nowhere" / "pack.zip")


@dataclass
class FailingAfter:
    """Gives entries until it fails, as a disk or a database may at any time."""

    entries: list[bytes | Withheld]
    given: int

    def __iter__(self) -> Iterator[bytes | Withheld]:
        yield from self.entries[: self.given]
        raise OSError(28, "No space left on device")


@pytest.mark.parametrize("name", ["pack", "pack.zip"])
def test_a_write_that_fails_leaves_nothing(
    name: str, contents: Contents, tmp_path: Path
) -> None:
    entries = list(contents.entries)
    for given in range(len(entries) + 1):
        failing = replace(contents, entries=FailingAfter(entries, given))
        with pytest.raises(InputError, match="No space left on device"):
            write_pack(failing, tmp_path / name)

        assert list(tmp_path.iterdir()) == []


@dataclass
class FailingSync:
    """Stands in for a disk whose syncs fail after a number of them."""

    lasts: int
    real: Callable[[int], None] = os.fsync

    def __call__(self, descriptor: int) -> None:
        self.lasts -= 1
        if self.lasts < 0:
            raise OSError(5, "Input/output error")
        self.real(descriptor)


def test_a_sync_that_fails_leaves_what_was_there(
    contents: Contents, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each of the seventeen syncs, of sixteen files and the zip, fails in its turn."""
    out = tmp_path / "pack.zip"
    write_pack(contents, out)
    before = out.read_bytes()
    later = replace(contents, scope=replace(contents.scope, made_by="another"))
    for lasts in range(17):
        monkeypatch.setattr(os, "fsync", FailingSync(lasts))
        with pytest.raises(InputError, match="Input/output error"):
            write_pack(later, out, replace=True)

        assert out.read_bytes() == before
        assert [path.name for path in tmp_path.iterdir()] == ["pack.zip"]
    monkeypatch.setattr(os, "fsync", FailingSync(17))
    write_pack(later, out, replace=True)
    assert out.read_bytes() != before


def test_entries_that_are_not_those_of_the_tree_head_are_not_packed(
    contents: Contents, tmp_path: Path
) -> None:
    entries = list(contents.entries)
    for wrong in (entries[:-1], entries[1:], [*entries, entries[0]]):
        with pytest.raises(SealError, match="do not give the tree head"):
            write_pack(replace(contents, entries=wrong), tmp_path / "pack")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "name", ["", "../x.pdf", "A.pdf", "a b.pdf", "a/b.pdf", "é.pdf", ".pdf", "a" * 99]
)
def test_a_report_with_a_name_that_could_lead_astray_is_refused(
    name: str, contents: Contents, tmp_path: Path
) -> None:
    with pytest.raises(InputError, match="a report cannot be named"):
        write_pack(replace(contents, reports={name: b"x"}), tmp_path / "pack")
    assert list(tmp_path.iterdir()) == []


def test_a_paper_that_is_not_the_recorded_file_is_refused(
    contents: Contents, tmp_path: Path
) -> None:
    paper = tmp_path / "paper.txt"
    paper.write_bytes(b"weight note")
    papers: Mapping[str, Path] = {sha256(b"another").hexdigest(): paper}
    with pytest.raises(SealError, match="is not the file that was recorded"):
        write_pack(replace(contents, documents=papers), tmp_path / "pack")
    assert [path.name for path in tmp_path.iterdir()] == ["paper.txt"]


def test_a_paper_goes_in_by_its_digest(contents: Contents, tmp_path: Path) -> None:
    paper = tmp_path / "paper.txt"
    paper.write_bytes(b"weight note")
    digest = sha256(b"weight note").hexdigest()
    write_pack(replace(contents, documents={digest: paper}), tmp_path / "pack")

    assert (tmp_path / f"pack/data/documents/{digest}").read_bytes() == b"weight note"


def test_what_no_reader_would_take_is_not_written(
    contents: Contents, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    long = replace(contents, entries=[b"x" * (MAX_LINE_BYTES + 1)])
    with pytest.raises(InputError, match="that a line of a pack may have"):
        write_pack(long, tmp_path / "pack")
    for limit in ("MAX_FILES", "MAX_PACK_BYTES"):
        monkeypatch.setattr(layout, limit, 12)
        with pytest.raises(InputError, match="more than the 12"):
            write_pack(contents, tmp_path / "pack")
        monkeypatch.undo()
    assert list(tmp_path.iterdir()) == []


def test_a_pack_beyond_the_limits_is_not_read(
    small_pack: Path, small_zip: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for pack in (small_pack, small_zip):
        for limit in ("MAX_FILES", "MAX_PACK_BYTES"):
            monkeypatch.setattr(layout, limit, 14)
            with pytest.raises(InputError, match="more than the 14"):
                check_pack(pack)
            monkeypatch.undo()
