"""The command line as a person uses it: words in, text and exit status out."""

import shutil
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from ledger.cli.__main__ import main

ROOT = Path(__file__).parents[2]
SCENARIO = ROOT / "sample_shipments"


@dataclass(frozen=True)
class Ran:
    """What a command printed, and how it ended."""

    status: int
    out: str
    err: str


Run = Callable[..., Ran]


def run_command(words: tuple[object, ...]) -> int:
    """Run the command line and return its exit status."""
    kept, sys.argv = sys.argv, ["evenweight", *map(str, words)]
    try:
        main()
    except SystemExit as ended:
        return ended.code if isinstance(ended.code, int) else 0
    finally:
        sys.argv = kept
    return 0


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Run:
    monkeypatch.setenv("EVENWEIGHT_USER", "buyer-1")
    monkeypatch.setenv("COLUMNS", "160")
    monkeypatch.delenv("EVENWEIGHT_LEDGER", raising=False)

    def _run(*words: object) -> Ran:
        status = run_command(words)
        out, err = capsys.readouterr()
        return Ran(status, out, err)

    return _run


@pytest.fixture(scope="session")
def scenario_ledger(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented scenario, recorded once; to be copied before it is written to."""
    path = tmp_path_factory.mktemp("scenario") / "ledger.db"
    status = run_command(
        ("record", SCENARIO, "--ledger", path, "--by", "demo", "--quiet")
    )
    assert status == 0
    return path


@pytest.fixture
def ledger(scenario_ledger: Path, tmp_path: Path) -> Path:
    """A copy of the scenario's ledger."""
    copy = tmp_path / "ledger.db"
    shutil.copy(scenario_ledger, copy)
    return copy
