"""The file of Python that packs enclose: the standard library, and no more than it says."""

import ast
import json
import re
import shutil
import sys
from hashlib import sha256
from itertools import count, product
from pathlib import Path

import pytest
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import (
    Ed25519PrivateKey,
    Ed25519PublicKey,
)
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ledger.audit import verify_pack
from ledger.audit.enclosed import VERIFIERS, enclosed
from ledger.audit.layout import PAGE, VERIFIER
from ledger.books.correcting import UNCORRECTABLE
from ledger.chain.base64_text import encode
from ledger.chain.note import Algorithm, Key, Note, sign
from ledger.errors import InputError
from tests.audit.forging import bag_again, edited, files_of
from tests.desk.signed_ledger import SignedLedger, private_key
from tests.desk.small_ledger import COOPERATIVE, CUSTOMERS, TERMS

DAY = "2026-01-02"
SOURCE = enclosed()[VERIFIER].decode()

# RFC 8032, section 7.1: public key, signature and message of TEST 1, 2, 3 and SHA(abc).
_RFC_8032 = """
    d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a
    e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e06522490155
    5fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b

    3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c
    92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da
    085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00
    72

    fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025
    6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac
    18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a
    af82

    ec172b93ad5e563bf4932c70e1245034c35467ef2efd4d64ebf819683467e2bf
    dc2a4459e7369633a52b1bf277839a00201009a3efbf3ecb69bea2186c26b589
    09351fc9ac90b3ecfdfbc7c66431e0303dca179c138ac17ad9bef1177331a704
    ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a
    2192992a274fc1a836ba3c23a3feebbd454d4423643ce80e2a9ac94fa54ca49f
"""
RFC_8032 = [
    (raw[:32], raw[96:], raw[32:96])
    for raw in map(bytes.fromhex, _RFC_8032.split("\n\n"))
]


def test_it_is_one_file_that_fits_in_an_evening() -> None:
    assert SOURCE.count("\n") < 600


def test_what_stays_is_what_the_books_let_nobody_correct() -> None:
    assert {*verify_pack.STAYS, "correction"} == UNCORRECTABLE
    page = enclosed()[PAGE].decode()
    [stays] = re.findall(r"(?s)const STAYS = \[(.*?)\]", page)
    assert set(re.findall(r'"([a-z.]+)"', stays)) == set(verify_pack.STAYS)


def test_it_imports_the_standard_library_alone() -> None:
    imported = {
        name.split(".")[0]
        for node in ast.walk(ast.parse(SOURCE, feature_version=(3, 10)))
        for name in (
            [alias.name for alias in node.names]
            if isinstance(node, ast.Import)
            else [node.module or ""]
            if isinstance(node, ast.ImportFrom)
            else []
        )
    }

    assert imported <= sys.stdlib_module_names


@pytest.mark.parametrize("place", range(4), ids=("1", "2", "3", "SHA(abc)"))
def test_signatures_are_those_of_rfc_8032(place: int) -> None:
    """RFC 8032, section 7.1; the file works Ed25519 out by itself."""
    key, text, signed = RFC_8032[place]

    assert verify_pack.ed25519_holds(key, signed, text)
    for index in range(0, 64, 7):
        other = signed[:index] + bytes([signed[index] ^ 1]) + signed[index + 1 :]
        assert not verify_pack.ed25519_holds(key, other, text)
    assert not verify_pack.ed25519_holds(key, signed, text + b"\0")
    assert not verify_pack.ed25519_holds(key, signed[:-1], text)


def test_a_signature_that_was_turned_over_is_refused() -> None:
    """RFC 8032, 5.1.7: s must be below the order of the group, so each has one form."""
    key, text, signed = RFC_8032[1]
    again = int.from_bytes(signed[32:], "little") + verify_pack.ORDER

    assert not verify_pack.ed25519_holds(
        key, signed[:32] + again.to_bytes(32, "little"), text
    )


def by_library(public: bytes, signature: bytes, text: bytes) -> bool:
    """Verify with the library cryptography, a second opinion."""
    try:
        Ed25519PublicKey.from_public_bytes(public).verify(signature, text)
    except (InvalidSignature, ValueError):
        return False
    return True


@settings(max_examples=30, deadline=None)
@given(
    seed=st.binary(min_size=32, max_size=32),
    text=st.binary(max_size=80),
    place=st.none() | st.integers(0, 96 * 8 - 1),
)
def test_signatures_hold_where_the_library_says_so(
    seed: bytes, text: bytes, place: int | None
) -> None:
    """Whole, or with one bit of key or signature flipped."""
    private = Ed25519PrivateKey.from_private_bytes(seed)
    given = bytearray(private.public_key().public_bytes_raw() + private.sign(text))
    if place is not None:
        given[place // 8] ^= 1 << place % 8
    key, signature = bytes(given[:32]), bytes(given[32:])

    assert verify_pack.ed25519_holds(key, signature, text) == (place is None)
    assert by_library(key, signature, text) == (place is None)


def small_points() -> dict[bytes, tuple[int, int]]:
    """Return the points of small order by their bytes: any point, the order times."""
    found: dict[bytes, tuple[int, int]] = {}
    for number in count():
        try:
            start = verify_pack._point(sha256(b"%d" % number).digest())
        except verify_pack.Refused:
            continue
        x, y = point = verify_pack._times(verify_pack.ORDER, start)
        found[(y | (x & 1) << 255).to_bytes(32, "little")] = point
        if len(found) == 8:
            return found
    raise LookupError


def test_at_the_edges_of_the_curve_it_decides_as_the_library_does() -> None:
    """Every point of small order as key and in the signature, with s at its borders."""
    points, held = small_points(), 0
    for key, first, scalar in product(points, points, (0, 1, verify_pack.ORDER)):
        signature = first + scalar.to_bytes(32, "little")
        ours = verify_pack.ed25519_holds(key, signature, b"text")
        assert ours == by_library(key, signature, b"text")
        held += ours
    assert held


@pytest.mark.parametrize("beyond", [False, True], ids=["plain", "beyond the field"])
def test_a_key_of_small_order_is_refused(*, beyond: bool) -> None:
    """Chalkias, Garillot, Nikolaenko, "Taming the many EdDSAs", 2020, section 4.

    Under the neutral point one signature holds for every text, as the library shows.
    """
    neutral = (1).to_bytes(32, "little")
    one_for_all = neutral + bytes(32)
    assert by_library(neutral, one_for_all, b"one text")
    assert by_library(neutral, one_for_all, b"another")

    for raw, (_, y) in small_points().items():
        number = int.from_bytes(raw, "little")
        if beyond and (y + verify_pack.P) >> 255:
            continue
        public = (number + beyond * verify_pack.P).to_bytes(32, "little")
        with pytest.raises(InputError, match="weak"):
            Key("maker", Algorithm.NOTE, public)
        named = sha256(b"maker\n\1" + public).hexdigest()[:8]
        line = f"maker+{named}+{encode(bytes([Algorithm.NOTE]) + public)}"
        with pytest.raises(verify_pack.Refused):
            verify_pack.signed_by("text\n\n", line)


@pytest.fixture(scope="module")
def signed(tmp_path_factory: pytest.TempPathFactory) -> SignedLedger:
    ledger = SignedLedger(tmp_path_factory.mktemp("signed")).open([COOPERATIVE])
    ledger.sign()
    ledger.record([TERMS, CUSTOMERS[0]])
    ledger.sign()
    ledger.pack()
    return ledger


def checked(pack: Path, key: str | None = None, last: str | None = None) -> set[str]:
    found = verify_pack.Check(verify_pack.Pack(pack), key, last)
    return {part for part, problems in found.bad.items() if problems}


def test_the_key_from_the_makers_hand_is_not_that_of_the_pack(
    signed: SignedLedger,
) -> None:
    public = private_key("a thief").public_key().public_bytes_raw()
    other = Key(signed.key.name, Algorithm.NOTE, public)
    pack = signed.folder / "pack"

    assert checked(pack, str(signed.key)) == set()
    assert checked(pack, str(other)) == {"key pinned on enrolment"}


def test_a_checkpoint_kept_from_another_history_is_told(signed: SignedLedger) -> None:
    pack = signed.folder / "pack"
    own = (pack / "data/checkpoints/2.note").read_text()
    lines = own.split("\n")
    other = "\n".join([lines[0], "2", "A" * 43 + "=", *lines[3:]])

    assert checked(pack, None, own) == set()
    assert checked(pack, None, other) == {"tree head kept from before"}
    assert checked(pack, None, own.replace("\n2\n", "\n900\n")) == {
        "tree head kept from before"
    }


def test_a_note_signed_by_a_stranger_under_the_same_name_does_not_hold(
    signed: SignedLedger, tmp_path: Path
) -> None:
    pack = Path(shutil.copytree(signed.folder / "pack", tmp_path / "pack"))
    private = private_key("a thief")
    name = "data/checkpoints/2.note"
    text = (pack / name).read_text().partition("\n\n")[0] + "\n"
    public = private.public_key().public_bytes_raw()
    key = Key(signed.key.name, Algorithm.NOTE, public)
    (pack / name).write_text(str(Note(text, (sign(text, key, private),))))
    bag_again(pack)

    assert checked(pack) == {"signed checkpoints"}


def run(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], *words: object
) -> tuple[int, str, str]:
    monkeypatch.setattr(sys, "argv", ["verify.py", *map(str, words)])
    status = verify_pack.main()
    out, err = capsys.readouterr()
    return status, out, err


def test_it_prints_three_lists_and_ends_with_a_status(
    pack: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    status, out, _ = run(monkeypatch, capsys, pack)
    assert status == 0
    assert [out.count(f"\n{heading}\n") for heading in HEADINGS] == [1, 1, 1]

    edited(pack, "data/figures/stock.csv", lambda raw: raw.replace(b"330", b"331"))
    bag_again(pack)
    status, out, _ = run(monkeypatch, capsys, pack)
    assert status == 3
    assert "stock                       DOES NOT HOLD" in out
    assert "L-2, liquor, works, 331.000: only claimed" in out


HEADINGS = ("Proved", "Claimed by the maker", "Not checked")


def test_a_newer_format_is_refused_in_plain_words(
    pack: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    edited(pack, "bag-info.txt", lambda raw: raw.replace(b"Version: 1", b"Version: 2"))
    bag_again(pack)

    status, out, err = run(monkeypatch, capsys, pack)

    assert (status, out) == (2, "")
    assert "the pack is in format 2, this file reads up to 1" in err


def test_what_is_no_pack_is_said_in_a_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "not.zip").write_bytes(b"not a zip")

    for name, expected in (("not.zip", 3), ("nowhere.zip", 2)):
        status, _, err = run(monkeypatch, capsys, tmp_path / name)
        assert (status, err.count("\n")) == (expected, 1)
        assert err.startswith("the pack cannot be read: ")


def test_options_that_are_beyond_it_are_left_out_and_named(
    pack: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Terms with an option that it does not read; chain and bag are made to fit."""
    from tests.audit.forging import chain_again, entries_of

    entries = entries_of(pack)
    terms = next(e for e in entries if e["kind"] == "terms.published")
    terms["body"]["account"]["within_day"] = "receipts first"
    chain_again(pack, entries)

    _, out, _ = run(monkeypatch, capsys, pack)

    assert "balances                    holds" in out
    assert "Not recomputed here: scheme river: its terms say within_day." in out
    assert "Not recomputed here: dues of contract C-1: scheme river" in out


@settings(
    max_examples=80,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(data=st.data())
def test_whatever_is_changed_ends_in_a_verdict(data: st.DataObject, pack: Path) -> None:
    """Any byte of any file, with digests that fit: never a crash, never a silent pass."""
    names = [name for name in files_of(pack) if name.startswith("data/")]
    name = data.draw(st.sampled_from(names))
    whole = (pack / name).read_bytes()
    place = data.draw(st.integers(0, len(whole)))
    inserted = data.draw(st.binary(max_size=3))
    cut = data.draw(st.integers(0, 3))
    (pack / name).write_bytes(whole[:place] + inserted + whole[place + cut :])
    changed = (pack / name).read_bytes() != whole
    try:
        unlisted = checked(pack)
        bag_again(pack)
        checked(pack)
    except (verify_pack.Refused, verify_pack.Beyond):
        unlisted = {"files and digests"}
    finally:
        (pack / name).write_bytes(whole)
        bag_again(pack)

    assert ("files and digests" in unlisted) == changed


def test_deep_nesting_in_a_sealed_value_is_no_trap(pack: Path) -> None:
    shown = pack / "data/disclosures.jsonl"
    deep = {"seq": 1, "text": "W1s" * 2000}
    shown.write_text(json.dumps(deep, separators=(",", ":")) + "\n")
    bag_again(pack)

    assert "sealed values" in checked(pack)


def test_every_pack_encloses_the_same_verifiers(small_pack: Path) -> None:
    for name in VERIFIERS:
        assert (small_pack / name).read_bytes() == enclosed()[name]


def test_a_tank_that_was_never_emptied_is_followed_to_its_beginning() -> None:
    """One lot rests on the other, further back than Python calls itself."""
    fills = 3 * sys.getrecursionlimit()
    bought = {"lot": "L", "net_landed_kg": "1.000"}
    opened = {"organisation_name": "m", "sites": [{"site": "works"}]}
    entries = [
        verify_pack.Entry(0, "ledger.opened", DAY, DAY, opened),
        verify_pack.Entry(1, "shipment.received", DAY, DAY, {"lots": [bought]}),
    ]
    lot = "L"
    for seq in range(2, fills):
        body = {
            "inputs": [{"lot": lot, "mass_kg": "1.000"}],
            "outputs": [{"lot": (lot := f"T-{seq}"), "mass_kg": "1.000"}],
        }
        entries.append(verify_pack.Entry(seq, "batch.made", DAY, DAY, body))

    assert verify_pack.Books(entries, []).mix(lot) == {"L": 1}


@pytest.mark.parametrize("raw", [b"", b"PK\5\6", b"PK\3\4" * 30, bytes(500)])
def test_what_is_no_zip_is_said_in_a_sentence(
    raw: bytes,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    (tmp_path / "pack.zip").write_bytes(raw)

    status, _, told = run(monkeypatch, capsys, tmp_path / "pack.zip")
    assert status == 3
    assert told.startswith("the pack cannot be read: this is no zip")


def test_a_zip_that_asks_for_a_newer_reader_is_refused(
    small_zip: Path, tmp_path: Path
) -> None:
    raw = bytearray(small_zip.read_bytes())
    raw[raw.index(b"PK\1\2") + 6] = 255
    (tmp_path / "pack.zip").write_bytes(raw)

    with pytest.raises(verify_pack.Refused, match="no zip"):
        verify_pack.Pack(tmp_path / "pack.zip")


def test_what_is_no_checkpoint_is_not_taken_for_one(
    signed: SignedLedger,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
) -> None:
    (tmp_path / "last.note").write_bytes(b"\xff\nnothing\n")
    words = (signed.folder / "pack", "--last", tmp_path / "last.note")

    status, _, told = run(monkeypatch, capsys, *words)
    assert status == 3
    assert "what you gave as the last checkpoint is none" in told
