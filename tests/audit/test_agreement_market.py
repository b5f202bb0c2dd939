"""A market of other goods in a pack: the program and both verifiers leave it out."""

import csv
from pathlib import Path
from typing import Final

import pytest

from ledger.audit import verify_pack
from ledger.audit.check import check_pack
from tests.audit.browser import looked_at_each
from tests.desk.signed_ledger import SignedLedger
from tests.desk.small_ledger import BOUGHT, CERTIFICATES, COOPERATIVE, TERMS, Step

OTHER_MARKET: Final = {"market": "far-above", "form": "butter", "fall_back_days": 31}
QUOTED: Final[Step] = (
    "quote.recorded",
    "2026-01-15",
    {
        "market": OTHER_MARKET["market"],
        "unit": "USD/t",
        "source": "an invented bulletin",
        "quotes": [{"on": "2026-01-15", "level": "99999.00"}],
    },
)


@pytest.fixture(scope="module")
def pack(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A pack of beans, under terms whose market is that of butter."""
    ledger = SignedLedger(tmp_path_factory.mktemp("market"))
    governed = {**TERMS[2], "market": OTHER_MARKET, "market_governed_by": "contract"}
    terms = (*TERMS[:2], governed)
    ledger.open([COOPERATIVE, terms, *CERTIFICATES, QUOTED, *BOUGHT])
    return ledger.pack()


def test_beans_are_not_held_against_the_market_of_butter(pack: Path) -> None:
    dues = (pack / "data/figures/dues.csv").read_text("utf-8")
    [price] = [r for r in csv.DictReader(dues.splitlines()) if r["duty"] == "price"]

    assert check_pack(pack).holds
    assert price["due"] == "3070.55"


def test_the_file_of_python_agrees(pack: Path) -> None:
    found = verify_pack.Check(verify_pack.Pack(pack), None, None)

    assert found.left == {}
    assert [part for part, problems in found.bad.items() if problems] == []


def test_the_page_agrees(pack: Path, tmp_path: Path) -> None:
    [looked] = looked_at_each(tmp_path, pack)

    assert (looked["leftOut"], looked["failing"]) == ([], [])
