"""Figures and reports of a pack tell no more than its reader may see."""

import csv
import json
import re
import zipfile
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from ledger.audit.check import check_pack
from ledger.chain.seal import parse_disclosure
from ledger.desk.pack import make_pack
from ledger.desk.pack_reports import audit_reports
from ledger.trade.profile import USUAL, Profile
from tests.audit.forging import files_of
from tests.desk.small_ledger import AS_OF, MADE_AT, opened

WITHOUT_PRICES = USUAL.model_copy(update={"prices": "none"})
DUE = "3070.55"
"""What the price of 3100.00 USD/t comes to; nothing else in the small ledger does."""


def packed(ledger: Path, out: Path, profile: Profile | None) -> Path:
    with opened(ledger) as rows:
        make_pack(
            rows,
            out=out,
            as_of=AS_OF,
            made_at=MADE_AT,
            made_by="clerk",
            profile=profile,
            reports=audit_reports,
        )
    return out


def texts_in(pack: Path) -> Iterator[tuple[str, str]]:
    """Yield everything that can be read in a pack, without spaces."""
    for name in files_of(pack):
        raw = (pack / name).read_bytes()
        if name.endswith(".pdf"):
            yield from ((name, text) for text in _printed(PdfReader(BytesIO(raw))))
        elif name.endswith(".xlsx"):
            with zipfile.ZipFile(BytesIO(raw)) as book:
                yield from ((name, _plain(book.read(one))) for one in book.namelist())
        else:
            yield name, raw.decode()


def _printed(report: PdfReader) -> Iterator[str]:
    yield _plain("".join(page.extract_text() for page in report.pages).encode())
    yield from (parts[0].decode() for parts in report.attachments.values())


def _plain(raw: bytes) -> str:
    return re.sub(r"\s", "", raw.decode())


def telling(pack: Path, figure: str) -> set[str]:
    return {name for name, text in texts_in(pack) if figure in text}


@pytest.mark.parametrize("profile", [USUAL, WITHOUT_PRICES], ids=["usual", "no prices"])
def test_a_price_that_is_hidden_stands_in_no_figure_and_no_report(
    whole_ledger: Path, tmp_path: Path, profile: Profile
) -> None:
    pack = packed(whole_ledger, tmp_path / "pack", profile)
    found = telling(pack, DUE)

    assert check_pack(pack).holds
    if profile is USUAL:
        assert found >= {
            "data/figures/dues.csv",
            "data/reports/audit-report.pdf",
            "data/reports/audit-figures.xlsx",
        }
    else:
        assert found == set()


def test_what_was_paid_is_hidden_with_the_price_that_it_would_tell(
    whole_ledger: Path, tmp_path: Path
) -> None:
    for profile, paid in ((USUAL, "3000.00"), (WITHOUT_PRICES, "")):
        pack = packed(whole_ledger, tmp_path / profile.prices, profile)
        with (pack / "data/figures/dues.csv").open(newline="") as file:
            rows = {row["duty"]: row for row in csv.DictReader(file)}
        disclosed = (pack / "data/disclosures.jsonl").read_bytes().splitlines()
        shown = {parse_disclosure(json.loads(line)["text"]).name for line in disclosed}

        assert rows["price"]["paid"] == paid
        assert ("money" in shown) == bool(paid)
