"""The maker packs, the certifier checks; both on the command line."""

import json
import shutil
import subprocess
import zipfile
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from ledger.audit.cheats import CHEATS
from ledger.desk.demonstration import OVERSALE
from tests.journeys.conftest import ROOT, Run, run_command


@pytest.fixture(scope="session")
def scenario_pack(
    scenario_ledger: Path, tmp_path_factory: pytest.TempPathFactory
) -> Path:
    path = tmp_path_factory.mktemp("pack") / "pack.zip"
    words = ("pack", path, "--ledger", scenario_ledger, "--as-of", "2026-09-30")
    assert run_command((*words, "--by", "officer")) == 0
    return path


@pytest.fixture
def pack(scenario_pack: Path, tmp_path: Path) -> Path:
    copy = tmp_path / "pack.zip"
    shutil.copy(scenario_pack, copy)
    return copy


def test_an_honest_pack_holds(run: Run, pack: Path) -> None:
    ran = run("check", pack)

    assert ran.status == 0
    assert "DOES NOT HOLD" not in ran.out
    for heading in ("Proved", "Claimed by the maker", "Not checked"):
        assert heading in ran.out


def test_the_report_in_the_pack_is_a_tagged_pdf(pack: Path, tmp_path: Path) -> None:
    with zipfile.ZipFile(pack) as opened:
        name = next(name for name in opened.namelist() if name.endswith(".pdf"))
        opened.extract(name, tmp_path)

    told = subprocess.run(
        ["pdfinfo", tmp_path / name], capture_output=True, text=True, check=True
    ).stdout

    assert "Tagged:          yes" in told
    assert "Wrenlock Chocolate Works" in told


def test_the_report_holds_the_record_it_was_worked_out_from(pack: Path) -> None:
    """ISO 19005-3:2012, 6.8 (associated files); ISO 32000-2:2020, 14.13 (Data)."""
    with zipfile.ZipFile(pack) as opened:
        report = PdfReader(
            BytesIO(opened.read("pack/data/reports/audit-report.pdf")), strict=True
        )
        inside = {name: parts[0] for name, parts in report.attachments.items()}
        of_figures = {
            name: opened.read(f"pack/data/figures/{name}")
            for name in ("balances.csv", "stock.csv", "dues.csv", "sampled-sales.csv")
        }
        wanted = {
            **of_figures,
            "scope.json": opened.read("pack/data/figures/scope.json"),
            "tree-head.json": opened.read("pack/data/tree-head.json"),
            "entries.jsonl": opened.read("pack/data/entries.jsonl"),
        }

    assert inside == wanted
    related: Any = report.root_object["/AF"]
    files = [item.get_object() for item in related]
    assert sorted(item["/UF"] for item in files) == sorted(wanted)
    for item in files:
        assert item["/AFRelationship"] == "/Data"
        assert item["/Desc"]
        stream = item["/EF"]["/F"]
        assert stream["/Subtype"] in {
            "/text/csv",
            "/application/json",
            "/application/octet-stream",
        }
        assert stream["/Params"]["/Size"] == len(wanted[item["/UF"]])
        assert stream["/Params"]["/ModDate"]


def test_the_cover_of_the_report_says_what_finds_a_cheat(pack: Path) -> None:
    with zipfile.ZipFile(pack) as opened:
        raw = opened.read("pack/data/reports/audit-report.pdf")

    cover = " ".join(PdfReader(BytesIO(raw)).pages[0].extract_text().split())
    for cheat in CHEATS:
        assert cheat.tried in cover
        assert cheat.found in cover


def test_a_changed_weight_is_found_and_named(
    run: Run, pack: Path, tmp_path: Path
) -> None:
    with zipfile.ZipFile(pack) as opened:
        opened.extractall(tmp_path / "open")
    folder = tmp_path / "open" / "pack"
    entries = folder / "data" / "entries.jsonl"
    entries.write_bytes(entries.read_bytes().replace(b"2747.000", b"2748.000", 1))

    ran = run("check", folder, "--json")

    assert ran.status == 3
    assert any(
        problem["file"] == "data/entries.jsonl"
        for problem in json.loads(ran.out)["problems"]
    )


def test_a_pack_is_not_overwritten_unasked(run: Run, ledger: Path, pack: Path) -> None:
    before = pack.read_bytes()

    ran = run("pack", pack, "--ledger", ledger)

    assert ran.status == 2
    assert pack.read_bytes() == before


def test_what_is_no_pack_is_said_in_a_sentence(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "not.zip"
    file.write_bytes(b"not a zip")

    ran = run("check", file)

    assert ran.status != 0
    assert ran.err.startswith("evenweight: ")


def test_the_report_is_written_by_itself(
    run: Run, ledger: Path, tmp_path: Path
) -> None:
    file = tmp_path / "report.pdf"

    ran = run("report", file, "--ledger", ledger)

    assert ran.status == 0
    assert file.read_bytes().startswith(b"%PDF-")


def test_verify_and_rebuild_find_nothing_in_an_honest_ledger(
    run: Run, ledger: Path
) -> None:
    assert "holds" in run("verify", "--ledger", ledger).out
    assert "as the entries add up" in run("rebuild", "--ledger", ledger).out


def test_the_demonstration_ends_with_two_refusals(run: Run, tmp_path: Path) -> None:
    ran = run("demo", tmp_path / "demo", "--scenario", ROOT / "sample_shipments")

    assert ran.status == 0
    refusals = [line for line in ran.out.splitlines() if "refused: " in line]
    assert len(refusals) == 2
    assert "109.511 kg of bean equivalent below zero" in refusals[0]
    assert "refuses to change or remove an entry" in refusals[1]
    # What the certifier kept and the accountant saw holds for the later pack.
    assert "DOES NOT HOLD" not in ran.out
    assert "the first 758 are as they were" in ran.out
    assert "says witness accountant.example; none of them can be younger" in ran.out


def test_a_demonstration_empties_no_folder_but_its_own(
    run: Run, tmp_path: Path
) -> None:
    (tmp_path / "ledger.db").write_bytes(b"a year of work")
    (tmp_path / "oversale.yaml").write_text("kind: sale.dispatched\n", "utf-8")
    ran = run("demo", tmp_path, "--scenario", ROOT / "sample_shipments")

    assert ran.status != 0
    assert "holds files that no demonstration left there" in ran.err
    assert (tmp_path / "ledger.db").read_bytes() == b"a year of work"


def test_a_demonstration_without_its_scenario_leaves_everything_as_it_is(
    run: Run, tmp_path: Path
) -> None:
    (left := tmp_path / "oversale.yaml").write_text(OVERSALE, "utf-8")
    ran = run("demo", tmp_path, "--scenario", tmp_path / "nothing")

    assert ran.status != 0
    assert "there is no such folder" in ran.err
    assert left.exists()


def test_the_schemas_in_the_docs_are_current(run: Run) -> None:
    ran = run("schemas", ROOT / "docs" / "reference" / "schemas", "--check")

    assert ran.status == 0, ran.err
