"""A small ledger in a file of its own."""

import shutil
from pathlib import Path

import pytest

from tests.desk.small_ledger import SMALL, fill


@pytest.fixture(scope="session")
def whole_ledger(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file of a small ledger, not to be changed."""
    path = tmp_path_factory.mktemp("whole") / "ledger.db"
    fill(path, SMALL)
    return path


@pytest.fixture
def ledger(whole_ledger: Path, tmp_path: Path) -> Path:
    """A copy of it to change."""
    return Path(shutil.copy(whole_ledger, tmp_path / "ledger.db"))
