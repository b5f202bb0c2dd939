"""ledger.intake.folder: what is recorded from a folder, and in which order."""

import os
from pathlib import Path

import pytest

from ledger.errors import InputError
from ledger.intake.folder import list_files, read_bytes
from ledger.intake.text import LARGEST_FILE


def put(folder: Path, *names: str) -> None:
    for name in names:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("kind: lot.moved\n", encoding="utf-8")


def names_of(folder: Path) -> list[str]:
    return [path.relative_to(folder).as_posix() for path in list_files(folder).files]


def test_files_come_in_the_order_of_their_paths_with_figures_by_value(
    tmp_path: Path,
) -> None:
    put(tmp_path, "10-wrap.csv", "2-roast.csv", "b/1.yaml", "B.yml", "a.yaml")
    put(tmp_path, "3/2.yaml", "3/10.yaml", "02-roast.csv")

    assert names_of(tmp_path) == [
        "02-roast.csv",
        "2-roast.csv",
        "3/2.yaml",
        "3/10.yaml",
        "10-wrap.csv",
        "a.yaml",
        "b/1.yaml",
        "B.yml",
    ]


def test_what_is_left_out_is_reported_with_the_reason(tmp_path: Path) -> None:
    put(tmp_path, "a.yaml", ".hidden.yaml", ".git/b.yaml", "notes.txt", "sub/c.pdf")
    os.mkfifo(tmp_path / "pipe.yaml")

    assert names_of(tmp_path) == ["a.yaml"]
    assert list_files(tmp_path).skipped == (
        ".git: hidden, since its name begins with a dot",
        ".hidden.yaml: hidden, since its name begins with a dot",
        "notes.txt: its name does not end in .yaml, .yml or .csv",
        "pipe.yaml: not a file",
        "sub/c.pdf: its name does not end in .yaml, .yml or .csv",
    )


def test_an_empty_folder_has_no_files(tmp_path: Path) -> None:
    assert list_files(tmp_path).files == ()


def test_links_within_the_folder_are_read_once_under_the_file_s_own_name(
    tmp_path: Path,
) -> None:
    put(tmp_path, "a.yaml", "sub/b.yaml")
    (tmp_path / "again.yaml").symlink_to("a.yaml")
    (tmp_path / "twin").symlink_to("sub", target_is_directory=True)
    (tmp_path / "nowhere.yaml").symlink_to("gone.yaml")

    assert names_of(tmp_path) == ["a.yaml", "sub/b.yaml"]
    assert list_files(tmp_path).skipped == (
        "again.yaml: a link; what it leads to is read under its own name",
        "nowhere.yaml: a link; what it leads to is read under its own name",
        "twin: a link; what it leads to is read under its own name",
    )


@pytest.mark.parametrize("target", ["../outside.yaml", "../other", "/etc"])
def test_a_link_out_of_the_folder_is_refused(tmp_path: Path, target: str) -> None:
    inside = tmp_path / "inside"
    put(tmp_path, "inside/a.yaml", "outside.yaml", "other/b.yaml")
    (inside / "link.yaml").symlink_to(target)

    with pytest.raises(
        InputError, match=r"link\.yaml: the link leads out of the folder"
    ):
        list_files(inside)


def test_a_link_that_leads_to_itself_ends(tmp_path: Path) -> None:
    (tmp_path / "loop.yaml").symlink_to("loop.yaml")

    assert list_files(tmp_path).files == ()


def test_a_folder_reached_through_a_link_is_the_folder_itself(tmp_path: Path) -> None:
    put(tmp_path, "real/a.yaml")
    (tmp_path / "door").symlink_to("real", target_is_directory=True)

    assert names_of(tmp_path / "door") == ["a.yaml"]


@pytest.mark.parametrize("name", ["missing", "file.yaml"])
def test_what_is_no_folder_is_refused(tmp_path: Path, name: str) -> None:
    put(tmp_path, "file.yaml")

    with pytest.raises(InputError, match=rf"{name}: the folder cannot be read \("):
        list_files(tmp_path / name)


def test_names_that_cannot_be_printed_are_shown_escaped(tmp_path: Path) -> None:
    (tmp_path / "two\nlines.txt").touch()

    assert list_files(tmp_path).skipped == (
        '"two\\nlines.txt": its name does not end in .yaml, .yml or .csv',
    )


def test_bytes_are_read_no_further_than_the_largest_file(tmp_path: Path) -> None:
    path = tmp_path / "big.yaml"
    path.write_bytes(b"#" * (LARGEST_FILE + 10))

    assert len(read_bytes(path)) == LARGEST_FILE + 1


def test_a_file_that_cannot_be_read_is_refused(tmp_path: Path) -> None:
    with pytest.raises(
        InputError, match=r"gone\.yaml: the file cannot be read \(No such"
    ):
        read_bytes(tmp_path / "gone.yaml")
