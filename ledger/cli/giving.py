"""Giving a text or file to whoever asked: printed, or written where they said."""

import sys
from contextlib import suppress
from pathlib import Path

from ledger.errors import ConflictError, InputError

_SQLITE = b"SQLite format 3\0"
"""What a database begins with. Source: sqlite.org, Database File Format, 1.3."""
_BESIDE_A_LEDGER = (".key", ".checkpoints", ".timestamps")


def give(text: str, out: Path | None) -> None:
    """Print a text, or write it to a file.

    Raises:
        InputError: The file cannot be written.
    """
    if out is None:
        print(text, end="")
    else:
        write_to(out, text.encode())
        print(f"wrote {out}", file=sys.stderr)


def write_to(out: Path, content: bytes) -> None:
    """Write a file.

    Raises:
        ConflictError: A ledger is there, or what is kept beside one.
        InputError: It cannot be written.
    """
    refuse_ledger(out)
    try:
        out.write_bytes(content)
    except OSError as error:
        raise InputError(
            f"{out} cannot be written ({error.strerror}); name a file in a folder that "
            "exists and that you may write to"
        ) from error


def refuse_ledger(out: Path | None) -> None:
    """Refuse to write over a ledger, its key, checkpoints or timestamps.

    Raises:
        ConflictError: One of these is there.
    """
    if out is None or not out.is_file():
        return
    with suppress(OSError), out.open("rb") as file:
        if file.read(len(_SQLITE)) == _SQLITE or out.suffix in _BESIDE_A_LEDGER:
            raise ConflictError(
                f"{out} is a ledger, or what is kept beside one; name another file, so "
                "that nothing recorded is lost"
            )
