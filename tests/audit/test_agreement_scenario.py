"""The invented two years, packed, and read by the program and both verifiers."""

import csv
import json
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from playwright.sync_api import Page

from ledger.audit import verify_pack
from ledger.audit.check import check_pack
from ledger.audit.enclosed import enclosed
from ledger.audit.layout import PAGE, VERIFIER
from ledger.desk.pack import make_pack
from ledger.store.engine import open_engine
from ledger.store.migration import upgrade
from ledger.trade.profile import USUAL
from sample_shipments.generate import FOLDER
from tests.audit.browser import chromium, looked_at
from tests.audit.forging import (
    bag_again,
    chain_again,
    edited,
    entries_of,
    resealed,
)
from tests.desk.signed_ledger import SignedLedger
from tests.scenario.conftest import drafts_in

LAST = date(2026, 9, 30)
Do = Callable[[Path], object]


SEALED = "nothing, and prices are sealed"
PROFILES = {"nothing": USUAL, SEALED: USUAL.model_copy(update={"prices": "none"})}


@pytest.fixture(scope="module")
def packs(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Folders of packs of the whole scenario by what is shown, not to be changed."""
    ledger = SignedLedger(tmp_path_factory.mktemp("two-years"))
    ledger.clock = datetime(2026, 10, 5, tzinfo=UTC)
    engine = open_engine(f"sqlite:///{ledger.database}")
    upgrade(engine)
    engine.dispose()
    ledger.record([(d.kind, str(d.occurred_on), d.body) for d in drafts_in(FOLDER)])
    made = {}
    for place, (name, profile) in enumerate(PROFILES.items()):
        made[name] = ledger.folder / f"pack-{place}"
        with ledger.reading() as rows:
            make_pack(
                rows,
                out=made[name],
                as_of=LAST,
                made_at=datetime(2026, 10, 6, 8, tzinfo=UTC),
                made_by="officer",
                profile=profile,
            )
    return made


@pytest.fixture(scope="module")
def whole(packs: dict[str, Path]) -> Path:
    """The folder of a pack of the whole scenario, not to be changed."""
    return packs["nothing"]


def changed(kind: str, was: str, now: str) -> Do:
    """Change the first entry of a kind, and make chain, tree head and digests fit."""

    def do(pack: Path) -> None:
        entries = entries_of(pack)
        place = next(n for n, entry in enumerate(entries) if entry["kind"] == kind)
        text = json.dumps(entries[place])
        assert was in text
        entries[place] = json.loads(text.replace(was, now, 1))
        chain_again(pack, entries)

    return do


def paid(was: str, now: str) -> Do:
    """Change the sealed amount of the first payment, and make everything fit."""

    def do(pack: Path) -> None:
        entries = entries_of(pack)
        kind = "payment.made"
        place = next(n for n, entry in enumerate(entries) if entry["kind"] == kind)
        resealed(pack, place, was, now)

    return do


def claimed(file: str, was: str, now: str) -> Do:
    """Change a claimed figure, and make the digests fit."""

    def do(pack: Path) -> None:
        name = f"data/figures/{file}.csv"
        raw = (pack / name).read_bytes()
        assert was.encode() in raw
        edited(pack, name, lambda raw: raw.replace(was.encode(), now.encode(), 1))
        bag_again(pack)

    return do


SPOILS: dict[str, Do] = {
    "nothing": lambda _: None,
    "more left in the account": claimed("balances", "501.850", "601.850"),
    "more on hand": claimed("stock", "374.703", "384.703"),
    "less due": claimed("dues", "11300.00,11300.00", "11200.00,11200.00"),
    "another premium": claimed("dues", "400.00,400.00", "300.00,300.00"),
    "another sale drawn": claimed("sampled-sales", "SA-", "SB-"),
    "more paid": paid('"amount": "', '"amount": "1'),
    "more sold than there is": changed(
        "sale.dispatched", '"mass_kg": "', '"mass_kg": "9'
    ),
    "more lost": changed("lot.written_off", '"mass_kg": "', '"mass_kg": "1'),
}

READ = (*SPOILS, SEALED)


@pytest.fixture(scope="module")
def reads(
    packs: dict[str, Path], tmp_path_factory: pytest.TempPathFactory
) -> dict[str, tuple[Path, set[str]]]:
    """Each pack, and which parts of it the program finds wrong."""
    folder = tmp_path_factory.mktemp("spoiled")
    found = {}
    for place, name in enumerate(READ):
        whole = packs.get(name, packs["nothing"])
        pack = Path(shutil.copytree(whole, folder / str(place)))
        SPOILS.get(name, SPOILS["nothing"])(pack)
        failing = {part.name for part in check_pack(pack).checked if not part.holds}
        found[name] = (pack, failing)
    return found


def comparable(failing: set[str]) -> set[str]:
    """Leave out figures that rest on entries which were refused."""
    resting = {"balances", "stock", "dues", "sampled sales"}
    return failing - resting if "rules of the books" in failing else failing


@pytest.mark.parametrize("spoil", READ)
def test_the_file_of_python_agrees_on_the_scenario(
    spoil: str, reads: dict[str, tuple[Path, set[str]]]
) -> None:
    pack, ours = reads[spoil]
    found = verify_pack.Check(verify_pack.Pack(pack), None, None)

    theirs = {part for part, problems in found.bad.items() if problems}
    assert comparable(theirs) == comparable(ours)
    assert bool(ours) == (spoil not in PROFILES)
    assert not any(scheme in found.left for scheme in ("all", "osierfold"))


def test_premiums_are_shown_as_paid_where_prices_are_sealed(
    packs: dict[str, Path],
) -> None:
    """Terms publish them, so they tell no price; that they were paid is worth knowing."""
    paid: dict[str, set[str]] = {}
    dues = (packs[SEALED] / "data/figures/dues.csv").read_text("utf-8")
    for row in csv.DictReader(dues.splitlines()):
        assert (row["standing"] == "not disclosed") == (row["due"] == "")
        paid.setdefault(row["duty"], set()).add(row["paid"])

    assert paid["price"] == {""}
    assert any(float(amount or 0) > 0 for amount in paid["premium"])


def test_the_file_of_python_needs_nothing_else(whole: Path, tmp_path: Path) -> None:
    """Alone in a folder, by an interpreter that sees no other library."""
    (tmp_path / VERIFIER).write_bytes(enclosed()[VERIFIER])
    done = subprocess.run(
        [sys.executable, "-I", "-S", tmp_path / VERIFIER, whole],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )

    assert (done.returncode, done.stderr) == (0, "")
    for told in (
        "Proved",
        "Claimed by the maker",
        "Not checked",
        "Not recomputed here: dues of contract K-03",
        "Ed25519 is worked out in Python here",
    ):
        assert told in done.stdout


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    file = tmp_path_factory.mktemp("page") / PAGE
    file.write_bytes(enclosed()[PAGE])
    with chromium() as browser:
        opened = browser.new_page()
        opened.goto(file.as_uri())
        yield opened


@pytest.mark.parametrize("spoil", READ)
def test_the_page_agrees_on_the_scenario(
    spoil: str, reads: dict[str, tuple[Path, set[str]]], page: Page
) -> None:
    pack, ours = reads[spoil]
    found = looked_at(page, pack)

    assert comparable(set(found["failing"])) == comparable(ours)
    assert found["leftOut"] == []
