"""Handing out what verifies a pack without this program, with the digests to compare."""

from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from ledger.audit.enclosed import VERIFIERS, enclosed
from ledger.errors import ConflictError, InputError


@dataclass(frozen=True, slots=True)
class Handed:
    """A file that was written.

    Attributes:
        path: Where it is.
        sha256: SHA-256 of its bytes, in hexadecimal.
    """

    path: Path
    sha256: str


def write_verifiers(folder: Path, *, replace: bool = False) -> tuple[Handed, ...]:
    """Write the file of Python, the page and the commands by hand to a folder.

    Args:
        folder: Where to; it is made if it is not there.
        replace: Whether files of these names may be overwritten.

    Raises:
        ConflictError: A file of such a name is there, and holds something else.
        InputError: The folder cannot be written to.
    """
    contents = {folder / name: enclosed()[name] for name in VERIFIERS}
    try:
        for path, raw in contents.items():
            if not replace and path.exists() and path.read_bytes() != raw:
                raise ConflictError(
                    f"there is another file at {path} already; name another folder, or "
                    "say that it may be replaced"
                )
        folder.mkdir(parents=True, exist_ok=True)
        for path, raw in contents.items():
            path.write_bytes(raw)
    except OSError as error:
        raise InputError(
            f"the verifiers cannot be written to {folder} ({error.strerror or error}); "
            "check the folder and your right to write there"
        ) from error
    return tuple(
        Handed(path, sha256(raw).hexdigest()) for path, raw in contents.items()
    )
