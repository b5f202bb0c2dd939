"""The file that holds a private key: PKCS8 in PEM, for its owner's eyes alone.

Source:
    RFC 8410 (Ed25519 in PKCS8), RFC 7468 (the textual form).
"""

import os
import stat
from pathlib import Path
from typing import TYPE_CHECKING, Final

from ledger.errors import ConflictError, InputError, NotFoundError, RefusedError

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

_OTHERS: Final = stat.S_IRWXG | stat.S_IRWXO
_ENCRYPTED: Final = b"BEGIN ENCRYPTED PRIVATE KEY"
_MAX_BYTES: Final = 64 * 1024


def write_key_file(
    path: Path, private: "Ed25519PrivateKey", *, passphrase: bytes | None
) -> None:
    """Write a private key to a new file that only its owner may read.

    Args:
        path: Where to; nothing may be there.
        private: The key.
        passphrase: What encrypts it; in plain if None.

    Raises:
        ConflictError: Something is there already.
        InputError: The place cannot be written to.
    """
    from cryptography.hazmat.primitives import serialization  # noqa: PLC0415

    pem = private.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.BestAvailableEncryption(passphrase)
        if passphrase
        else serialization.NoEncryption(),
    )
    refuse_taken(path)
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "wb") as file:
            os.fchmod(file.fileno(), 0o600)
            file.write(pem)
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        raise InputError(
            f"the key cannot be written to {path} ({error.strerror}); name a file in a "
            "folder that exists and that you may write to"
        ) from error


def refuse_taken(path: Path) -> None:
    """Refuse to put a key where something is: a key that is lost is lost for good.

    Raises:
        ConflictError: Something is there.
    """
    if os.path.lexists(path):
        raise ConflictError(
            f"there is a file at {path} already, and a key is never overwritten; bring "
            "back the ledger it belongs to, or move the file to another place"
        )


def put_in_place(new: Path, path: Path) -> None:
    """Put a new key in the place of the present one, which is kept beside it.

    Args:
        new: The file with the new key.
        path: The file with the present one; it may be lost.

    Raises:
        InputError: The files cannot be moved.
    """
    try:
        if path.exists():
            number = 1
            while os.path.lexists(kept := Path(f"{path}.old{number}")):
                number += 1
            path.rename(kept)
        new.rename(path)
    except OSError as error:
        raise InputError(
            f"the new key is in force, but its file {new} cannot be moved to {path} "
            f"({error.strerror}); move it there by hand"
        ) from error


def is_encrypted(path: Path) -> bool:
    """Tell whether a key can be read with its passphrase only.

    Raises:
        NotFoundError: There is no such file.
        RefusedError: Others may read it.
        InputError: It cannot be read.
    """
    return _ENCRYPTED in _read(path)


def read_key_file(path: Path, *, passphrase: bytes | None) -> "Ed25519PrivateKey":
    """Return the private key in a file.

    Args:
        path: The file.
        passphrase: What opens it, where it is encrypted.

    Raises:
        NotFoundError: There is no such file.
        RefusedError: Others may read it, or the passphrase is wrong.
        InputError: It is not an Ed25519 key in PKCS8.
    """
    from cryptography.exceptions import UnsupportedAlgorithm  # noqa: PLC0415
    from cryptography.hazmat.primitives.asymmetric.ed25519 import (  # noqa: PLC0415
        Ed25519PrivateKey,
    )
    from cryptography.hazmat.primitives.serialization import (  # noqa: PLC0415
        load_pem_private_key,
    )

    pem = _read(path)
    encrypted = _ENCRYPTED in pem
    try:
        private = load_pem_private_key(pem, passphrase if encrypted else None)
    except (ValueError, TypeError, UnsupportedAlgorithm) as error:
        if encrypted:
            raise RefusedError(
                f"the key in {path} does not open with that passphrase; try again with "
                "the one it was made with"
            ) from error
        raise _no_key(path) from error
    if not isinstance(private, Ed25519PrivateKey):
        raise _no_key(path)
    return private


def _no_key(path: Path) -> InputError:
    return InputError(
        f"{path} does not hold an Ed25519 private key (PKCS8 in PEM); bring the file "
        "back from where you keep the copy of your key"
    )


def _read(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            if os.name == "posix" and os.fstat(file.fileno()).st_mode & _OTHERS:
                raise RefusedError(
                    f"the key in {path} may be read by others than its owner, so it is "
                    f"not used; run: chmod 600 {path} (and rotate the key if others had "
                    "access)"
                )
            return file.read(_MAX_BYTES)
    except FileNotFoundError as error:
        raise NotFoundError(
            f"there is no key at {path}; bring the file back from where you keep the "
            "copy of your key, or name it with EVENWEIGHT_KEY"
        ) from error
    except OSError as error:
        raise InputError(
            f"the key at {path} cannot be read ({error.strerror}); check the file"
        ) from error
