"""What must hold for any bytes: no crash, no false pass, and two readers that agree.

Each target makes its choices from the bytes it is given.
"""

import os
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any, Final

from ledger.audit import verify_pack
from ledger.audit.check import check_pack
from ledger.audit.enclosed import enclosed
from ledger.audit.scope import parse_scope, parse_tree_head
from ledger.audit.verdict import Verdict
from ledger.chain.canonical import canonical_bytes, parse_canonical
from ledger.chain.checkpoint import parse_checkpoint, parse_signed
from ledger.chain.entry import entry_bytes, parse_entry
from ledger.chain.extension import parse_extension
from ledger.chain.note import parse_key, parse_note
from ledger.chain.receipt import parse_receipt
from ledger.chain.seal import parse_disclosure
from ledger.errors import LedgerError
from tests.audit.forging import bag_again, files_of
from tests.audit.two_schemes import RIVER, TWO_SCHEMES, part_of
from tests.desk.small_ledger import fill
from tests.fuzz.choices import Choices
from tests.fuzz.mutations import CHANGES, spoil
from tests.vectors import packs
from tests.vectors.record import LEAVES, RECORD
from tests.vectors.signing import MAKER, checkpoint_of, extensions, receipts

RULES = "rules of the books"
FIGURES = frozenset({"balances", "stock", "dues", "sampled sales"})
ONLY_PROGRAM = frozenset({"proofs between checkpoints", "timestamps", RULES})
"""Parts of the check that the file of Python leaves out, or does not look at in full."""

_MEMORY: Final = Path("/dev/shm")  # noqa: S108 - a disk in memory, where there is one


@contextmanager
def scratch() -> Iterator[Path]:
    """Make a folder in memory, and remove it again."""
    place = _MEMORY if os.access(_MEMORY, os.W_OK) else None
    with tempfile.TemporaryDirectory(prefix="fuzz-", dir=place) as folder:
        yield Path(folder)


# --- Packs as folders ----------------------------------------------------------------


@cache
def wholes() -> tuple[dict[str, bytes], ...]:
    """Return the files of a signed pack, and of a part of a ledger."""
    with scratch() as folder:
        fill(folder / "ledger.db", TWO_SCHEMES)
        part_of(folder / "ledger.db", folder / "part", RIVER)
        for name in enclosed():
            (folder / "part" / name).write_text(f"{name}\n")
        bag_again(folder / "part")
        part = {
            name: (folder / "part" / name).read_bytes()
            for name in files_of(folder / "part")
        }
    return packs.whole(), part


def folder(raw: bytes) -> None:
    """A pack that something was done to, as a folder."""
    choose = Choices(raw)
    whole = choose.one_of(wholes())
    with scratch() as place:
        pack = place / "pack"
        for name, content in whole.items():
            (pack / name).parent.mkdir(parents=True, exist_ok=True)
            (pack / name).write_bytes(content)
        spoil(pack, choose)
        verdict = _verdict(pack)
        _compare(pack, verdict)
        if verdict is not None and verdict.holds:
            _assert_nothing_that_counts_changed(pack, whole)


def _verdict(pack: Path) -> Verdict | None:
    try:
        verdict = check_pack(pack)
    except LedgerError:
        return None
    assert verdict.holds == (not verdict.problems)
    assert verdict.holds or verdict.problems[0].sentence
    return verdict


def _compare(pack: Path, verdict: Verdict | None) -> None:
    """Hold the program against the file of Python, which shares no code with it."""
    try:
        found = verify_pack.Check(verify_pack.Pack(pack), None, None)
        failing = {part for part, problems in found.bad.items() if problems}
        left = frozenset(found.left)
    except (OSError, verify_pack.Beyond, verify_pack.Refused):
        failing, left = {"cannot be read"}, frozenset()
    if verdict is None:
        return
    ours = {part.name for part in verdict.checked if not part.holds}
    if verdict.holds:
        assert not failing, f"only the file of Python finds {failing} wrong"
    certain = ours - ONLY_PROGRAM - (FIGURES if left or RULES in ours else frozenset())
    assert failing or not certain, f"only the program finds {certain} wrong"


# What a maker may say as it likes: the text, the verifiers, and who made the pack.
_FREE: Final = {
    *enclosed(),
    "manifest-sha256.txt",
    "tagmanifest-sha256.txt",
    "bag-info.txt",
}
_CLAIMED: Final = ("data/reports/", "data/figures/scope.json", "data/disclosures.jsonl")


def _assert_nothing_that_counts_changed(pack: Path, whole: dict[str, bytes]) -> None:
    """Check that a pack that holds is the one it was, but for what is only claimed.

    A forger who makes every digest fit may rewrite the record too: then another tree
    head stands for it, which the reader compares with the one kept.
    """
    found = {name: (pack / name).read_bytes() for name in files_of(pack)}
    if found.get("data/tree-head.json") != whole["data/tree-head.json"]:
        return
    for name in {*found, *whole} - _FREE:
        if not name.startswith(_CLAIMED):
            assert found.get(name) == whole.get(name), f"{name} changed unseen"


# --- Packs as zips -------------------------------------------------------------------


def zipped(raw: bytes) -> None:
    """A pack that something was done to, as a zip."""
    choose = Choices(raw)
    whole = packs.zipped()
    changed = whole
    for _ in range(1 + choose.number(3)):
        changed = _around(choose)(changed, choose)
    with scratch() as place:
        pack = place / "pack.zip"
        pack.write_bytes(changed)
        verdict = _verdict(pack)
        if changed != whole:
            assert verdict is None or not verdict.holds, "a changed zip passes"
        try:
            verify_pack.Check(verify_pack.Pack(pack), None, None)
        except (OSError, verify_pack.Beyond, verify_pack.Refused, zipfile.BadZipFile):
            return


def _around(choose: Choices) -> Callable[[bytes, Choices], bytes]:
    """Return a change, more often than not of what is around the files."""
    return choose.one_of((*CHANGES[:4], _in_list, _in_list, _in_list, _in_header))


def _in_list(raw: bytes, choose: Choices) -> bytes:
    """Change bytes of the list of members at the end, or of what ends the zip."""
    begin = max(raw.find(b"PK\1\2"), 0)
    return _over(raw, begin + choose.number(len(raw) - begin + 1), choose)


def _in_header(raw: bytes, choose: Choices) -> bytes:
    """Change bytes of what stands before a file."""
    begins = [place for place in range(len(raw)) if raw.startswith(b"PK\3\4", place)]
    return _over(raw, choose.one_of(begins or [0]) + choose.number(60), choose)


def _over(raw: bytes, place: int, choose: Choices) -> bytes:
    comes = choose.one_of(
        (b"\0", b"\1", b"\x08", b"\xff" * 2, b"\xff" * 4, b"\0" * 4, b"../")
    )
    return raw[:place] + comes + raw[place + len(comes) :]


# --- Texts ---------------------------------------------------------------------------


@cache
def seeds() -> tuple[bytes, ...]:
    """Return texts of every sort that is read."""
    whole = packs.whole()
    return (
        *(whole[name] for name in sorted(whole) if not name.endswith(".csv")),
        *(case["text"].encode() for case in (*extensions(), *receipts())),
        str(checkpoint_of(5).note).encode(),
        str(MAKER).encode(),
        *RECORD,
        *LEAVES,
    )


def text(raw: bytes) -> None:
    """A text of any sort: read by every reader, and written as it was read."""
    choose = Choices(raw)
    content = choose.one_of(seeds())
    for _ in range(choose.number(4)):
        content = choose.one_of(CHANGES)(content, choose)
    for read, write in _READERS:
        try:
            found = read(content)
        except LedgerError:
            continue
        assert write(found) == content, f"{read.__name__} reads two texts as one"
    _read_canonical_twice(content)


def _read_canonical_twice(content: bytes) -> None:
    try:
        mine: object = parse_canonical(content)
    except LedgerError:
        mine = None
    try:
        theirs: object = verify_pack.canonical(content)
    except (ValueError, RecursionError):
        theirs = None
    assert mine == theirs, "the two readers of canonical JSON differ"


def _of_text(read: Callable[[str], object]) -> Callable[[bytes], object]:
    def reader(content: bytes) -> object:
        return read(content.decode("utf-8", "surrogateescape"))

    reader.__name__ = read.__name__
    return reader


def _as_text(found: object) -> bytes:
    return str(found).encode("utf-8", "surrogateescape")


def _unwritten(read: Callable[[bytes], object]) -> Callable[[bytes], bytes]:
    """Make a reader whose result has no text of its own: only that it ends counts."""

    def reader(content: bytes) -> bytes:
        read(content)
        return content

    reader.__name__ = read.__name__
    return reader


_READERS: tuple[tuple[Callable[[bytes], Any], Callable[[Any], bytes]], ...] = (
    (_of_text(parse_note), _as_text),
    (_of_text(parse_checkpoint), _as_text),
    (_of_text(parse_extension), _as_text),
    (_of_text(parse_receipt), _as_text),
    (parse_canonical, canonical_bytes),
    (parse_entry, entry_bytes),
    (_unwritten(_of_text(parse_key)), bytes),
    (_unwritten(_of_text(parse_signed)), bytes),
    (_unwritten(_of_text(parse_disclosure)), bytes),
    (_unwritten(parse_scope), bytes),
    (_unwritten(parse_tree_head), bytes),
)

TARGETS: Final = (folder, folder, zipped, text)


def one_input(raw: bytes) -> None:
    """Try what some bytes choose."""
    TARGETS[raw[0] % len(TARGETS) if raw else 0](raw[1:])
