"""The buyer records files, corrects a mistake, and is refused in plain words."""

import shutil
import sqlite3
from pathlib import Path

import pytest

from ledger.desk.folder import BY_COMMAND
from tests.intake.bad_files import BAD_FILES, REFUSED_BY_BOOKS, BadFile, BookCase
from tests.intake.reference import examples_of_kinds
from tests.journeys.conftest import SCENARIO, Run, run_command


def content(ledger: Path) -> tuple[bytes, list[tuple[object, ...]]]:
    """Every byte of the ledger's file, and its entries."""
    with sqlite3.connect(f"file:{ledger}?mode=ro", uri=True) as connection:
        entries = list(connection.execute("SELECT seq, leaf, raw FROM entry"))
    connection.close()
    return ledger.read_bytes(), entries


@pytest.fixture(scope="session")
def examples_ledger(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The examples of docs/reference/files.md, recorded once."""
    folder = tmp_path_factory.mktemp("examples")
    for place, (name, raw) in enumerate(examples_of_kinds()):
        if any(f"kind: {kind}\n".encode() in raw for kind in BY_COMMAND):
            continue
        inner = folder / "files" / f"{place:02}"
        inner.mkdir(parents=True)
        (inner / name).write_bytes(raw)
    path = folder / "small.db"
    words = ("record", folder / "files", "--ledger", path, "--by", "x", "--quiet")
    assert run_command(words) == 0
    return path


@pytest.fixture
def small_ledger(examples_ledger: Path, tmp_path: Path) -> Path:
    copy = tmp_path / "small.db"
    shutil.copy(examples_ledger, copy)
    return copy


def assert_refused(run: Run, ledger: Path, bad: BadFile) -> None:
    """The file is recorded from the working folder, so that its name is shown as is."""
    file = Path(bad.name)
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(bad.raw)
    before = content(ledger)

    ran = run("record", file, "--ledger", ledger, "--quiet")

    assert ran.status != 0
    assert ran.err.startswith("evenweight: ")
    assert ran.err.count("\n") == 1
    assert "Traceback" not in ran.err
    for said in bad.said:
        assert said in ran.err
    assert content(ledger) == before


def test_there_are_at_least_forty_different_bad_files() -> None:
    assert len({bad.raw for bad in BAD_FILES}) >= 40


@pytest.mark.parametrize("bad", BAD_FILES, ids=lambda bad: bad.about)
def test_a_bad_file_is_refused_in_one_sentence_and_changes_nothing(
    run: Run,
    small_ledger: Path,
    bad: BadFile,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    assert_refused(run, small_ledger, bad)


@pytest.mark.parametrize("case", REFUSED_BY_BOOKS, ids=lambda case: case.about)
def test_what_the_books_refuse_changes_nothing(
    run: Run,
    small_ledger: Path,
    case: BookCase,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    record_setup(run, small_ledger, case, tmp_path)
    assert_refused(run, small_ledger, case.file)


def record_setup(run: Run, ledger: Path, case: BookCase, folder: Path) -> None:
    import yaml

    for draft in case.setup:
        file = folder / "setup.yaml"
        entry = {"kind": draft.kind, "on": draft.occurred_on.isoformat(), **draft.body}
        file.write_text(yaml.safe_dump(entry))
        ran = run("record", file, "--ledger", ledger, "--quiet")
        assert ran.status == 0, ran.err


def test_a_file_is_recorded_whole_or_not_at_all(
    run: Run, small_ledger: Path, tmp_path: Path
) -> None:
    file = tmp_path / "two.yaml"
    file.write_text(
        "- {kind: party.registered, on: 2025-05-01, party: new-shop, "
        "roles: [customer], country: CH}\n"
        "- {kind: hold.placed, on: 2025-05-01, hold: H-9, lots: [NO-SUCH], reason: x}\n"
    )
    before = content(small_ledger)

    ran = run("record", file, "--ledger", small_ledger)

    assert ran.status == 1
    assert "lot NO-SUCH" in ran.err
    assert content(small_ledger) == before


def test_a_dry_run_tells_and_records_nothing(
    run: Run, small_ledger: Path, tmp_path: Path
) -> None:
    file = tmp_path / "party.yaml"
    file.write_text(
        "{kind: party.registered, on: 2025-05-01, party: new-shop, roles: [customer], "
        "country: CH}\n"
    )
    before = content(small_ledger)

    ran = run("record", file, "--ledger", small_ledger, "--dry-run")

    assert ran.status == 0
    assert "would record 1 entries from 1 files" in ran.out
    assert content(small_ledger) == before


def test_opening_again_what_is_open_is_refused(run: Run, small_ledger: Path) -> None:
    ran = run(
        *("open", "--organisation", "x", "--name", "X", "--site", "s"),
        *("--place", "p", "--country", "CH", "--ledger", small_ledger),
    )

    assert ran.status == 1
    assert "open already" in ran.err


def test_a_refused_opening_leaves_no_file(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "new.db"

    ran = run(
        *("open", "--organisation", "x", "--name", "X", "--site", "s"),
        *("--place", "p", "--country", "ZZ", "--ledger", path),
    )

    assert ran.status == 2
    assert "ZZ" in ran.err
    assert not path.exists()


def test_a_ledger_opened_by_hand_verifies(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "new.db"

    ran = run(
        *("open", "--organisation", "x", "--name", "X", "--site", "s"),
        *("--place", "p", "--country", "CH", "--ledger", path),
    )

    assert ran.status == 0
    assert run("verify", "--ledger", path).status == 0


def test_a_ledger_that_is_not_there_is_named(run: Run, tmp_path: Path) -> None:
    ran = run("balance", "--ledger", tmp_path / "none.db")

    assert ran.status == 2
    assert "there is no ledger at" in ran.err


def test_a_correction_replaces_an_entry_and_is_shown(
    run: Run, ledger: Path, tmp_path: Path
) -> None:
    file = tmp_path / "right.yaml"
    file.write_text(
        "kind: shipment.received\non: 2024-10-21\nshipment: ZZ\nsupplier: ZZ\nlots: []\n"
    )

    ran = run("correct", 100000, "--reason", "x", "--with", file, "--ledger", ledger)

    assert ran.status == 1
    assert "target is 100000" in ran.err


@pytest.mark.parametrize("words", [(), ("--dry-run",)])
def test_what_is_no_opening_is_not_recorded_where_no_ledger_is_and_leaves_no_file(
    run: Run, tmp_path: Path, words: tuple[str, ...]
) -> None:
    first, ledger = tmp_path / "first.yaml", tmp_path / "mistyped.db"
    first.write_text(
        "{kind: party.registered, on: 2025-01-02, party: a, roles: [customer],"
        " country: GB, legal_name: A}"
    )

    ran = run("record", first, "--ledger", ledger, "--quiet", *words)

    assert ran.status == 1
    assert "no entries yet, so party.registered cannot be recorded" in ran.err
    assert "`evenweight open`" in ran.err
    assert sorted(tmp_path.iterdir()) == [first]


def test_a_rehearsal_of_a_new_ledger_leaves_no_file(run: Run, tmp_path: Path) -> None:
    ledger = tmp_path / "ledger.db"

    ran = run("record", SCENARIO / "00-start", "--ledger", ledger, "--dry-run")

    assert ran.status == 0
    assert "would record" in ran.out
    assert not list(tmp_path.iterdir())
