"""The zip around a pack, fixed to the byte.

Members are stored without compression in the order of their names, dated 1980-01-01,
with nothing in between. So the same pack always gives the same zip, no member can
unpack into more than it takes, and every byte of the zip is either content, which has
a digest, or can be written again and compared.

Source: PKWARE, APPNOTE.TXT - .ZIP File Format Specification, 6.3.10: 4.3.7 (local file
header), 4.3.12 (central directory), 4.3.16 (end of central directory), 4.4.
"""

import struct
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import IO, Final

from ledger.audit.layout import MAX_FILES
from ledger.errors import SealError

_LOCAL: Final = struct.Struct("<4s5H3I2H")
_CENTRAL: Final = struct.Struct("<4s6H3I5H2I")
_END: Final = struct.Struct("<4s4H2IH")

_VERSION: Final = 20
_MADE_ON_UNIX: Final = 3 << 8 | _VERSION
_TIME, _DATE = 0, 1 << 5 | 1  # 1980-01-01 00:00, the first moment a zip can state
_PLAIN_FILE: Final = 0o100644 << 16
_KIND_OF_FILE: Final = 0o170000 << 16
_ENCRYPTED: Final = 1
_LONGEST_NAME: Final = 256

_ANOTHER: Final = (
    "the zip was not written as packs are: {}; another program may have packed it anew, "
    "so unpack it and check the folder"
)


@dataclass(frozen=True, slots=True)
class Member:
    """One file in a zip.

    Attributes:
        name: Its name, with the folder that holds the pack.
        size: Its length in bytes.
        crc: Its CRC-32.
    """

    name: str
    size: int
    crc: int


def zip_parts(members: Sequence[Member]) -> Iterator[bytes | Member]:
    """Yield what a zip consists of, in order: headers, and members for their content."""
    offset = 0
    central = bytearray()
    for member in members:
        name = member.name.encode("ascii")
        local = _local(member, name)
        yield local
        yield member
        central += _central(member, name, offset)
        offset += len(local) + member.size
    yield bytes(central)
    count = len(members)
    yield _END.pack(b"PK\5\6", 0, 0, count, count, len(central), offset, 0)


def check_zip(file: IO[bytes], members: Sequence[Member]) -> Iterator[tuple[int, str]]:
    """Yield every place where a zip is not what `zip_parts` gives for its members.

    Yields:
        Offset of the first byte that differs, and which part it lies in.
    """
    offset, part = 0, ""
    for wanted in zip_parts(members):
        if isinstance(wanted, Member):
            offset += wanted.size
            continue
        part = _part(wanted)
        file.seek(offset)
        found = file.read(len(wanted))
        if found != wanted:
            yield offset + first_difference(found, wanted), part
        offset += len(wanted)
    file.seek(offset)
    if file.read(1):
        yield offset, "what follows the end"


def read_members(file: IO[bytes]) -> tuple[Member, ...]:
    """Return the members that a zip lists.

    Raises:
        SealError: It cannot be a zip as packs are written.
    """
    end = file.seek(0, 2)
    if end < _END.size:
        raise SealError(
            f"the file has {end} bytes, too few for a zip; it was cut, or is not a pack"
        )
    file.seek(end - _END.size)
    mark, *_, count, size, offset, _ = _END.unpack(file.read(_END.size))
    if mark != b"PK\5\6":
        raise SealError(_ANOTHER.format("it does not end as a zip does"))
    if count > MAX_FILES or size > count * (_CENTRAL.size + _LONGEST_NAME):
        raise SealError(_ANOTHER.format(f"it lists {count} members in {size} bytes"))
    if offset + size > end:
        raise SealError(_ANOTHER.format("its list of members lies outside the file"))
    file.seek(offset)
    members = tuple(_members(file.read(size), count))
    if sum(member.size for member in members) > end:
        raise SealError(_ANOTHER.format("its members are larger than the file"))
    return members


def data_offsets(members: Iterable[Member]) -> Iterator[int]:
    """Yield where the content of each member begins."""
    offset = 0
    for member in members:
        offset += _LOCAL.size + len(member.name)
        yield offset
        offset += member.size


def first_difference(found: bytes, wanted: bytes) -> int:
    """Return the offset of the first byte in which two texts differ."""
    pairs = enumerate(zip(found, wanted, strict=False))
    return next(
        (place for place, (a, b) in pairs if a != b), min(len(found), len(wanted))
    )


def _members(directory: bytes, count: int) -> Iterator[Member]:
    place = 0
    for _ in range(count):
        if len(directory) < place + _CENTRAL.size:
            raise SealError(_ANOTHER.format("its list of members is cut"))
        fields = _CENTRAL.unpack_from(directory, place)
        (mark, _, _, flags, method, _, _, crc, packed, size, length, extra, note) = (
            fields[:13]
        )
        place += _CENTRAL.size
        name = directory[place : place + length].decode("ascii", "backslashreplace")
        place += length + extra + note
        _check_member(name, mark, flags, method, fields[15])
        if packed != size:
            raise SealError(_ANOTHER.format(f"{name!r} has two lengths"))
        yield Member(name, size, crc)


def _check_member(
    name: str, mark: bytes, flags: int, method: int, attributes: int
) -> None:
    if mark != b"PK\1\2":
        raise SealError(_ANOTHER.format("its list of members is broken"))
    if flags & _ENCRYPTED:
        raise SealError(
            f"{name!r} in the zip is encrypted; a pack has no secrets in it"
        )
    if method:
        raise SealError(_ANOTHER.format(f"{name!r} is compressed"))
    if attributes & _KIND_OF_FILE not in {0, _PLAIN_FILE & _KIND_OF_FILE}:
        raise SealError(
            f"{name!r} in the zip is a link or a folder; a pack holds plain files only"
        )


def _local(member: Member, name: bytes) -> bytes:
    header = _LOCAL.pack(
        b"PK\3\4", _VERSION, 0, 0, _TIME, _DATE,
        member.crc, member.size, member.size, len(name), 0,
    )  # fmt: skip
    return header + name


def _central(member: Member, name: bytes, offset: int) -> bytes:
    header = _CENTRAL.pack(
        b"PK\1\2", _MADE_ON_UNIX, _VERSION, 0, 0, _TIME, _DATE,
        member.crc, member.size, member.size, len(name),
        0, 0, 0, 0, _PLAIN_FILE, offset,
    )  # fmt: skip
    return header + name


def _part(header: bytes) -> str:
    if header.startswith(b"PK\3\4"):
        return f"the header of {header[_LOCAL.size :].decode('ascii')}"
    return (
        "the list of members" if header.startswith(b"PK\1\2") else "the end of the zip"
    )
