"""What people mistype in a hurry ends with one sentence, never with a trace."""

import getpass
import io
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from ledger.desk import folder
from ledger.intake.folder import read_bytes
from ledger.store import quick
from tests.journeys.conftest import Run

PAST_64_BITS = str(2**70)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("balance", "--as-of", "9999-12-31"), "--as-of is '9999-12-31'"),
        (("balance", "--recorded-by", "0001-01-01"), "the years 1900 to 2999"),
        (("yields", "--until", "0001-01-05"), "the years 1900 to 2999"),
        (("chart", "yields", "--as-of", "0001-01-01"), "check the year"),
        (("chart", "flow", "bean"), "the flow is drawn whole"),
        (("log", PAST_64_BITS), "larger than any that a ledger holds"),
        (("receipt", PAST_64_BITS), "larger than any that a ledger holds"),
        (("serve", "--port", "65536"), "ports go from 0 to 65535"),
        (("serve", "--certificate", __file__), "cannot be used with its key"),
        (("serve", "--certificate-key", __file__), "without a certificate"),
        (("correct", "5", "--reason", "x", "--by", "two\nlines"), "not one line"),
    ],
    ids=lambda part: " ".join(part) if isinstance(part, tuple) else "",
)
def test_what_is_mistyped_is_named(
    run: Run, ledger: Path, words: tuple[str, ...], said: str
) -> None:
    before = ledger.read_bytes()

    ran = run(*words, "--ledger", ledger)

    assert ran.status == 2
    assert said in ran.err
    assert ledger.read_bytes() == before


def test_a_folder_without_a_file_of_entries_is_refused(
    run: Run, ledger: Path, tmp_path: Path
) -> None:
    (tmp_path / "march").mkdir()

    ran = run("record", tmp_path / "march", "--ledger", ledger)

    assert ran.status == 2
    assert "no file of entries" in ran.err


@pytest.mark.parametrize("address", ["sqlite://", "sqlite:///"])
def test_a_ledger_that_would_be_gone_at_the_end_is_not_opened(
    run: Run, address: str
) -> None:
    who = ("--organisation", "o", "--name", "O")
    where = ("--site", "s", "--place", "p", "--country", "GB")

    ran = run("open", *who, *where, "--ledger", address)

    assert ran.status == 2
    assert "names no file" in ran.err


def test_a_passphrase_is_not_asked_for_where_nobody_types(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO("secret\nsecret\n"))
    ledger = tmp_path / "ledger.db"
    who = ("--organisation", "o", "--name", "O")
    where = ("--site", "s", "--place", "p", "--country", "GB")

    ran = run("open", *who, *where, "--passphrase", "--ledger", ledger)

    assert ran.status == 1
    assert "nobody is there to type" in ran.err
    assert not list(tmp_path.iterdir())


def test_schemas_are_not_written_where_a_file_is(run: Run, tmp_path: Path) -> None:
    taken = tmp_path / "taken"
    taken.write_text("mine")

    ran = run("schemas", taken)

    assert ran.status == 2
    assert "cannot be written" in ran.err
    assert taken.read_text() == "mine"


def test_who_has_no_login_name_is_asked_for_one(
    run: Run, ledger: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def nobody() -> str:
        raise KeyError("getpwuid(): uid not found: 54321")

    monkeypatch.setattr(getpass, "getuser", nobody)
    monkeypatch.delenv("EVENWEIGHT_USER")

    ran = run("correct", "5", "--reason", "x", "--ledger", ledger)

    assert ran.status == 2
    assert "name yourself with --by" in ran.err


def test_a_ledger_that_may_not_be_read_is_named(
    run: Run, ledger: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(_address: str, _wait_ms: int) -> sqlite3.Connection:
        return sqlite3.connect(f"file:{ledger}/none?mode=ro", uri=True)

    monkeypatch.setattr(quick, "_connect", refused)

    ran = run("balance", "--ledger", ledger)

    assert ran.status == 2
    assert f"the database {ledger} cannot be opened" in ran.err


def test_a_folder_that_may_not_be_looked_into_is_named(
    run: Run, ledger: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(path: Path) -> bool:
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr(Path, "is_file", refused)

    ran = run("balance", "--ledger", ledger)

    assert ran.status == 2
    assert ran.err.startswith(f"evenweight: {ledger} may not be opened")


def test_an_interrupted_run_tells_what_is_recorded(
    run: Run, ledger: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("1.yaml", "2.yaml"):
        (tmp_path / name).write_text(
            "{kind: lot.moved, on: 2026-10-01, lot: C66-32, to_place: attic}"
        )

    def interrupted(path: Path) -> bytes:
        if path.name == "2.yaml":
            raise KeyboardInterrupt
        return read_bytes(path)

    monkeypatch.setattr(folder, "read_bytes", interrupted)
    files = (tmp_path / "1.yaml", tmp_path / "2.yaml")

    ran = run("record", *files, "--ledger", ledger, "--quiet")
    rehearsed = run("record", files[1], "--ledger", ledger, "--quiet", "--dry-run")

    assert ran.status == rehearsed.status == 130
    assert f"stopped after {files[0]}; every file up to there is recorded" in ran.err
    assert "stopped and nothing is recorded" in rehearsed.err


def test_a_terminal_without_lines_gets_the_codes_of_its_characters(
    ledger: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PYTHONIOENCODING", "ascii")

    done = subprocess.run(
        [sys.executable, "-m", "ledger.cli", "trace", "SA-0049", "--ledger", ledger],
        capture_output=True,
        text=True,
        check=True,
    )

    assert "\\u2514" in done.stdout
    assert "Came from" in done.stdout
