"""The file of signed checkpoints only grows, and says when it was cut."""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ledger.chain.checkpoint import Checkpoint
from ledger.chain.note import Note, Signature
from ledger.errors import ConflictError, InputError, LedgerError, SealError
from ledger.store import checkpoint_file
from ledger.store.checkpoint_file import (
    add_to_checkpoint_file,
    make_checkpoint_file,
    read_checkpoint_file,
)


def note(size: int, *signers: str) -> Note:
    text = str(Checkpoint("maker/x", size, bytes([size]) * 32))
    return Note(
        text, tuple(Signature(who, b"hash", bytes(64)) for who in signers or ("maker",))
    )


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "ledger.db.checkpoints"
    make_checkpoint_file(path)
    return path


def notes(file: Path) -> list[Note]:
    return [one.note for one in read_checkpoint_file(file) or ()]


def test_a_new_file_holds_nothing_and_a_missing_one_is_told_apart(file: Path) -> None:
    assert read_checkpoint_file(file) == ()
    assert read_checkpoint_file(file.with_name("other")) is None


def test_what_is_added_is_read_in_order(file: Path) -> None:
    for size in (1, 3, 9):
        add_to_checkpoint_file(file, note(size))

    assert notes(file) == [note(1), note(3), note(9)]


def test_what_is_added_leaves_what_was_there(file: Path) -> None:
    add_to_checkpoint_file(file, note(1))
    before = file.read_bytes()
    add_to_checkpoint_file(file, note(2))

    assert file.read_bytes().startswith(before)


def test_a_further_signature_joins_its_checkpoint(file: Path) -> None:
    for one in (note(1), note(3), note(1, "witness"), note(3, "maker", "other")):
        add_to_checkpoint_file(file, one)

    assert notes(file) == [note(1, "maker", "witness"), note(3, "maker", "other")]


def test_a_file_that_is_there_is_not_begun_again(file: Path) -> None:
    with pytest.raises(ConflictError, match="already"):
        make_checkpoint_file(file)


def test_a_place_that_cannot_be_written_to_is_said(file: Path) -> None:
    with pytest.raises(InputError, match="cannot be written"):
        make_checkpoint_file(file.with_name("none") / "file")
    with pytest.raises(InputError, match="cannot be written"):
        add_to_checkpoint_file(file.with_name("none"), note(1))
    with pytest.raises(InputError, match="cannot be read"):
        read_checkpoint_file(file / "below")


def test_checkpoints_out_of_order_are_said(file: Path) -> None:
    add_to_checkpoint_file(file, note(3))
    add_to_checkpoint_file(file, note(2))

    with pytest.raises(SealError, match="over 2 entries stands after 3"):
        read_checkpoint_file(file)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"\xff", "utf-8"),
        (b"x", "cut off"),
        (b"maker/x\n1\n\n", "cut off"),
        (b"a\n\nb\n\n", "does not hold"),
    ],
)
def test_what_is_no_file_of_checkpoints_is_said(
    content: bytes, said: str, file: Path
) -> None:
    file.write_bytes(content)

    with pytest.raises(SealError, match=said):
        read_checkpoint_file(file)


def test_a_file_beyond_the_bound_is_not_read(
    file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(checkpoint_file, "MAX_BYTES", 10)
    add_to_checkpoint_file(file, note(1))

    with pytest.raises(SealError, match="larger than 10 bytes"):
        read_checkpoint_file(file)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(place=st.integers(0, 10_000))
def test_a_cut_file_is_said_or_ends_with_a_whole_checkpoint(
    place: int, tmp_path: Path
) -> None:
    file = tmp_path / "cut"
    whole = "".join(f"{note(size)}\n" for size in (1, 3, 9)).encode()
    file.write_bytes(whole[: place % len(whole)])
    try:
        read = notes(file)
    except LedgerError:
        return

    assert read == [note(1), note(3), note(9)][: len(read)]
