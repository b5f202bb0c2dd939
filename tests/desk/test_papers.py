"""Papers: kept by their digest, recorded, found, and carried by packs."""

import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from hashlib import sha256
from pathlib import Path

import pytest

from ledger.books.effect import SubjectKind
from ledger.books.portion import Portion
from ledger.desk.check import check_pack_at
from ledger.desk.papers import (
    Paper,
    attach,
    opened_paper,
    papers_about,
    papers_for_pack,
)
from ledger.desk.record import Recording
from ledger.desk.writing import Writing
from ledger.errors import InputError, LedgerError, NotFoundError, SealError
from ledger.store.engine import open_engine, rows_of
from ledger.store.shelf import SqlShelf
from ledger.trade.profile import USUAL, Profile
from tests.desk.small_ledger import opened
from tests.desk.test_pack import packed

NOTE = b"%PDF-1.7 invented weight note"
OTHER = b"%PDF-1.7 invented bill of lading"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "ledger.db.papers"


@contextmanager
def transaction(ledger: Path) -> Iterator[Writing]:
    engine = open_engine(f"sqlite:///{ledger}")
    try:
        with engine.begin() as connection:
            yield Writing(
                rows_of(connection),
                by="clerk",
                now=lambda: datetime(2026, 7, 1, tzinfo=UTC),
                new_salt=lambda: bytes(16),
            )
    finally:
        engine.dispose()


def attached(
    ledger: Path,
    folder: Path,
    *raws: bytes,
    about: tuple[str, str] = ("shipment", "SH-1"),
) -> tuple[Recording, ...]:
    papers = [Paper("paper.pdf", raw, "weight note", [about]) for raw in raws]
    with transaction(ledger) as writing:
        return attach(writing, folder, papers, on=date(2026, 6, 1))


def kept(folder: Path) -> list[str]:
    return sorted(one.name for one in folder.iterdir()) if folder.exists() else []


def documents_in(pack: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(pack) as read:
        return {
            name.rpartition("/")[2]: read.read(name)
            for name in read.namelist()
            if "/data/documents/" in name
        }


def test_a_paper_is_kept_by_its_digest_and_found_by_what_it_belongs_to(
    ledger: Path, folder: Path
) -> None:
    attached(ledger, folder, NOTE)
    digest = sha256(NOTE).hexdigest()

    with opened(ledger) as rows:
        shelf = SqlShelf(rows)
        [(_, found)] = papers_about(shelf, SubjectKind.SHIPMENT, "SH-1")
        told, raw = opened_paper(shelf, folder, digest)
    assert kept(folder) == [digest]
    assert (found.sha256, found.media_type, found.size) == (
        digest,
        "application/pdf",
        len(NOTE),
    )
    assert (told, raw) == (found, NOTE)


def test_several_papers_are_attached_all_or_none(ledger: Path, folder: Path) -> None:
    with pytest.raises(InputError, match="by its bytes the file is none of"):
        attached(ledger, folder, NOTE, b"MZ\x90\x00")
    with pytest.raises(LedgerError, match="SH-9, which is not recorded"):
        attached(ledger, folder, NOTE, about=("shipment", "SH-9"))
    assert kept(folder) == []

    attached(ledger, folder, NOTE, OTHER)
    assert len(kept(folder)) == 2


def test_a_paper_that_was_changed_or_lost_is_not_handed_out(
    ledger: Path, folder: Path
) -> None:
    attached(ledger, folder, NOTE)
    digest = sha256(NOTE).hexdigest()
    with opened(ledger) as rows:
        shelf = SqlShelf(rows)
        (folder / digest).write_bytes(OTHER)
        with pytest.raises(SealError, match="was changed after it was attached"):
            opened_paper(shelf, folder, digest)
        (folder / digest).unlink()
        with pytest.raises(NotFoundError, match="is not kept beside this ledger"):
            opened_paper(shelf, folder, digest)
        with pytest.raises(NotFoundError, match="no entry that you may see records"):
            opened_paper(shelf, folder, "../ledger.db")


def test_a_pack_carries_the_papers_that_its_entries_record(
    ledger: Path, folder: Path, tmp_path: Path
) -> None:
    attached(ledger, folder, NOTE)
    (folder / sha256(OTHER).hexdigest()).write_bytes(OTHER)
    with opened(ledger) as rows:
        documents = papers_for_pack(rows, lambda: folder)

    packed(ledger, tmp_path / "whole.zip", documents=documents)

    assert documents_in(tmp_path / "whole.zip") == {sha256(NOTE).hexdigest(): NOTE}
    assert check_pack_at(tmp_path / "whole.zip").holds


def test_a_pack_of_a_part_carries_only_papers_of_that_part(
    ledger: Path, folder: Path, tmp_path: Path
) -> None:
    attached(ledger, folder, NOTE)
    attached(ledger, folder, OTHER, about=("sale", "S-1"))
    with opened(ledger) as rows:
        documents = papers_for_pack(rows, lambda: folder)

    packed(
        ledger,
        tmp_path / "sale.zip",
        documents=documents,
        portion=Portion(None, None, None, "S-3"),
    )

    assert documents_in(tmp_path / "sale.zip").keys() == {sha256(NOTE).hexdigest()}
    assert check_pack_at(tmp_path / "sale.zip").holds


def test_a_profile_that_does_not_name_papers_shows_none(
    ledger: Path, folder: Path, tmp_path: Path
) -> None:
    attached(ledger, folder, NOTE)
    with opened(ledger) as rows:
        documents = papers_for_pack(rows, lambda: folder)
    silent = Profile.model_validate(
        {
            "profile": "p",
            "dated": "2026-01-01",
            "reader": "somebody",
            "prices": "none",
        }
    )

    packed(ledger, tmp_path / "none.zip", documents=documents, profile=silent)
    packed(ledger, tmp_path / "all.zip", documents=documents, profile=USUAL)

    assert documents_in(tmp_path / "none.zip") == {}
    assert documents_in(tmp_path / "all.zip").keys() == {sha256(NOTE).hexdigest()}
