"""What is kept beside a ledger that is opened: its private key, and its checkpoints."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey


class Beside:
    """Makes both when a ledger is opened, and takes them away if it was not after all.

    Nothing is written before all else has succeeded, so that a rehearsal leaves no key.
    """

    def __init__(
        self,
        *,
        key_path: Callable[[], Path],
        checkpoints_path: Callable[[], Path],
        new_private_key: Callable[[], "Ed25519PrivateKey"],
        passphrase: bytes | None,
    ) -> None:
        """Take where things go; the places are asked for only if they are needed."""
        self._key_path, self._checkpoints_path = key_path, checkpoints_path
        self._new_private_key, self._passphrase = new_private_key, passphrase
        self._private: Ed25519PrivateKey | None = None
        self._is_opening = False
        self._written: list[Path] = []

    def key_for(self, organisation: str, given: str | None) -> str:
        """Return the public key of the new ledger, made here if none was given.

        Args:
            organisation: Short name of the maker.
            given: Line of a key whose private half is kept elsewhere.

        Raises:
            NotFoundError: There is no place for it.
            ConflictError: Another ledger's key is there.
        """
        from ledger.chain.note import Algorithm, Key
        from ledger.chain.rotation import origin_of
        from ledger.store.key_file import refuse_taken

        self._is_opening = True
        if given is not None:
            return given
        refuse_taken(self._key_path())
        self._private = self._new_private_key()
        public = self._private.public_key().public_bytes_raw()
        return str(Key(origin_of(organisation, public), Algorithm.NOTE, public))

    def write(self) -> None:
        """Write what was promised, to files that were not there.

        Raises:
            ConflictError: A file is there.
            InputError: One cannot be written.
        """
        from ledger.store.checkpoint_file import make_checkpoint_file
        from ledger.store.key_file import write_key_file

        if self._private is not None:
            path = self._key_path()
            write_key_file(path, self._private, passphrase=self._passphrase)
            self._written.append(path)
        if self._is_opening:
            make_checkpoint_file(self._checkpoints_path())
            self._written.append(self._checkpoints_path())

    def remove(self) -> None:
        """Take away what was written, because the ledger was not opened after all."""
        for path in self._written:
            path.unlink(missing_ok=True)
