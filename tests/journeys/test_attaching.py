"""Attaching papers at the command line; a pack of one sale carries its papers along."""

import subprocess
import sys
from hashlib import sha256
from pathlib import Path
from zipfile import ZipFile

from tests.journeys.conftest import ROOT, Run

NOTE = b"%PDF-1.7 invented weight note"
SALE = "SA-0001"


def test_a_paper_is_attached_packed_and_checked_by_both_readers(
    run: Run, ledger: Path, tmp_path: Path
) -> None:
    note, pack = tmp_path / "note.pdf", tmp_path / "pack.zip"
    note.write_bytes(NOTE)

    attached = run(
        *("attach", note, "--title", "weight note", "--about", "shipment=SH-01"),
        *("--about", "contract=K-01", "--on", "2026-09-30", "--ledger", ledger),
    )
    packed = run("pack", pack, "--sale", SALE, "--ledger", ledger)

    assert attached.status == 0, attached.err
    assert "attaches note.pdf" in attached.out
    assert packed.status == 0, packed.err
    with ZipFile(pack) as read:
        [name] = [one for one in read.namelist() if "/data/documents/" in one]
        assert name.endswith(sha256(NOTE).hexdigest())
        assert read.read(name) == NOTE
    assert run("check", pack).status == 0
    reader = ROOT / "ledger" / "audit" / "verify_pack.py"
    checked = subprocess.run(
        [sys.executable, reader, pack], capture_output=True, text=True, check=False
    )
    assert checked.returncode == 0, checked.stdout + checked.stderr


def test_what_cannot_be_attached_is_said_in_one_sentence(
    run: Run, ledger: Path, tmp_path: Path
) -> None:
    program = tmp_path / "note.pdf"
    program.write_bytes(b"MZ\x90\x00\x03")
    good = tmp_path / "good.pdf"
    good.write_bytes(NOTE)
    words = ("--title", "weight note", "--ledger", ledger)

    for given, sentence in (
        ((program, "--about", "shipment=SH-01"), "by its bytes the file is none of"),
        ((good, "--about", "SH-01"), "an equals sign and its name"),
        ((good, "--about", "shipment=SH-99"), "SH-99, which is not recorded"),
        ((tmp_path / "none.pdf", "--about", "shipment=SH-01"), "cannot be read"),
    ):
        ran = run("attach", *given, *words)
        assert ran.status != 0
        assert sentence in ran.err
        assert "Traceback" not in ran.err
    assert not Path(f"{ledger}.papers").exists()
