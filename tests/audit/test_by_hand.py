"""The page of hand commands: each works as it is printed, in the folder of a pack."""

import json
import re
import subprocess
from pathlib import Path

import pytest

from ledger.audit.enclosed import enclosed
from ledger.audit.layout import BY_HAND
from ledger.chain.entry import leaf_digest
from tests.audit.forging import files_of
from tests.desk.signed_ledger import SignedLedger
from tests.desk.small_ledger import SMALL

TEXT = enclosed()[BY_HAND].decode()
COMMANDS = re.findall(r"(?m)^    (.*)$", TEXT)


@pytest.fixture(scope="module")
def pack(tmp_path_factory: pytest.TempPathFactory) -> Path:
    ledger = SignedLedger(tmp_path_factory.mktemp("by-hand")).open(SMALL[1:12])
    ledger.sign()
    ledger.record(SMALL[12:-1])
    return ledger.pack()


@pytest.fixture(scope="module")
def printed(pack: Path) -> list[str]:
    done = subprocess.run(
        ["sh", "-eu", "-c", "\n".join(COMMANDS)],
        cwd=pack,
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stdout.splitlines()


def test_all_of_it_works_as_printed_and_leaves_the_pack_as_it_was(
    pack: Path, printed: list[str]
) -> None:
    """RFC 8493 (the lists), RFC 9162 2.1.1 (the digest), RFC 8032 (the signature)."""
    before = files_of(pack)
    raws = (pack / "data/entries.jsonl").read_bytes().splitlines()
    digest = leaf_digest(raws[0]).hex()

    assert printed[:2] == [f"{digest}  -", f'"prev":"{digest}"']
    assert printed[2] == "1"
    assert json.loads(printed[3])[1] == "legal_name"
    assert printed[4] == "Signature Verified Successfully"
    assert printed[6] == "12"
    assert files_of(pack) == before


def test_the_draw_by_hand_gives_the_tickets_of_the_pack(
    pack: Path, printed: list[str]
) -> None:
    rows = (pack / "data/figures/sampled-sales.csv").read_text().split("\n")[1:-1]
    drawn = [
        f"{ticket} {seq}" for _, seq, ticket in (r.strip().split(",") for r in rows)
    ]

    by_hand = [line for line in printed if re.fullmatch(r"[0-9a-f]{64} \d+", line)]
    assert [line for line in by_hand if line in drawn] == drawn


def test_a_forged_signature_is_told_by_hand(pack: Path) -> None:
    commands = "\n".join(COMMANDS[COMMANDS.index("T=$(mktemp -d)") :])
    spoiled = commands.replace(
        "openssl pkeyutl", 'echo x >> "$T/text"\nopenssl pkeyutl'
    )
    done = subprocess.run(
        ["sh", "-eu", "-c", spoiled],
        cwd=pack,
        capture_output=True,
        text=True,
        check=False,
    )

    assert done.returncode != 0
    assert "Signature Verification Failure" in done.stdout


def test_the_page_fits_a_terminal_but_for_commands() -> None:
    prose = [line for line in TEXT.splitlines() if not line.startswith("    ")]

    assert max(map(len, prose)) <= 79
