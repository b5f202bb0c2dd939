"""Giving a text or file to whoever asked: printed, or written where they said."""

import sys
from pathlib import Path

from ledger.errors import InputError


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
        InputError: It cannot be written.
    """
    try:
        out.write_bytes(content)
    except OSError as error:
        raise InputError(
            f"{out} cannot be written ({error.strerror}); name a file in a folder that "
            "exists and that you may write to"
        ) from error
