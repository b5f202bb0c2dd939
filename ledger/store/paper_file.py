"""The folder of attached papers: each is a file named by the SHA-256 of its bytes."""

import os
import re
import tempfile
from hashlib import sha256
from pathlib import Path
from typing import Final

from ledger.errors import InputError, NotFoundError, SealError

_DIGEST: Final = re.compile("[0-9a-f]{64}")


def keep_paper(folder: Path, raw: bytes) -> tuple[Path, bool]:
    """Write a paper to the folder, whole or not at all.

    Args:
        folder: The folder; it is made if it is not there.
        raw: Bytes of the paper.

    Returns:
        Where it is kept, and whether it was not there before.

    Raises:
        InputError: It cannot be written.
    """
    path = folder / sha256(raw).hexdigest()
    if path.is_file():
        return path, False
    try:
        folder.mkdir(mode=0o700, exist_ok=True)
        handle, waiting = tempfile.mkstemp(dir=folder, prefix=".")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(raw)
                file.flush()
                os.fsync(file.fileno())
            Path(waiting).replace(path)
        except BaseException:
            Path(waiting).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise InputError(
            f"the paper cannot be written to {folder} ({error.strerror}); make room, or "
            "see who may write there"
        ) from error
    return path, True


def kept_paper(folder: Path, digest: str) -> Path | None:
    """Return where a paper is kept; None where it is not.

    Args:
        folder: The folder.
        digest: SHA-256 of the paper, in small hexadecimal.
    """
    path = folder / digest
    return path if _DIGEST.fullmatch(digest) and path.is_file() else None


def read_paper(folder: Path, digest: str) -> bytes:
    """Return the bytes of a paper.

    Raises:
        NotFoundError: It is not kept here.
        SealError: The file is not what was recorded any more.
    """
    path = kept_paper(folder, digest)
    if path is None:
        raise NotFoundError(
            f"the paper {digest[:64]} is not kept beside this ledger; put back the folder "
            f"{folder} from a copy"
        )
    raw = path.read_bytes()
    if sha256(raw).hexdigest() != digest:
        raise SealError(
            f"the file of the paper {digest} was changed after it was attached; put it "
            "back from a copy"
        )
    return raw
