"""The bag around a pack: RFC 8493, and a second opinion.

The second opinion is the library `bagit` of the Library of Congress. What an invalid bag
is comes from the bagit conformance suite (github.com/LibraryOfCongress/
bagit-conformance-suite, commit 9ab4870), whose cases are named beside each change.
"""

import re
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path

import bagit
import pytest

from ledger.audit.check import check_pack
from ledger.audit.layout import LISTED_TAG_FILES
from ledger.errors import InputError, SealError
from tests.audit.forging import bag_again, edited, files_of


def test_the_library_accepts_what_we_write(small_pack: Path, tiny_pack: Path) -> None:
    for pack in (small_pack, tiny_pack):
        bag = bagit.Bag(str(pack))

        assert bag.validate()
        assert bag.version_info == (1, 0)
        assert bag.has_oxum()
        assert {entry.split("/", 1)[0] for entry in bag.payload_files()} == {"data"}


def test_the_library_reads_what_the_bag_says_of_itself(small_pack: Path) -> None:
    info = bagit.Bag(str(small_pack)).info

    assert info["Source-Organization"] == "Invented Maker"
    assert info["Bagging-Date"] == "2026-07-01"
    assert info["External-Description"].endswith("trade dates up to 2026-06-30")
    assert info["Pack-Format-Version"] == "1"


def test_the_declaration_is_the_two_lines_of_the_standard(small_pack: Path) -> None:
    """RFC 8493, 2.1.1."""
    assert (small_pack / "bagit.txt").read_bytes() == (
        b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
    )


def test_the_manifest_lists_every_payload_file_once(small_pack: Path) -> None:
    """RFC 8493, 2.1.3: digest, whitespace, path from the top with forward slashes."""
    lines = (small_pack / "manifest-sha256.txt").read_text().splitlines()
    payload = [name for name in files_of(small_pack) if name.startswith("data/")]

    assert [line.split("  ", 1)[1] for line in lines] == payload
    for line in lines:
        digest, name = line.split("  ", 1)
        assert digest == sha256((small_pack / name).read_bytes()).hexdigest()


def test_the_tag_manifest_lists_every_other_file_but_itself(small_pack: Path) -> None:
    """RFC 8493, 2.2.1."""
    lines = (small_pack / "tagmanifest-sha256.txt").read_text().splitlines()
    tags = [name for name in files_of(small_pack) if not name.startswith("data/")]

    assert [line.split("  ", 1)[1] for line in lines] == [
        name for name in tags if name != "tagmanifest-sha256.txt"
    ]


def test_the_oxum_counts_octets_and_files(small_pack: Path) -> None:
    """RFC 8493, 2.2.2: OctetCount.StreamCount of the payload."""
    payload = [name for name in files_of(small_pack) if name.startswith("data/")]
    octets = sum((small_pack / name).stat().st_size for name in payload)
    info = (small_pack / "bag-info.txt").read_text()

    assert f"Payload-Oxum: {octets}.{len(payload)}\n" in info


def replaced(old: bytes, new: bytes) -> Callable[[bytes], bytes]:
    def edit(raw: bytes) -> bytes:
        assert old in raw
        return raw.replace(old, new, 1)

    return edit


def repeated(raw: bytes) -> bytes:
    return raw.splitlines(keepends=True)[0] + raw


def repeated_with_another_digest(raw: bytes) -> bytes:
    return b"deadbeef" + raw.splitlines(keepends=True)[0][8:] + raw


MANIFEST, TAG_MANIFEST = "manifest-sha256.txt", "tagmanifest-sha256.txt"


@pytest.mark.parametrize(
    ("case", "name", "edit"),
    [
        ("bom-in-bagit.txt", "bagit.txt", lambda raw: b"\xef\xbb\xbf" + raw),
        ("invalid-version-number", "bagit.txt", replaced(b"1.0", b".97")),
        (
            "baginfo-missing-encoding",
            "bagit.txt",
            lambda raw: raw.splitlines(keepends=True)[0],
        ),
        ("bagit-with-invalid-whitespace", "bagit.txt", replaced(b":", b" :")),
        ("corrupt-tag-file", TAG_MANIFEST, lambda raw: b"deadbeef" + raw[8:]),
        ("same-filename-listed-twice-with-the-same-hash", MANIFEST, repeated),
        (
            "same-filename-listed-twice-with-different-hashes",
            MANIFEST,
            repeated_with_another_digest,
        ),
        (
            "out-of-scope-file-paths-using-dot-notation",
            MANIFEST,
            lambda raw: raw + b"0" * 64 + b"  ../../../README.md\n",
        ),
        (
            "out-of-scope-file-paths-using-absolute-path",
            MANIFEST,
            lambda raw: raw + b"0" * 64 + b"  /tmp/foo\n",
        ),
        (
            "out-of-scope-file-paths-using-shortcut",
            MANIFEST,
            lambda raw: raw + b"0" * 64 + b"  ~/foo\n",
        ),
        (
            "notAllManifestsListAllFiles",
            MANIFEST,
            lambda raw: b"".join(raw.splitlines(keepends=True)[1:]),
        ),
    ],
)
def test_an_invalid_bag_is_refused_where_it_is_invalid(
    case: str, name: str, edit: Callable[[bytes], bytes], pack: Path
) -> None:
    edited(pack, name, edit)
    verdict = check_pack(pack)

    assert name in {problem.where.file for problem in verdict.problems}, case
    if name == MANIFEST:
        # Also where the forger makes the other digests fit.
        listed = sha256((pack / MANIFEST).read_bytes()).hexdigest().encode()
        edited(
            pack,
            TAG_MANIFEST,
            lambda raw: re.sub(rb"[0-9a-f]{64}(?=  manifest)", listed, raw),
        )

        assert not check_pack(pack).holds, case


def test_a_file_that_a_bag_may_fetch_has_no_place(pack: Path) -> None:
    """RFC 8493, 2.2.3 allows fetch.txt; a pack is whole or it is not one."""
    (pack / "fetch.txt").write_text("https://example.com/x - data/x\n")

    assert "fetch.txt" in {p.where.file for p in check_pack(pack).problems}


def test_the_tag_files_say_only_what_follows_from_the_pack(pack: Path) -> None:
    edited(pack, "bag-info.txt", replaced(b"Invented Maker", b"Another Maker"))
    bag_again(pack)
    [problem] = check_pack(pack).problems

    assert str(problem.where) == "bag-info.txt, line 1, byte 21"
    assert "Invented Maker" in problem.sentence


def test_a_changed_digest_is_told_from_a_changed_file(pack: Path) -> None:
    raw = (pack / TAG_MANIFEST).read_bytes()
    for number, name in enumerate(LISTED_TAG_FILES, start=1):
        place = raw.index(f"  {name}\n".encode()) - 1
        wrong = b"0" if raw[place : place + 1] != b"0" else b"1"
        (pack / TAG_MANIFEST).write_bytes(raw[:place] + wrong + raw[place + 1 :])
        [problem] = check_pack(pack).problems

        assert (problem.where.file, problem.where.line) == (TAG_MANIFEST, number)


def test_a_newer_format_is_refused_in_one_sentence(pack: Path) -> None:
    edited(pack, "bag-info.txt", replaced(b"Version: 1", b"Version: 2"))

    assert "bag-info.txt" in {p.where.file for p in check_pack(pack).problems}
    bag_again(pack)
    with pytest.raises(InputError, match="in format 2, and this program reads formats"):
        check_pack(pack)


def test_a_link_in_a_folder_is_refused(pack: Path) -> None:
    outside = pack.with_name("outside")
    outside.write_text("of somebody else")
    (pack / "data/reports/link.pdf").symlink_to(outside)

    with pytest.raises(SealError, match="link or a device"):
        check_pack(pack)


def test_a_linked_folder_is_not_followed(pack: Path) -> None:
    (pack / "data/more").symlink_to(pack)

    with pytest.raises(SealError, match="link or a device"):
        check_pack(pack)


def test_a_folder_too_deep_is_refused(pack: Path) -> None:
    (pack / "data" / "/".join("abcdefghij")).mkdir(parents=True)

    with pytest.raises(SealError, match="deeper"):
        check_pack(pack)
