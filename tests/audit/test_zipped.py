"""The zip around a pack: written the same each time, and safe to open whoever made it.

Second opinion: the standard library's zipfile reads what we write, and makes what an
attacker would send.
"""

import shutil
import stat
import struct
import warnings
import zipfile
import zlib
from collections.abc import Callable, Iterator
from io import BytesIO
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ledger.audit.check import check_pack
from ledger.audit.zipped import Member, check_zip, read_members, zip_parts
from ledger.errors import InputError, LedgerError, SealError
from tests.audit.forging import files_of


def test_the_standard_library_reads_the_same_files(
    small_pack: Path, small_zip: Path
) -> None:
    with zipfile.ZipFile(small_zip) as found:
        contents = {name: found.read(name) for name in found.namelist()}

        assert found.testzip() is None
    assert contents == {
        f"pack/{name}": (small_pack / name).read_bytes()
        for name in files_of(small_pack)
    }
    assert list(contents) == sorted(contents)


def test_members_are_plain_files_without_a_date_of_their_own(small_zip: Path) -> None:
    with zipfile.ZipFile(small_zip) as found:
        for member in found.infolist():
            assert member.date_time == (1980, 1, 1, 0, 0, 0)
            assert member.compress_type == zipfile.ZIP_STORED
            assert stat.S_ISREG(member.external_attr >> 16)
            assert (member.extra, member.comment, member.flag_bits) == (b"", b"", 0)


def test_every_single_byte_around_the_files_counts(
    tiny_zip: Path, tmp_path: Path
) -> None:
    """Each byte of the headers, and every eleventh of the contents."""
    whole = tiny_zip.read_bytes()
    pack = tmp_path / "pack.zip"
    missed = []
    for place in places_to_change(tiny_zip):
        flipped = whole[place] ^ (1 << place % 8)
        pack.write_bytes(whole[:place] + bytes([flipped]) + whole[place + 1 :])
        try:
            verdict = check_pack(pack)
        except LedgerError:
            continue
        if verdict.holds or not verdict.problems:
            missed.append(place)

    assert missed == []


def places_to_change(pack: Path) -> Iterator[int]:
    with pack.open("rb") as file:
        parts = list(zip_parts(read_members(file)))
    place = 0
    for part in parts:
        if isinstance(part, bytes):
            yield from range(place, place + len(part))
            place += len(part)
        else:
            yield from range(place, place + part.size, 11)
            place += part.size


def test_a_cut_or_lengthened_zip_is_refused(tiny_zip: Path, tmp_path: Path) -> None:
    whole = tiny_zip.read_bytes()
    pack = tmp_path / "pack.zip"
    for size in (0, 1, 21, 22, 100, len(whole) // 2, len(whole) - 1):
        pack.write_bytes(whole[:size])
        with pytest.raises(SealError, match="zip"):
            check_pack(pack)
    pack.write_bytes(whole + b"\0")
    with pytest.raises(SealError, match="zip"):
        check_pack(pack)


def test_what_stands_before_the_zip_is_found(tiny_zip: Path, tmp_path: Path) -> None:
    pack = tmp_path / "pack.zip"
    pack.write_bytes(b"#!/bin/sh\n" + tiny_zip.read_bytes())

    with pytest.raises(SealError, match="written"):
        check_pack(pack)


@pytest.mark.parametrize(
    "raw", [b"", b"PK\5\6", b"not a zip at all, but long enough to be one", bytes(500)]
)
def test_what_is_no_zip_gets_one_sentence(raw: bytes, tmp_path: Path) -> None:
    pack = tmp_path / "pack.zip"
    pack.write_bytes(raw)

    with pytest.raises(SealError, match=r"zip") as caught:
        check_pack(pack)
    assert "\n" not in str(caught.value)


def test_a_missing_pack_gets_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="there is no pack at"):
        check_pack(tmp_path / "nothing.zip")


@settings(max_examples=300, deadline=None,
          suppress_health_check=[HealthCheck.function_scoped_fixture])  # fmt: skip
@given(raw=st.binary(max_size=400), tail=st.booleans())
def test_no_bytes_get_more_than_a_sentence(
    raw: bytes, *, tail: bool, tmp_path: Path
) -> None:
    pack = tmp_path / "pack.zip"
    end = struct.pack("<4s4H2IH", b"PK\5\6", 0, 0, 1, 1, len(raw), 0, 0)
    pack.write_bytes(raw + (end if tail else b""))

    with pytest.raises(LedgerError):
        check_pack(pack)


Attack = Callable[[zipfile.ZipFile], None]


def named(name: str, *, times: int = 1) -> Attack:
    def attack(packed: zipfile.ZipFile) -> None:
        for _ in range(times):
            packed.writestr(zipfile.ZipInfo(name), b"x")

    return attack


def linked(packed: zipfile.ZipFile) -> None:
    member = zipfile.ZipInfo("pack/data/reports/link.pdf")
    member.create_system = 3
    member.external_attr = (stat.S_IFLNK | 0o777) << 16
    packed.writestr(member, "/etc/passwd")


def compressed(packed: zipfile.ZipFile) -> None:
    member = zipfile.ZipInfo("pack/data/reports/bomb.pdf")
    member.compress_type = zipfile.ZIP_DEFLATED
    packed.writestr(member, bytes(10_000_000))


def encrypted(packed: zipfile.ZipFile) -> None:
    named("pack/data/reports/secret.pdf")(packed)
    packed.infolist()[-1].flag_bits |= 1


@pytest.mark.parametrize(
    ("attack", "sentence"),
    [
        pytest.param(named("/etc/cron.d/x"), "named '/etc", id="absolute"),
        pytest.param(named("pack/../../x"), "named 'pack/../", id="step up"),
        pytest.param(named("../x"), r"named '\.\./x'", id="step up first"),
        pytest.param(named("pack/data\\x"), "named", id="backslash"),
        pytest.param(named("C:/x"), "named 'C:/x'", id="drive"),
        pytest.param(named("pack/x."), r"named 'pack/x\.'", id="full stop at the end"),
        pytest.param(named("pack//x"), "named 'pack//x'", id="empty step"),
        pytest.param(named("pack/./x"), r"named 'pack/\./x'", id="same folder"),
        pytest.param(named("pack/data/é.pdf"), "named", id="foreign letter"),
        pytest.param(named("pack/data/a\rb"), "named", id="control character"),
        pytest.param(named("pack/" + "x" * 300), "members in|named", id="long name"),
        pytest.param(named("pack/README.txt"), "are one file", id="twice"),
        pytest.param(named("pack/readme.TXT"), "are one file", id="twice by case"),
        pytest.param(named("other/x"), "outside the folder", id="second folder"),
        pytest.param(named("pack/data/reports/"), "named", id="folder"),
        pytest.param(linked, "link", id="link"),
        pytest.param(compressed, "compressed", id="compressed"),
        pytest.param(encrypted, "encrypted", id="encrypted"),
    ],
)
def test_a_dangerous_member_is_refused_before_anything_is_read(
    attack: Attack, sentence: str, tiny_zip: Path, tmp_path: Path
) -> None:
    pack = Path(shutil.copy(tiny_zip, tmp_path / "pack.zip"))
    with warnings.catch_warnings(), zipfile.ZipFile(pack, "a") as packed:
        warnings.simplefilter("ignore")  # the library warns of a name given twice
        attack(packed)

    with pytest.raises(SealError, match=sentence) as caught:
        check_pack(pack)
    assert "\n" not in str(caught.value)


def test_a_zip_packed_anew_is_told_from_one_that_was_changed(
    tiny_pack: Path, tmp_path: Path
) -> None:
    """Another program stores the same files: the way out is to unpack it."""
    pack = tmp_path / "pack.zip"
    with zipfile.ZipFile(pack, "w") as packed:
        for name in files_of(tiny_pack):
            packed.write(tiny_pack / name, f"pack/{name}")
    verdict = check_pack(pack)

    assert {problem.where.file for problem in verdict.problems} == {"pack.zip"}
    assert all("unpack it" in problem.sentence for problem in verdict.problems)
    assert [part.name for part in verdict.checked if not part.holds] == ["zip file"]


MEMBERS = st.lists(
    st.tuples(st.from_regex(r"[a-z]{1,8}(/[a-z]{1,8})?", fullmatch=True), st.binary()),
    unique_by=lambda pair: pair[0],
)


@given(MEMBERS)
def test_what_is_written_reads_back(contents: list[tuple[str, bytes]]) -> None:
    held = dict(sorted(contents))
    members = [Member(name, len(raw), zlib.crc32(raw)) for name, raw in held.items()]
    written = BytesIO()
    for part in zip_parts(members):
        written.write(part if isinstance(part, bytes) else held[part.name])
    with zipfile.ZipFile(written) as found:
        contents_found = {name: found.read(name) for name in found.namelist()}

    assert contents_found == held
    assert list(read_members(written)) == members
    assert list(check_zip(written, members)) == []
