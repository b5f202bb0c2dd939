"""Examples of packs, whole and spoiled, and which parts of the check do not hold."""

import json
import shutil
import tempfile
from collections.abc import Iterator
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Final
from zlib import crc32

from ledger.audit.check import check_pack
from ledger.audit.enclosed import enclosed
from ledger.audit.layout import TreeHead
from ledger.audit.zipped import Member, zip_parts
from ledger.chain.checkpoint import parse_signed
from ledger.errors import InputError, LedgerError
from tests.audit.corpus import spoils
from tests.audit.forging import bag_again, files_of
from tests.desk.signed_ledger import SignedLedger
from tests.desk.small_ledger import SMALL
from tests.vectors.record import Vector

KEPT: Final = "data/checkpoints/9.note"
"""The checkpoint that the reader kept, in cases which say so."""
NEWER: Final = "newer format"
UNREADABLE: Final = "cannot be read"

# Changed bytes and cells are much alike: of every part a few are enough here.
_TAKEN: Final = (
    "nothing",
    "data/entries.jsonl: byte ",
    "data/entries.jsonl: lost",
    "manifest-sha256.txt: byte 0",
    "bagit.txt: cut",
    "README.txt: of another release",
    "data/more.jsonl: added",
    "fetch.txt: added",
    "balances, row 1, cell 7",
    "balances, row 1, cell 16",
    "stock, row 1, cell 3",
    "dues, row 1, cell 10",
    "dues: last row left out",
    "sampled-sales, row 1, cell 2",
    "sampled-sales: no table",
    "scope: ",
    "tree head: ",
    "a newer format",
    "another maker in the bag",
    "a paper that nobody recorded",
    "a disclosure is left out",
    "one stands twice",
    "two in another order",
    "another salt",
    "data/checkpoints/",
    "entry 3 ",
    "less received",
    "mass out of nothing",
    "sold without the claim",
    "another premium",
    "a certificate run out",
    "a sale twice",
    "opened twice",
    "the last three taken away",
    "rewritten since the last visit",
    "the record holds a",
    "nested without end",
    "no record",
)


@cache
def whole() -> dict[str, bytes]:
    """Return the files of a small signed pack, with little in place of the verifiers."""
    with tempfile.TemporaryDirectory() as scratch:
        ledger = SignedLedger(Path(scratch) / "ledger").open(SMALL[1:4])
        ledger.sign()
        ledger.record(SMALL[4:8])
        ledger.sign()
        kind, day, body = SMALL[-1]
        ledger.record([*SMALL[8:-1], (kind, day, {**body, "target": 19})])
        pack = ledger.pack()
        for name in enclosed():
            (pack / name).write_text(f"{name} of a program may say what it likes\n")
        bag_again(pack)
        return _contents(pack)


def _contents(pack: Path) -> dict[str, bytes]:
    return {name: (pack / name).read_bytes() for name in files_of(pack)}


def packs() -> Iterator[Vector]:
    """Yield what was done to the pack, and what does not hold then."""
    with tempfile.TemporaryDirectory() as scratch:
        good = Path(scratch) / "good"
        _write(whole(), good)
        for spoil in spoils(good):
            if not spoil.name.startswith(_TAKEN):
                continue
            pack = Path(scratch) / "spoiled"
            shutil.copytree(good, pack)
            spoil.do(pack)
            failing = _failing(pack, with_kept=spoil.kept)
            yield {
                "name": spoil.name,
                "changes": _changes(_contents(pack)),
                "kept": KEPT if spoil.kept else None,
                "failing": failing,
            }
            shutil.rmtree(pack)


def _write(files: dict[str, bytes], folder: Path) -> None:
    for name, raw in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(raw)


def _changes(found: dict[str, bytes]) -> list[Vector]:
    """Return for every file that is not as in the whole pack how it came about."""
    before = whole()
    changes = []
    for name in sorted({*before, *found}):
        if name not in found:
            changes.append({"file": name, "lost": True})
        elif found[name] != before.get(name):
            changes.append(
                {"file": name, **_splice(before.get(name, b""), found[name])}
            )
    return changes


def _splice(was: bytes, now: bytes) -> Vector:
    """Return the one place where two texts differ: how much goes, and what comes."""
    least = min(len(was), len(now))
    same = next((n for n in range(least) if was[n] != now[n]), least)
    left = least - same
    tail = next((n for n in range(left) if was[-1 - n] != now[-1 - n]), left)
    comes = now[same : len(now) - tail]
    return {"at": same, "remove": len(was) - tail - same, "insert_hex": comes.hex()}


def _failing(pack: Path, *, with_kept: bool = False) -> list[str]:
    kept = parse_signed(whole()[KEPT].decode()).checkpoint
    head = TreeHead(kept.size, kept.root) if with_kept else None
    try:
        verdict = check_pack(pack, kept=head)
    except InputError as error:
        return [NEWER if "format" in str(error) else UNREADABLE]
    except LedgerError:
        return [UNREADABLE]
    return [part.name for part in verdict.checked if not part.holds]


# --- The zip -------------------------------------------------------------------------


@cache
def zipped() -> bytes:
    """Return the zip of the whole pack, in the folder `pack`."""
    files = {f"pack/{name}": raw for name, raw in sorted(whole().items())}
    members = [Member(name, len(raw), crc32(raw)) for name, raw in files.items()]
    return b"".join(
        part if isinstance(part, bytes) else files[part.name]
        for part in zip_parts(members)
    )


def zips() -> Iterator[Vector]:
    """Yield what was done to the zip, and what does not hold then."""
    raw = zipped()
    end = len(raw) - 22
    central = int.from_bytes(raw[end + 16 : end + 20], "little")
    for name, at, remove, insert in (
        ("nothing", 0, 0, b""),
        ("a byte of the record", raw.index(b'"kind"'), 1, b"'"),
        ("time of the first member", 10, 1, b"\1"),
        ("checksum of the first member", 14, 1, bytes([raw[14] ^ 1])),
        ("name of the first member", 35, 1, b"X"),
        ("the first member is said to be compressed", 8, 1, b"\10"),
        ("the list says that it is compressed", central + 10, 1, b"\10"),
        ("the list says that it is secret", central + 8, 1, b"\1"),
        ("the list says that it is a link", central + 40, 2, b"\xff\xa1"),
        ("the list says that it is larger", central + 24, 1, b"\xff"),
        ("more disks", end + 4, 1, b"\1"),
        ("a comment", end + 20, 2, b"\1\0!"),
        ("a byte behind", len(raw), 0, b"\0"),
        ("a byte before", 0, 0, b"\0"),
        ("a byte less", len(raw) - 1, 1, b""),
        ("cut in the middle", len(raw) // 2, len(raw) - len(raw) // 2, b""),
        ("a name that leads out", raw.index(b"pack/bagit.txt", central), 4, b"../."),
    ):
        changed = raw[:at] + insert + raw[at + remove :]
        with tempfile.TemporaryDirectory() as scratch:
            pack = Path(scratch) / "pack.zip"
            pack.write_bytes(changed)
            failing = _failing(pack)
        yield {
            "name": name,
            "at": at,
            "remove": remove,
            "insert_hex": insert.hex(),
            "failing": failing,
        }


def about_zip() -> Vector:
    """Return what the zip of the whole pack is."""
    raw = zipped()
    return {"folder": "pack", "bytes": len(raw), "sha256": sha256(raw).hexdigest()}


def whole_texts() -> dict[str, str]:
    """Return the files of the whole pack as texts, which all of them are."""
    return {name: raw.decode() for name, raw in whole().items()}


def as_json(value: object) -> str:
    """Return examples as they stand in their file."""
    return json.dumps(value, indent=1, ensure_ascii=False, sort_keys=True) + "\n"
