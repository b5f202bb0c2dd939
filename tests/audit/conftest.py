"""Packs made from real ledgers, whole until a test changes something in its own copy."""

import shutil
from pathlib import Path

import pytest

from ledger.desk.pack import make_pack
from tests.desk.small_ledger import AS_OF, MADE_AT, SMALL, TINY, Step, fill, opened

REPORTS = {"audit-report.pdf": b"%PDF-1.7 not really\n", "stock.csv": b"lot\r\n"}


def made(folder: Path, steps: tuple[Step, ...], name: str) -> Path:
    ledger = folder / "ledger.db"
    if not ledger.exists():
        fill(ledger, steps)
    with opened(ledger) as rows:
        make_pack(
            rows,
            out=folder / name,
            as_of=AS_OF,
            made_at=MADE_AT,
            made_by="clerk",
            reports=REPORTS if steps is SMALL else {},
        )
    return folder / name


@pytest.fixture(scope="session")
def small_ledger(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file of a small ledger, not to be changed."""
    folder = tmp_path_factory.mktemp("small-ledger")
    fill(folder / "ledger.db", SMALL)
    return folder / "ledger.db"


@pytest.fixture(scope="session")
def small_pack(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a small pack, not to be changed."""
    return made(tmp_path_factory.mktemp("small"), SMALL, "pack")


@pytest.fixture(scope="session")
def small_zip(small_pack: Path) -> Path:
    """The same pack as a zip, not to be changed."""
    return made(small_pack.parent, SMALL, "pack.zip")


@pytest.fixture(scope="session")
def tiny_pack(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a pack with hardly anything in it, not to be changed."""
    return made(tmp_path_factory.mktemp("tiny"), TINY, "pack")


@pytest.fixture(scope="session")
def tiny_zip(tiny_pack: Path) -> Path:
    """The same pack as a zip, not to be changed."""
    return made(tiny_pack.parent, TINY, "pack.zip")


@pytest.fixture
def pack(small_pack: Path, tmp_path: Path) -> Path:
    """A copy of the small pack to change."""
    return Path(shutil.copytree(small_pack, tmp_path / "pack"))
