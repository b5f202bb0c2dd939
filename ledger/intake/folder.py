"""The files of a folder, in the order in which they are recorded."""

import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from ledger.errors import InputError
from ledger.intake.reading import is_readable
from ledger.intake.text import LARGEST_FILE, shown_name


@dataclass(frozen=True, slots=True)
class Listing:
    """What stands in a folder.

    Attributes:
        files: Paths of the files to record, in order.
        skipped: What is left out, one line for each, with the reason.
    """

    files: tuple[Path, ...]
    skipped: tuple[str, ...]


def list_files(folder: Path) -> Listing:
    """Return the files of a folder and the folders in it, in the order of recording.

    They are sorted by path, figures in names by their value, so that 2 comes before 10.

    Raises:
        InputError: There is no such folder, it cannot be read, or a link in it leads
            out of it.
    """
    files: list[Path] = []
    skipped: list[str] = []
    try:
        root = folder.resolve(strict=True)
        for path in _walk(folder):
            reason = _reason_to_skip(path, root)
            if reason is None:
                files.append(path)
            else:
                inside = path.relative_to(folder).as_posix()
                skipped.append(f"{shown_name(inside)}: {reason}")
    except OSError as error:
        raise InputError(
            f"{shown_name(str(folder))}: the folder cannot be read ({error.strerror}); "
            "check its name and who may read it"
        ) from error
    return Listing(tuple(files), tuple(skipped))


def read_bytes(path: Path, *, most: int = LARGEST_FILE) -> bytes:
    """Return the bytes of a file, but not many more than are ever accepted.

    Args:
        path: The file.
        most: Bytes that are accepted; one more is read, so that it can be told.

    Raises:
        InputError: The file cannot be read.
    """
    try:
        with path.open("rb") as file:
            return file.read(most + 1)
    except OSError as error:
        raise InputError(
            f"{shown_name(str(path))}: the file cannot be read ({error.strerror}); check "
            "its name and who may read it"
        ) from error


def _walk(folder: Path) -> Iterator[Path]:
    """Yield what stands in a folder in natural order, without entering links."""
    for path in sorted(folder.iterdir(), key=_natural):
        if path.is_dir() and not path.is_symlink() and not _is_hidden(path):
            yield from _walk(path)
        else:
            yield path


def _natural(path: Path) -> tuple[tuple[tuple[int, str], ...], str]:
    """Return a key that sorts figures in a name by value; the name itself decides last."""
    parts = re.split("([0-9]+)", path.name.casefold())
    key = tuple(
        (int(part), "") if place % 2 else (-1, part) for place, part in enumerate(parts)
    )
    return key, path.name


def _reason_to_skip(path: Path, root: Path) -> str | None:
    if path.is_symlink():
        if not Path(os.path.realpath(path)).is_relative_to(root):  # bears with loops
            raise InputError(
                f"{shown_name(str(path))}: the link leads out of the folder; put the "
                "file itself there"
            )
        return "a link; what it leads to is read under its own name"
    if _is_hidden(path):
        return "hidden, since its name begins with a dot"
    if not path.is_file():
        return "not a file"
    if not is_readable(path.name):
        return "its name does not end in .yaml, .yml or .csv"
    return None


def _is_hidden(path: Path) -> bool:
    return path.name.startswith(".")
