"""The program and the two verifiers that packs enclose agree, on good and spoiled packs.

They share no code. What a verifier leaves out it says; on all else it finds the same
parts of the check wrong.
"""

import base64
import functools
import shutil
import zipfile
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page

from ledger.audit import verify_pack
from ledger.audit.check import check_pack
from ledger.audit.enclosed import enclosed
from ledger.audit.layout import PAGE, TreeHead
from ledger.chain.checkpoint import SignedCheckpoint
from ledger.errors import LedgerError
from tests.audit.browser import chromium
from tests.audit.corpus import Spoil, spoils
from tests.audit.forging import files_of
from tests.desk.signed_ledger import SignedLedger
from tests.desk.small_ledger import SMALL

UNREAD = frozenset({"cannot be read"})
RULES = "rules of the books"
FIGURES = frozenset({"balances", "stock", "dues", "sampled sales"})
ONLY_PROGRAM = frozenset({"proofs between checkpoints", "timestamps"})
"""Parts that the program alone checks; the verifiers say so."""


@dataclass(frozen=True)
class Read:
    """What the program found in one pack, and the pack itself.

    Attributes:
        spoil: What was done to it.
        folder: Where it lies.
        failing: Parts that do not hold.
    """

    spoil: Spoil
    folder: Path
    failing: frozenset[str]


@dataclass(frozen=True)
class Corpus:
    """All packs, and the checkpoint that a reader kept."""

    whole: Path
    reads: tuple[Read, ...]
    kept: SignedCheckpoint


@pytest.fixture(scope="module")
def corpus(tmp_path_factory: pytest.TempPathFactory) -> Corpus:
    folder = tmp_path_factory.mktemp("corpus")
    ledger = SignedLedger(folder / "ledger").open(SMALL[1:4])
    ledger.sign()
    ledger.record(SMALL[4:8])
    kept = ledger.sign()
    # The last step of the small ledger corrects an entry by its number there.
    kind, day, body = SMALL[-1]
    ledger.record([*SMALL[8:-1], (kind, day, {**body, "target": 19})])
    whole = ledger.pack()
    reads = tuple(
        _read(folder / str(place), whole, spoil, kept)
        for place, spoil in enumerate(spoils(whole))
    )
    return Corpus(whole, reads, kept)


def _read(folder: Path, whole: Path, spoil: Spoil, kept: SignedCheckpoint) -> Read:
    pack = Path(shutil.copytree(whole, folder))
    spoil.do(pack)
    head = TreeHead(kept.size, kept.checkpoint.root) if spoil.kept else None
    return Read(spoil, pack, _by_program(pack, head))


def _by_program(pack: Path, kept: TreeHead | None = None) -> frozenset[str]:
    try:
        verdict = check_pack(pack, kept=kept)
    except LedgerError:
        return UNREAD
    return frozenset(part.name for part in verdict.checked if not part.holds)


def _compared(failing: frozenset[str], left_out: frozenset[str]) -> frozenset[str]:
    """Return the parts that fail, of those that both sides are to agree on.

    Figures that rest on entries which were refused are not compared: the program adds up
    what is left without them, and says so.
    """
    resting = FIGURES if RULES in failing else frozenset()
    return failing - resting - ONLY_PROGRAM - left_out


def test_the_corpus_is_large_and_every_part_fails_somewhere(corpus: Corpus) -> None:
    failing = Counter(part for read in corpus.reads for part in read.failing)

    assert len(corpus.reads) >= 200
    assert sum(not read.failing for read in corpus.reads) >= 5
    assert set(verify_pack.PARTS) - set(failing) == {"key pinned on enrolment"}


# --- The file of Python --------------------------------------------------------------


@pytest.fixture(scope="module", autouse=True)
def _each_signature_is_worked_out_once() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        worked_out = functools.cache(verify_pack.ed25519_holds)
        patch.setattr(verify_pack, "ed25519_holds", worked_out)
        yield


def test_the_file_of_python_agrees_with_the_program(corpus: Corpus) -> None:
    differ = {}
    for read in corpus.reads:
        found, left_out = _by_file(read, str(corpus.kept.note))
        theirs, ours = _compared(found, left_out), _compared(read.failing, left_out)
        if read.spoil.beyond_file:
            # It never finds wrong what holds, and says which rules it leaves out.
            ours = ours - {RULES}
            theirs = theirs - FIGURES
            assert RULES in read.failing
        if theirs != ours:
            differ[read.spoil.name] = (sorted(ours), sorted(theirs))

    assert differ == {}


def _by_file(read: Read, note: str) -> tuple[frozenset[str], frozenset[str]]:
    """Return which parts fail, and which were left out."""
    try:
        pack = verify_pack.Pack(read.folder)
        found = verify_pack.Check(pack, None, note if read.spoil.kept else None)
    except (verify_pack.Refused, verify_pack.Beyond):
        return UNREAD, frozenset()
    left_out = frozenset({"dues"} if found.left else ())
    if "all" in found.left:
        left_out = FIGURES | {RULES}
    return frozenset(p for p, problems in found.bad.items() if problems), left_out


# --- The page ------------------------------------------------------------------------


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    """The page as it lies in a pack, opened from its file; it fetches nothing."""
    file = tmp_path_factory.mktemp("page") / PAGE
    file.write_bytes(enclosed()[PAGE])
    with chromium() as browser:
        opened = browser.new_page()
        asked: list[str] = []
        opened.on("request", lambda request: asked.append(request.url))
        opened.goto(file.as_uri())
        yield opened

        assert [url for url in asked if not url.startswith("blob:")] == [file.as_uri()]


@dataclass(frozen=True)
class Pages:
    """The page with a whole pack laid ready, so that only what was changed is sent."""

    page: Page
    whole: Mapping[str, bytes]

    def check(self, own: Mapping[str, bytes], last: str) -> dict[str, Any]:
        """Return what the page finds in a pack."""
        changes = {
            name: _base64(own[name]) if name in own else None
            for name in {*own, *self.whole}
            if own.get(name) != self.whole.get(name)
        }
        found: dict[str, Any] = self.page.evaluate(_CHECK, [changes, last])
        return found


_CHECK = """async ([changes, last]) => {
  const files = {};
  for (const [name, text] of Object.entries({ ...window.whole, ...changes }))
    if (text !== null)
      files[name] = new Blob([Uint8Array.from(atob(text), (one) => one.charCodeAt(0))]);
  return look.check(files, { last });
}"""


@pytest.fixture(scope="module")
def pages(page: Page, corpus: Corpus) -> Pages:
    whole = _contents(corpus.whole)
    laid = {name: _base64(raw) for name, raw in whole.items()}
    page.evaluate("(given) => { window.whole = given; }", laid)
    return Pages(page, whole)


def _contents(folder: Path) -> dict[str, bytes]:
    return {name: (folder / name).read_bytes() for name in files_of(folder)}


def _base64(raw: bytes) -> str:
    return base64.b64encode(raw).decode()


def test_the_page_agrees_with_the_program(corpus: Corpus, pages: Pages) -> None:
    differ = {}
    for read in corpus.reads:
        note = str(corpus.kept.note) if read.spoil.kept else ""
        found = pages.check(_contents(read.folder), note)
        left_out = frozenset(found["leftOut"]) & (FIGURES | {RULES})
        theirs = _compared(frozenset(found["failing"]), left_out)
        ours = _compared(read.failing, left_out)
        assert found["holds"] == (not found["failing"])
        if theirs != ours:
            differ[read.spoil.name] = (sorted(ours), sorted(theirs))

    assert differ == {}


def test_the_page_finds_every_change_of_a_zip(
    small_zip: Path, page: Page, tmp_path: Path
) -> None:
    """PKWARE APPNOTE.TXT 6.3.10: what is around the files is written again."""
    differ = {}
    for name, raw in _zips(small_zip, tmp_path / "again.zip"):
        (tmp_path / "pack.zip").write_bytes(raw)
        found = page.evaluate(_CHECK_ZIP, _base64(raw))
        ours = _by_program(tmp_path / "pack.zip")
        if frozenset(found["failing"]) != ours:
            differ[name] = (sorted(ours), found["failing"])

    assert differ == {}


_CHECK_ZIP = """(text) =>
  look.check(new Blob([Uint8Array.from(atob(text), (one) => one.charCodeAt(0))]))"""


def _zips(whole: Path, again: Path) -> Iterator[tuple[str, bytes]]:
    raw = whole.read_bytes()
    yield "nothing", raw
    end = len(raw) - 22
    central = int.from_bytes(raw[end + 16 : end + 20], "little")
    first = raw.index(b"entries.jsonl")
    places: dict[str, int] = {
        "time of the first": 10,
        "version of the first": 4,
        "name of the first": 31,
        "checksum of the first": 14,
        "content of the record": first + 40,
        "list of members": central + 12,
        "checksum in the list": central + 16,
        "attributes in the list": central + 40,
        "method in the list": central + 10,
        "comment of the end": end + 20,
        "number of the disk": end + 4,
    }
    for name, place in places.items():
        yield name, raw[:place] + bytes([raw[place] ^ 1]) + raw[place + 1 :]
    yield "one byte more", raw + b"\0"
    yield "one byte less", raw[:-1]
    yield "something before it", b"\0" + raw
    yield "half of it", raw[: len(raw) // 2]
    with zipfile.ZipFile(whole) as old, zipfile.ZipFile(again, "w") as new:
        for member in old.infolist():
            new.writestr(member.filename, old.read(member))
    yield "packed anew", again.read_bytes()
    with (
        zipfile.ZipFile(whole) as old,
        zipfile.ZipFile(again, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for member in old.infolist():
            new.writestr(member.filename, old.read(member))
    yield "compressed", again.read_bytes()
