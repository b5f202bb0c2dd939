"""A certifier's or witness's folder: whose key is trusted, and what was seen of it last.

    makers/NAME.key           the maker's public key, as it was given on enrolment
    makers/NAME.checkpoints   every checkpoint that was accepted, the last one last
    witnesses/NAME.key        the public key of a witness whose word counts here

A key is put here once, from the hand of its owner, and never taken from a pack.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from ledger.chain.checkpoint import SignedCheckpoint
from ledger.chain.note import Algorithm, Key, parse_key
from ledger.errors import ConflictError, InputError, NotFoundError
from ledger.intake.folder import read_bytes
from ledger.store.checkpoint_file import (
    add_to_checkpoint_file,
    make_checkpoint_file,
    read_checkpoint_file,
)

_NAME: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
_MAKERS: Final = "makers"
_WITNESSES: Final = "witnesses"


@dataclass(frozen=True, slots=True)
class Maker:
    """A maker that is enrolled.

    Attributes:
        name: What it is called in the folder.
        key: The key that is pinned.
        seen: The checkpoints that were accepted, in order of size.
        file: Where they are kept.
    """

    name: str
    key: Key
    seen: tuple[SignedCheckpoint, ...]
    file: Path

    @property
    def last(self) -> SignedCheckpoint | None:
        """The last checkpoint that was accepted, if any."""
        return self.seen[-1] if self.seen else None


def enrol_maker(folder: Path, name: str, line: str, *, replace: bool = False) -> Key:
    """Pin the key of a maker, and return it.

    Args:
        folder: The folder; it is made if it is not there.
        name: What the maker is called in it.
        line: The key's line, from the maker's own hand.
        replace: Whether it takes the place of a key that is pinned already; what was
            seen last stays.

    Raises:
        InputError: The name or the line is wrong, or the folder cannot be written to.
        ConflictError: The maker is enrolled already, or another under the same key.
    """
    _check_name(name)
    key = _parse(line, Algorithm.NOTE, "a maker's")
    for maker in makers(folder):
        if maker.name != name and maker.key.name == key.name:
            raise ConflictError(
                f"{maker.name} signs as {key.name} already; one ledger is enrolled once"
            )
    _pin(folder / _MAKERS, name, key, replace=replace)
    file = folder / _MAKERS / f"{name}.checkpoints"
    if not file.exists():
        make_checkpoint_file(file)
    return key


def enrol_witness(folder: Path, name: str, line: str, *, replace: bool = False) -> Key:
    """Note down the key of a witness whose cosignatures count, and return it.

    Raises:
        InputError: The name or the line is wrong, or the folder cannot be written to.
        ConflictError: The witness is enrolled already.
    """
    _check_name(name)
    key = _parse(line, Algorithm.COSIGNATURE, "a witness's")
    _pin(folder / _WITNESSES, name, key, replace=replace)
    return key


def _parse(line: str, algorithm: Algorithm, whose: str) -> Key:
    key = parse_key(line)
    if key.algorithm is not algorithm:
        raise InputError(
            f"the key of {key.name} is not {whose} key: makers sign notes, witnesses sign "
            "cosignatures; ask for the right line"
        )
    return key


def _check_name(name: str) -> None:
    if not _NAME.fullmatch(name):
        raise InputError(
            f"{name!r} cannot name a file; use 1 to 64 of the characters A-Z a-z 0-9 . _ - "
            "and start with a letter or digit"
        )


def _pin(folder: Path, name: str, key: Key, *, replace: bool) -> None:
    path = folder / f"{name}.key"
    if path.exists() and not replace:
        raise ConflictError(
            f"{name} is enrolled already, in {path}; if its owner gave you another key in "
            "person, say so with --replace"
        )
    try:
        folder.mkdir(parents=True, exist_ok=True)
        waiting = path.with_name(f".{path.name}.new")
        waiting.write_text(f"{key}\n", encoding="utf-8")
        waiting.replace(path)
    except OSError as error:
        raise InputError(
            f"{path} cannot be written ({error.strerror}); name a folder that you may "
            "write to"
        ) from error


def makers(folder: Path) -> Iterator[Maker]:
    """Yield the makers that are enrolled in a folder, by name.

    Raises:
        InputError: A file in it cannot be read.
        SealError: What was seen of a maker does not hold.
    """
    for name, key in _keys(folder / _MAKERS):
        file = folder / _MAKERS / f"{name}.checkpoints"
        yield Maker(name, key, read_checkpoint_file(file) or (), file)


def maker_signing_as(folder: Path, origin: str) -> Maker:
    """Return the maker that signs under a name.

    Raises:
        NotFoundError: Nobody who does is enrolled.
        InputError: A file in the folder cannot be read.
        SealError: What was seen of a maker does not hold.
    """
    for maker in makers(folder):
        if maker.key.name == origin:
            return maker
    raise NotFoundError(
        f"nobody who signs as {origin} is enrolled in {folder}; get the key's line from "
        "the maker in person and give it to `evenweight enrol`"
    )


def witness_keys(folder: Path) -> tuple[Key, ...]:
    """Return the keys of the witnesses that are enrolled in a folder.

    Raises:
        InputError: A file in it cannot be read.
    """
    return tuple(key for _, key in _keys(folder / _WITNESSES))


def _keys(folder: Path) -> Iterator[tuple[str, Key]]:
    for path in sorted(folder.glob("*.key")):
        try:
            yield path.stem, parse_key(read_bytes(path).decode())
        except (InputError, UnicodeDecodeError) as error:
            raise InputError(f"{path} does not hold a key: {error}") from error


def remember(maker: Maker, signed: SignedCheckpoint) -> bool:
    """Remember a checkpoint that was accepted, and tell whether it was new.

    An older one than the last is not remembered: it says less.

    Args:
        maker: Whose it is, as read just before.
        signed: The checkpoint; it must continue the last one.

    Raises:
        InputError: It cannot be written.
    """
    last = maker.last
    if last is not None and signed.size < last.size:
        return False
    if last is not None and last.with_signatures(signed.note.signatures) == last:
        return False
    add_to_checkpoint_file(maker.file, signed.note)
    return True
