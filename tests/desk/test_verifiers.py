"""Handing out the verifiers."""

from hashlib import sha256
from pathlib import Path

import pytest

from ledger.desk.verifiers import write_verifiers
from ledger.errors import ConflictError, InputError


def test_the_digests_are_those_of_the_files(tmp_path: Path) -> None:
    handed = write_verifiers(tmp_path / "new" / "folder")

    assert [one.path.name for one in handed] == [
        "verify.py",
        "look.html",
        "by-hand.txt",
    ]
    for one in handed:
        assert sha256(one.path.read_bytes()).hexdigest() == one.sha256


def test_writing_them_again_is_no_conflict_but_another_file_is(tmp_path: Path) -> None:
    write_verifiers(tmp_path)
    write_verifiers(tmp_path)
    (tmp_path / "verify.py").write_text("mine")

    with pytest.raises(ConflictError, match=r"another file at .*verify\.py"):
        write_verifiers(tmp_path)
    assert (tmp_path / "verify.py").read_text() == "mine"
    write_verifiers(tmp_path, replace=True)
    assert (tmp_path / "verify.py").read_text() != "mine"


def test_a_place_that_is_no_folder_is_said_in_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")

    with pytest.raises(InputError, match="cannot be written to"):
        write_verifiers(tmp_path / "file")
