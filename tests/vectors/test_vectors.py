"""The examples in docs/reference/vectors/ are current, and a stranger can work by them.

The second half reads them with the standard library and other people's libraries alone,
from what docs/reference/pack.md says.
"""

import base64
import json
import zipfile
from collections.abc import Sequence
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
import rfc8785
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import (
    Ed25519PrivateKey,
    Ed25519PublicKey,
)

from ledger.audit import verify_pack
from tests.vectors.__main__ import FOLDER, written

Vector = dict[str, Any]


def test_the_examples_are_those_that_the_program_gives() -> None:
    """If this fails after a change that was meant, run `make vectors`."""
    there = {path.name: path.read_text("utf-8") for path in FOLDER.iterdir()}
    given = written()

    assert there.keys() == given.keys()
    for name, text in given.items():
        # As values first: a difference in a long text is hard to read.
        assert json.loads(there[name]) == json.loads(text), name
        assert there[name] == text, name


def read(name: str) -> Vector:
    found: Vector = json.loads((FOLDER / f"{name}.json").read_text("utf-8"))
    assert found["pack_format"] == 1
    return found


# --- A stranger's reading ------------------------------------------------------------


@pytest.mark.parametrize(
    "case", read("canonical-json")["cases"], ids=lambda case: case["name"]
)
def test_canonical_json_is_that_of_rfc_8785(case: Vector) -> None:
    """RFC 8785, by the library rfc8785; the profile is narrower in three ways."""
    raw = bytes.fromhex(case["hex"])
    narrower = case["name"] in {
        "thirty-three levels",
        "a name beyond ASCII",
        "a fraction",
    }

    try:
        again = rfc8785.dumps(json.loads(raw))
    except (ValueError, rfc8785.CanonicalizationError):
        again = b""
    assert (again == raw != b"") == (case["holds"] or narrower)


def test_entries_form_a_chain() -> None:
    prev = "0" * 64
    for seq, one in enumerate(read("entries")["record"]):
        raw = one["line"].encode()
        entry = json.loads(raw)
        assert (entry["seq"], entry["prev"]) == (seq, prev)
        assert sha256(b"\0" + raw).hexdigest() == one["digest"]
        prev = one["digest"]


def root_of(leaves: Sequence[bytes]) -> bytes:
    """Return the root as RFC 9162, 2.1.1 defines it, word for word."""
    if len(leaves) == 1:
        return leaves[0]
    split = 1
    while split * 2 < len(leaves):
        split *= 2
    return sha256(b"\1" + root_of(leaves[:split]) + root_of(leaves[split:])).digest()


def path_of(index: int, leaves: Sequence[bytes]) -> list[bytes]:
    """Return an inclusion proof as RFC 9162, 2.1.3.1 defines it."""
    if len(leaves) == 1:
        return []
    split = 1
    while split * 2 < len(leaves):
        split *= 2
    low, high = leaves[:split], leaves[split:]
    if index < split:
        return [*path_of(index, low), root_of(high)]
    return [*path_of(index - split, high), root_of(low)]


def proof_of(
    old: int, leaves: Sequence[bytes], *, is_whole: bool = True
) -> list[bytes]:
    """Return a consistency proof as RFC 9162, 2.1.4.1 defines it."""
    if old == len(leaves):
        return [] if is_whole else [root_of(leaves)]
    split = 1
    while split * 2 < len(leaves):
        split *= 2
    low, high = leaves[:split], leaves[split:]
    if old <= split:
        return [*proof_of(old, low, is_whole=is_whole), root_of(high)]
    return [*proof_of(old - split, high, is_whole=False), root_of(low)]


def test_roots_and_proofs_are_those_of_rfc_9162() -> None:
    record = read("entries")["record"]
    leaves = [bytes.fromhex(one["digest"]) for one in record]
    for size, one in enumerate(record, start=1):
        assert root_of(leaves[:size]).hex() == one["root"]
    tree = read("tree")
    for one in tree["inclusion"]:
        found = path_of(one["index"], leaves[: one["size"]])
        assert [digest.hex() for digest in found] == one["path"]
    for one in tree["consistency"]:
        found = proof_of(one["old"], leaves[: one["size"]])
        assert [digest.hex() for digest in found] == one["path"]
    assert len(tree["consistency"]) == len(leaves) * (len(leaves) + 1) / 2


def test_every_digest_of_a_disclosure_is_that_of_its_text() -> None:
    """RFC 9901, 4.2.3."""
    for case in read("sealed-values")["cases"]:
        if case["opened"] is None:
            continue
        opened = json.dumps(case["opened"], ensure_ascii=False)
        for text in case["disclosures"]:
            _, name, _ = json.loads(
                base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))
            )
            assert f'"{name}"' in opened
        digests = json.dumps(case["body"]) + "".join(
            base64.urlsafe_b64decode(text + "===").decode()
            for text in case["disclosures"]
        )
        for text in case["disclosures"]:
            digest = base64.urlsafe_b64encode(sha256(text.encode()).digest()).decode()
            assert digest.rstrip("=") in digests


def test_signatures_hold_under_the_keys_that_are_named() -> None:
    """RFC 8032, by the library cryptography; C2SP signed-note and tlog-cosignature."""
    signing = read("signing")
    for key in signing["keys"]:
        if key["holds"]:
            private = Ed25519PrivateKey.from_private_bytes(
                bytes.fromhex(key["private"])
            )
            assert private.public_key().public_bytes_raw().hex() == key["public"]
            name, stated, encoded = key["line"].split("+", 2)
            raw = base64.b64decode(encoded)
            assert raw == bytes([key["algorithm"]]) + bytes.fromhex(key["public"])
            assert sha256(name.encode() + b"\n" + raw).hexdigest()[:8] == stated
    for case in signing["checkpoints"]:
        if case["signed_by"] is not None:
            origin, size, root = case["note"].partition("\n\n")[0].split("\n")
            assert (int(size), base64.b64decode(root).hex()) == (
                case["size"],
                case["root"],
            )
            for one in case["signed_by"]:
                assert origin in one["key"] or one["moment"]
                assert_signed(case["note"], one["key"], one["moment"])


def assert_signed(note: str, line: str, moment: int | None) -> None:
    text, _, below = note.partition("\n\n")
    name, stated, encoded = line.split("+", 2)
    message, skipped = f"{text}\n", 4
    if moment is not None:
        message, skipped = f"cosignature/v1\ntime {moment}\n{message}", 12
    public = Ed25519PublicKey.from_public_bytes(base64.b64decode(encoded)[1:])
    of_name = [one.split(" ")[2] for one in below.splitlines() if f" {name} " in one]
    raw = [base64.b64decode(one) for one in of_name]
    [own] = [one[skipped:] for one in raw if one[:4].hex() == stated]
    public.verify(own, message.encode())
    with pytest.raises(InvalidSignature):
        public.verify(own, message.encode() + b"\n")


def laid_out(case: Vector, folder: Path) -> Path:
    """Write the pack of a case as it says."""
    files = {name: text.encode() for name, text in read("packs")["whole"].items()}
    for change in case["changes"]:
        was = files.pop(change["file"], b"")
        if not change.get("lost"):
            after = was[change["at"] + change["remove"] :]
            comes = bytes.fromhex(change["insert_hex"])
            files[change["file"]] = was[: change["at"]] + comes + after
    for name, raw in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(raw)
    return folder


@pytest.mark.parametrize("case", read("packs")["cases"], ids=lambda case: case["name"])
def test_the_file_of_python_finds_the_same_packs_wrong(
    case: Vector, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(verify_pack, "ed25519_holds", quick_holds)
    pack = verify_pack.Pack(laid_out(case, tmp_path))
    kept = read("packs")["whole"][case["kept"]] if case["kept"] else None
    if case["failing"] == ["newer format"]:
        with pytest.raises(verify_pack.Beyond, match="format 2"):
            verify_pack.Check(pack, None, kept)
        return
    found = verify_pack.Check(pack, None, kept)

    failing = {part for part, problems in found.bad.items() if problems}
    assert bool(failing) == bool(case["failing"]) or found.left
    # Of spoiled records it does not always read as far as the program does.
    assert failing <= {*case["failing"], "rules of the books", *FIGURES}


FIGURES = ("balances", "stock", "dues", "sampled sales")


def quick_holds(public: bytes, signature: bytes, message: bytes) -> bool:
    """Verify with the library; the file's own way is tested elsewhere, and takes long."""
    try:
        Ed25519PublicKey.from_public_bytes(public).verify(signature, message)
    except (InvalidSignature, ValueError):
        return False
    return True


def test_the_zip_is_one_that_the_standard_library_writes() -> None:
    """PKWARE APPNOTE.TXT 6.3.10, by Python's zipfile."""
    told = read("zips")["whole"]
    made = BytesIO()
    with zipfile.ZipFile(made, "w") as file:
        for name, text in sorted(read("packs")["whole"].items()):
            member = zipfile.ZipInfo(f"{told['folder']}/{name}")
            member.create_system, member.external_attr = 3, 0o100644 << 16
            file.writestr(member, text.encode())

    raw = made.getvalue()
    assert (len(raw), sha256(raw).hexdigest()) == (told["bytes"], told["sha256"])


def test_sales_are_drawn_by_their_tickets() -> None:
    cases = read("tickets")["cases"]

    for one in cases:
        told = f"{one['root']}:{one['entry']}".encode()
        assert sha256(told).hexdigest() == one["ticket"]
    assert [one["ticket"] for one in cases] == sorted(one["ticket"] for one in cases)
