"""Advances and fees in a pack: the program and both verifiers that it encloses agree."""

import csv
import shutil
from pathlib import Path
from typing import Final

import pytest

from ledger.audit import verify_pack
from ledger.audit.check import check_pack
from tests.audit.browser import looked_at_each
from tests.audit.forging import entries_of, resealed
from tests.desk.signed_ledger import SignedLedger
from tests.desk.small_ledger import BOUGHT, CERTIFICATES, COOPERATIVE, TERMS, Step

PAY: Final = {"contract": "C-1", "payee": "coop", "document": "bank"}
TERMS_WITH_ADVANCE: Final[Step] = (
    *TERMS[:2],
    {
        **TERMS[2],
        "advance": {"percent": "60", "source": "an invented table"},
        "fees": [
            {
                "basis": "bean equivalent",
                "valid_from": "2020-01-01",
                "price": {"amount": "10.00", "unit": "USD/t"},
                "payee": "coop",
                "source": "an invented table",
            }
        ],
    },
)
ASKED: Final[Step] = (
    "advance.requested",
    "2026-01-22",
    {
        "request": "R-1",
        "contract": "C-1",
        "money": {"amount": "1500.00", "currency": "USD"},
        "document": "letter",
    },
)
SIGNED, SENT, RECEIVED, PAID = BOUGHT


def paid(name: str, on: str, amount: str, towards: str) -> Step:
    money = {"amount": amount, "currency": "USD"}
    body = {**PAY, "payment": name, "towards": towards, "money": money}
    return "payment.made", on, body


@pytest.fixture(scope="module")
def pack(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A pack in which an advance was asked for, paid, and set off first."""
    ledger = SignedLedger(tmp_path_factory.mktemp("advance"))
    ledger.open(
        [
            COOPERATIVE,
            TERMS_WITH_ADVANCE,
            *CERTIFICATES,
            SIGNED,
            SENT,
            ASKED,
            RECEIVED,
            # The advance reaches the seller last, and is set off all the same before.
            paid("PAY-1", "2026-04-10", "1600.00", "price"),
            paid("PAY-2", "2026-04-20", "1500.00", "advance"),
        ]
    )
    return ledger.pack()


@pytest.fixture(scope="module")
def spoiled(pack: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same pack, in which the advance was made smaller."""
    out = Path(shutil.copytree(pack, tmp_path_factory.mktemp("spoiled") / "pack"))
    last = len(entries_of(pack)) - 1
    resealed(out, last, "1500.00", "1400.00")
    return out


def test_the_advance_is_set_off_first(pack: Path) -> None:
    """3,070.55 are owed; of 1,600.00 paid, 29.45 are beyond once the advance is off."""
    dues = (pack / "data/figures/dues.csv").read_text("utf-8")
    [price] = [r for r in csv.DictReader(dues.splitlines()) if r["duty"] == "price"]

    assert check_pack(pack).holds
    assert (price["due"], price["paid"], price["outstanding"]) == (
        "3070.55",
        "3070.55",
        "0.00",
    )


def test_the_file_of_python_agrees(pack: Path, spoiled: Path) -> None:
    for folder, wrong in ((pack, set()), (spoiled, {"dues"})):
        found = verify_pack.Check(verify_pack.Pack(folder), None, None)
        program = {part.name for part in check_pack(folder).checked if not part.holds}

        assert found.left == {}
        assert {part for part, problems in found.bad.items() if problems} == wrong
        assert program == wrong


def test_the_page_agrees(pack: Path, spoiled: Path, tmp_path: Path) -> None:
    looked = looked_at_each(tmp_path, pack, spoiled)

    assert [one["leftOut"] for one in looked] == [[], []]
    assert [one["failing"] for one in looked] == [[], ["dues"]]
