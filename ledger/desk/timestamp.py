"""Timestamps: asking an authority for one, and keeping its answer beside a checkpoint."""

import os
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from ledger.chain.checkpoint import SignedCheckpoint
from ledger.chain.timestamp import (
    MAX_TOKEN,
    check_timestamp,
    parse_authorities,
    stated_moment,
    timestamp_request,
)
from ledger.errors import ConflictError, InputError, NotFoundError, SealError
from ledger.intake.folder import read_bytes

if TYPE_CHECKING:
    from cryptography.x509 import Certificate

_SUFFIX: Final = ".tsr"
NO_TIMESTAMPS: Final[Mapping[int, bytes]] = MappingProxyType({})


def request_for(kept: tuple[SignedCheckpoint, ...]) -> tuple[SignedCheckpoint, bytes]:
    """Return the last checkpoint, and what to ask an authority about it.

    Raises:
        NotFoundError: Nothing is signed yet.
    """
    if not kept:
        raise NotFoundError(
            "there is no signed checkpoint yet; sign one with `evenweight checkpoint`"
        )
    return kept[-1], timestamp_request(kept[-1].note.text)


def add_timestamp(
    folder: Path,
    kept: tuple[SignedCheckpoint, ...],
    token: bytes,
    authorities: tuple["Certificate", ...] = (),
) -> tuple[SignedCheckpoint, datetime]:
    """Keep an authority's answer beside the checkpoint that it is for.

    Args:
        folder: The folder of timestamps; it is made if it is not there.
        kept: The signed checkpoints.
        token: The answer as it came.
        authorities: Certificates to check it with; unchecked where empty.

    Returns:
        The checkpoint, and the moment that the token states.

    Raises:
        InputError: It is no answer of an authority, or cannot be written.
        SealError: It is for none of the checkpoints, or not signed by the authorities.
        ConflictError: That checkpoint has one already.
    """
    signed, moment = _belonging(kept, token)
    if authorities:
        moment = check_timestamp(token, signed.note.text, authorities)
    path = folder / f"{signed.size}{_SUFFIX}"
    if path.exists() and path.read_bytes() != token:
        raise ConflictError(
            f"the checkpoint over {signed.size} entries has a timestamp already, in "
            f"{path}; the first one says most, so it stays"
        )
    try:
        folder.mkdir(exist_ok=True)
        waiting = path.with_suffix(".new")
        with waiting.open("wb") as file:
            file.write(token)
            file.flush()
            os.fsync(file.fileno())
        waiting.replace(path)
    except OSError as error:
        raise InputError(
            f"{path} cannot be written ({error.strerror}); check the folder"
        ) from error
    return signed, moment


def _belonging(
    kept: tuple[SignedCheckpoint, ...], token: bytes
) -> tuple[SignedCheckpoint, datetime]:
    for signed in reversed(kept):
        try:
            return signed, stated_moment(token, signed.note.text)
        except SealError:
            continue
    raise SealError(
        "the timestamp is for none of the checkpoints that were signed here; ask the "
        "authority with what `evenweight timestamp-request` writes"
    )


def kept_timestamps(folder: Path) -> Mapping[int, bytes]:
    """Return the timestamps in a folder by the size of their checkpoint.

    Raises:
        InputError: One cannot be read.
    """
    if not folder.is_dir():
        return NO_TIMESTAMPS
    return {
        int(path.stem): read_token(path)
        for path in sorted(folder.glob(f"*{_SUFFIX}"))
        if path.stem.isascii() and path.stem.isdigit()
    }


def read_token(path: Path) -> bytes:
    """Return the bytes of an authority's answer.

    Raises:
        InputError: It cannot be read or is too large.
    """
    raw = read_bytes(path)
    if len(raw) > MAX_TOKEN:
        raise InputError(
            f"{path} is larger than {MAX_TOKEN} bytes, which no timestamp is"
        )
    return raw


def read_authorities(path: Path | None) -> tuple["Certificate", ...]:
    """Return the certificates of authorities in a file, none where no file is named.

    Raises:
        InputError: It cannot be read, or holds no root certificate.
    """
    return () if path is None else parse_authorities(read_bytes(path))
