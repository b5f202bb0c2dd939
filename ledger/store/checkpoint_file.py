"""The file of signed checkpoints: one note after another, only ever added to.

It lies beside the database and not in it, so that a database that was put back from an
older copy cannot make the ledger sign a second history. Each note is followed by an
empty line. A note over the same text again brings further signatures, such as those of
witnesses. Anybody may read the file, and it can be made so that the system lets nobody
shorten it (`chattr +a`).
"""

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from ledger.chain.checkpoint import SignedCheckpoint, parse_signed
from ledger.chain.note import Note
from ledger.errors import ConflictError, InputError, LedgerError, SealError

MAX_BYTES: Final = 64 * 2**20
"""How large the file may be: some hundred thousand checkpoints."""


def make_checkpoint_file(path: Path) -> None:
    """Make the file, empty; from then on one that is not there is one that was lost.

    Raises:
        ConflictError: It is there already.
        InputError: It cannot be written.
    """
    if os.path.lexists(path):
        raise ConflictError(
            f"there is a file of signed checkpoints at {path} already, which belongs to "
            "another ledger; bring that ledger back, or move the file to another place"
        )
    _write(path, b"", os.O_CREAT | os.O_EXCL)


def add_to_checkpoint_file(path: Path, note: Note) -> None:
    """Add a note at the end of the file, on the disk before this returns.

    Raises:
        InputError: It cannot be written.
    """
    _write(path, f"{note}\n".encode(), os.O_APPEND)


def _write(path: Path, content: bytes, how: int) -> None:
    try:
        handle = os.open(path, os.O_WRONLY | how, 0o644)
        try:
            os.write(handle, content)
            os.fsync(handle)
        finally:
            os.close(handle)
    except OSError as error:
        raise InputError(
            f"the file of signed checkpoints {path} cannot be written "
            f"({error.strerror}); check the folder and your right to write there"
        ) from error


def read_checkpoint_file(path: Path) -> tuple[SignedCheckpoint, ...] | None:
    """Return the signed checkpoints, each once with all its signatures, in order.

    No signature is checked here.

    Returns:
        The checkpoints, or None where there is no file.

    Raises:
        InputError: The file cannot be read.
        SealError: It holds something else, is cut, or is out of order.
    """
    text = _text_of(path)
    if text is None:
        return None
    kept: dict[str, SignedCheckpoint] = {}
    largest = 0
    for one in _checkpoints(path, text):
        known = kept.get(one.note.text)
        if known is None and one.size <= largest:
            raise _spoiled(
                path, f"a checkpoint over {one.size} entries stands after {largest}"
            )
        largest = max(largest, one.size)
        kept[one.note.text] = (known or one).with_signatures(one.note.signatures)
    return tuple(kept.values())


def _text_of(path: Path) -> str | None:
    try:
        if path.stat().st_size > MAX_BYTES:
            raise _spoiled(path, f"it is larger than {MAX_BYTES} bytes")
        return path.read_bytes().decode()
    except FileNotFoundError:
        return None
    except UnicodeDecodeError as error:
        raise _spoiled(path, str(error)) from error
    except OSError as error:
        raise InputError(
            f"the file of signed checkpoints {path} cannot be read ({error.strerror})"
        ) from error


def _checkpoints(path: Path, text: str) -> Iterator[SignedCheckpoint]:
    *pieces, rest = text.split("\n\n")
    if rest or len(pieces) % 2:
        raise _spoiled(
            path,
            "its last note is cut off; if the machine stopped while signing, it was "
            "never given out, so take the lines of that note away",
        )
    for body, signatures in zip(pieces[::2], pieces[1::2], strict=True):
        try:
            yield parse_signed(f"{body}\n\n{signatures}\n")
        except LedgerError as error:
            raise _spoiled(path, str(error)) from error


def _spoiled(path: Path, problem: str) -> SealError:
    return SealError(
        f"the file of signed checkpoints {path} does not hold ({problem}); put back the "
        "newest copy of it"
    )
