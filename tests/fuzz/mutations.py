"""What is done to the files of a pack: bytes, lines, cells, members, names, links."""

import json
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Final, TypeAlias

from ledger.errors import LedgerError
from tests.audit.forging import bag_again, chain_again, entries_of, files_of
from tests.fuzz.choices import Choices

Change: TypeAlias = Callable[[bytes, Choices], bytes]

_ODD_BYTES: Final = (
    *(b"\0", b"\n", b"\r\n", b" ", b'"', b"\\", b",", b"+", b"="),
    *(b"\xff", b"\xc0\x80", b"\xed\xa0\x80", b"\xef\xbb\xbf"),
    *(b"0", b"-1", b"1e9", b"9" * 40, b"null", b"true", b"{}", b"[]", b"[" * 600),
    *(b"\xe2\x80\x94 ", b"A" * 70_000, b"0" * 64, b"2026-02-30", b"9999-12-31"),
    *(b'"_sd":[],', b'"seq":0,', b"NaN", b"0.0001", b"99999999999.999"),
)
_NAMES: Final = (
    *("data/more.jsonl", "fetch.txt", "manifest-md5.txt", "data/reports/a.pdf"),
    *("data/documents/" + "0" * 64, "data/checkpoints/1.note", "data/x/y/z/a/b/c/d/e"),
    *("data/consistency/1-2.txt", "data/timestamps/4.tsr", "DATA/entries.jsonl"),
    *("data/checkpoints/99999999999999999999.note", "data/reports/ .pdf", "a\\b"),
)


def _flip(raw: bytes, choose: Choices) -> bytes:
    if not raw:
        return b"\1"
    place = choose.number(len(raw))
    flipped = raw[place] ^ (1 << choose.number(8))
    return raw[:place] + bytes([flipped]) + raw[place + 1 :]


def _put_in(raw: bytes, choose: Choices) -> bytes:
    place = choose.number(len(raw) + 1)
    return raw[:place] + choose.one_of(_ODD_BYTES) + raw[place:]


def _take_out(raw: bytes, choose: Choices) -> bytes:
    place = choose.number(len(raw) + 1)
    return raw[:place] + raw[place + 1 + choose.number(200) :]


def _cut(raw: bytes, choose: Choices) -> bytes:
    return raw[: choose.number(len(raw) + 1)]


def _swap_lines(raw: bytes, choose: Choices) -> bytes:
    lines = raw.splitlines(keepends=True)
    if len(lines) > 1:
        one, other = choose.number(len(lines)), choose.number(len(lines))
        lines[one], lines[other] = lines[other], lines[one]
    return b"".join(lines)


def _repeat_line(raw: bytes, choose: Choices) -> bytes:
    lines = raw.splitlines(keepends=True) or [b"\n"]
    place, at = choose.number(len(lines)), choose.number(len(lines) + 1)
    return b"".join([*lines[:at], lines[place], *lines[at:]])


def _drop_line(raw: bytes, choose: Choices) -> bytes:
    lines = raw.splitlines(keepends=True) or [b""]
    del lines[choose.number(len(lines))]
    return b"".join(lines)


def _other_token(raw: bytes, choose: Choices) -> bytes:
    """Put another number, word or digest of the same file, or an odd one, in its place."""
    found = list(re.finditer(rb"[A-Za-z0-9+/_.:-]+", raw))
    if not found:
        return raw
    here, there = choose.one_of(found), choose.one_of(found)
    comes = there[0] if choose.number(2) else choose.one_of(_ODD_BYTES)
    return raw[: here.start()] + comes + raw[here.end() :]


CHANGES: Final[tuple[Change, ...]] = (
    *(_flip, _put_in, _take_out, _cut, _swap_lines, _repeat_line, _drop_line),
    *(_other_token, _other_token),
)


def _change_file(pack: Path, choose: Choices) -> None:
    name = choose.one_of(files_of(pack))
    raw = (pack / name).read_bytes()
    (pack / name).write_bytes(choose.one_of(CHANGES)(raw, choose))


def _is_plain(pack: Path) -> bool:
    """Tell whether writing into a pack stays in it."""
    return not any(path.is_symlink() for path in pack.rglob("*"))


def _lose_file(pack: Path, choose: Choices) -> None:
    (pack / choose.one_of(files_of(pack))).unlink()


def _add_file(pack: Path, choose: Choices) -> None:
    path = pack / choose.one_of(_NAMES)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(choose.some(choose.number(20)))


def _move_file(pack: Path, choose: Choices) -> None:
    one, other = (
        choose.one_of(files_of(pack)),
        choose.one_of([*files_of(pack), *_NAMES]),
    )
    (pack / other).parent.mkdir(parents=True, exist_ok=True)
    if one != other:
        shutil.move(pack / one, pack / other)


def _link_file(pack: Path, choose: Choices) -> None:
    """Put a link in the place of a file; nothing may be written to the pack after it."""
    outside = pack.with_name(f"{pack.name}-outside")
    outside.write_bytes(b"of somebody else")
    path = pack / choose.one_of(files_of(pack))
    path.unlink()
    path.symlink_to(choose.one_of((str(outside), "bagit.txt", ".")))


_STEPS: Final[tuple[Callable[[Path, Choices], None], ...]] = (
    *([_change_file] * 12),
    *(_lose_file, _add_file, _move_file),
)


def spoil(pack: Path, choose: Choices) -> None:
    """Do one to four things to a pack, then perhaps make its digests fit again.

    Raises:
        ValueError: The pack holds a link, through which a change would leave it.
    """
    if not _is_plain(pack):
        raise ValueError(f"{pack} holds a link; a change could be written through it")
    _spoil_files(pack, choose)
    if files_of(pack) and choose.number(8) == 7:
        _link_file(pack, choose)


def _spoil_files(pack: Path, choose: Choices) -> None:
    for _ in range(1 + choose.number(4)):
        choose.one_of(_STEPS)(pack, choose)
        if not files_of(pack):
            return
    fit = choose.number(4)
    try:
        if fit == 2:
            chain_again(pack, entries_of(pack))
        elif fit == 3:
            bag_again(pack)
    except (LedgerError, OSError, ValueError, TypeError, LookupError, RecursionError):
        return  # A forger's tools stumble over what the reader must not stumble over.
    except json.JSONDecodeError:
        return
