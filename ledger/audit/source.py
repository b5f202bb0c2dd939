"""A pack as it lies on disk, a folder or a zip, opened so that nothing in it can harm.

Names are checked before anything is read, links are never followed, and a file is read
in pieces, so that no pack is ever in memory as a whole.
"""

import os
import re
import stat
import zlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import IO, Final, Protocol

from ledger.audit.layout import (
    BAGIT,
    CHUNK,
    MAX_LINE_BYTES,
    MAX_WHOLE_BYTES,
    check_size,
)
from ledger.audit.verdict import Problem, Where
from ledger.audit.zipped import Member, check_zip, data_offsets, read_members
from ledger.errors import InputError, SealError

# No name may lead out of a pack or mean two things on two systems: no step up, no
# drive, no backslash, no control or foreign character, no full stop at the end.
_STEP: Final = re.compile(r"[A-Za-z0-9._-]{0,127}[A-Za-z0-9_-]")
_DEEPEST: Final = 8


@dataclass(frozen=True, slots=True)
class FileDigest:
    """What a file of a pack really is.

    Attributes:
        sha256: SHA-256 of its bytes, in hexadecimal.
        crc: CRC-32 of its bytes, which the zip states.
        size: Number of its bytes.
    """

    sha256: str
    crc: int
    size: int


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a file.

    Attributes:
        number: Its place, counted from 1.
        start: Offset of its first byte in the file.
        raw: Its bytes without the line feed.
        ended: Whether a line feed ends it.
    """

    number: int
    start: int
    raw: bytes
    ended: bool


class Source(Protocol):
    """A pack that can be read."""

    @property
    def names(self) -> tuple[str, ...]:
        """Names of its files from the top of the pack, in byte order."""

    @property
    def is_zip(self) -> bool:
        """Whether a zip is around it."""

    def chunks(self, name: str) -> Iterator[bytes]:
        """Yield the bytes of a file in pieces."""


@contextmanager
def open_source(path: Path) -> Iterator[Source]:
    """Open a pack for reading.

    Args:
        path: A folder, or a zip file.

    Yields:
        The pack; its names are safe.

    Raises:
        InputError: There is nothing that can be read, or too much of it.
        SealError: A name in it is not safe, or the zip is not as packs are written.
    """
    try:
        if path.is_dir():
            yield _Folder(path)
        elif path.is_file():
            with path.open("rb") as file:
                yield _Zip(path.name, file)
        else:
            raise InputError(
                f"there is no pack at {path}; name a zip file, or the folder that holds "
                f"{BAGIT}"
            )
    except OSError as error:
        raise InputError(
            f"the pack at {path} cannot be read ({error.strerror or error}); check the "
            "file and your right to read it"
        ) from error


def check_around(
    source: Source, digests: Mapping[str, FileDigest]
) -> Iterator[Problem]:
    """Yield what is wrong with what is around the files; with a folder nothing can be.

    Args:
        source: The pack.
        digests: What its files really are.
    """
    if isinstance(source, _Zip):
        yield from source.check_around(digests)


def digest_of(chunks: Iterator[bytes]) -> FileDigest:
    """Return what a file really is."""
    digest, crc, size = sha256(), 0, 0
    for chunk in chunks:
        digest.update(chunk)
        crc = zlib.crc32(chunk, crc)
        size += len(chunk)
    return FileDigest(digest.hexdigest(), crc, size)


def whole(source: Source, name: str) -> bytes:
    """Return the bytes of a small file.

    Raises:
        SealError: It is larger than a file of its sort may be.
    """
    found = bytearray()
    for chunk in source.chunks(name):
        found += chunk
        if len(found) > MAX_WHOLE_BYTES:
            raise SealError(
                f"{name} is larger than {MAX_WHOLE_BYTES} bytes, the most that such a "
                "file may have; the pack was not made by this program"
            )
    return bytes(found)


def text_of(source: Source, name: str, *, most: int) -> str:
    """Return a short file as text.

    Args:
        source: The pack.
        name: Name of the file.
        most: How many characters it may have.

    Raises:
        InputError: It is not text in UTF-8, or longer.
        SealError: It is larger than any file that is read whole.
    """
    try:
        text = whole(source, name).decode()
    except UnicodeDecodeError as error:
        raise InputError(f"the file is not text: {error}") from error
    if len(text) > most:
        raise InputError(f"the file is longer than {most} characters")
    return text


def lines_of(source: Source, name: str) -> Iterator[Line]:
    """Yield the lines of a file, a piece of it in memory at a time.

    Raises:
        SealError: A line is longer than `MAX_LINE_BYTES`.
    """
    rest, start, number = b"", 0, 1
    for chunk in source.chunks(name):
        *ended, rest = (rest + chunk).split(b"\n")
        for raw in ended:
            yield Line(number, start, _bounded(raw, name, number), ended=True)
            start, number = start + len(raw) + 1, number + 1
        _bounded(rest, name, number)
    if rest:
        yield Line(number, start, rest, ended=False)


def lines_in(source: Source, name: str) -> int:
    """Return how many lines a file has; none where it is missing."""
    if name not in source.names:
        return 0
    return sum(chunk.count(b"\n") for chunk in source.chunks(name))


def _bounded(raw: bytes, name: str, number: int) -> bytes:
    if len(raw) > MAX_LINE_BYTES:
        raise SealError(
            f"line {number} of {name} is longer than {MAX_LINE_BYTES} bytes, the most "
            "that a line may have; the pack was changed, or not made by this program"
        )
    return raw


class _Folder:
    """Implements `Source` on a folder."""

    is_zip = False

    def __init__(self, path: Path) -> None:
        self._path = path
        sizes = dict(_files(path, "", 1))
        check_size(len(sizes), sum(sizes.values()))
        self.names = _safe(sizes)

    def chunks(self, name: str) -> Iterator[bytes]:
        """Yield the bytes of a file in pieces."""
        with self._path.joinpath(name).open("rb") as file:
            while chunk := file.read(CHUNK):
                yield chunk


class _Zip:
    """Implements `Source` on a zip file, all members of which lie in one folder."""

    is_zip = True

    def __init__(self, title: str, file: IO[bytes]) -> None:
        self._title, self._file = title, file
        members = read_members(file)
        check_size(len(members), sum(member.size for member in members))
        names = [member.name for member in members]
        _safe(names)
        self._folder = names[0].partition("/")[0] + "/" if names else "/"
        strangers = [name for name in names if not name.startswith(self._folder)]
        if strangers:
            raise SealError(
                f"{strangers[0]!r} in the zip lies outside the folder {self._folder} of "
                "the pack; a zip holds one pack and nothing else"
            )
        self._members = members
        self._places = dict(
            zip(names, zip(data_offsets(members), members, strict=True), strict=True)
        )
        self.names = tuple(sorted(name.removeprefix(self._folder) for name in names))

    def chunks(self, name: str) -> Iterator[bytes]:
        """Yield the bytes of a file in pieces."""
        start, member = self._places[self._folder + name]
        place, end = start, start + member.size
        while place < end:
            self._file.seek(place)
            chunk = self._file.read(min(CHUNK, end - place))
            if not chunk:
                return
            yield chunk
            place += len(chunk)

    def check_around(self, digests: Mapping[str, FileDigest]) -> Iterator[Problem]:
        """Yield every place where the zip is not what packs of this content are."""
        members = [
            Member(self._folder + name, digests[name].size, digests[name].crc)
            for name in self.names
        ]
        for offset, part in check_zip(self._file, members):
            yield Problem(
                Where(self._title, byte=offset),
                f"{part} is not as packs are written: it was changed, or another program "
                "packed the zip anew; unpack it and check the folder",
            )


def _files(top: Path, folder: str, depth: int) -> Iterator[tuple[str, int]]:
    """Yield name and size of every file below a folder, without following links."""
    if depth > _DEEPEST:
        raise SealError(f"{folder!r} lies deeper than any file of a pack; take it out")
    with os.scandir(top / folder) as found:
        for item in found:
            name = folder + item.name
            mode = item.stat(follow_symlinks=False)
            if stat.S_ISDIR(mode.st_mode):
                yield from _files(top, name + "/", depth + 1)
            elif stat.S_ISREG(mode.st_mode):
                yield name, mode.st_size
            else:
                raise SealError(
                    f"{name!r} is a link or a device; a pack holds plain files only"
                )


def _safe(names: Mapping[str, int] | list[str]) -> tuple[str, ...]:
    """Return names in byte order if none of them can do harm.

    Raises:
        SealError: One leads out of the pack, or means something else elsewhere, or two
            of them mean the same file.
    """
    taken: dict[str, str] = {}
    for name in names:
        if not all(_STEP.fullmatch(step) for step in name.split("/")):
            raise SealError(
                f"the pack holds a file named {name!r}, which no pack does: names are "
                "plain and lead nowhere but down; take it out, and ask where it comes from"
            )
        folded = name.casefold()
        if folded in taken:
            raise SealError(
                f"the pack holds {taken[folded]!r} and {name!r}, which are one file on "
                "some systems; take one out, and ask where it comes from"
            )
        taken[folded] = name
    return tuple(sorted(names))
