"""Packing a real ledger: what goes in, what stays sealed, and what comes out of a check."""

import base64
import json
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from ledger.desk.check import check_pack_at, parse_kept, verdict_json
from ledger.desk.pack import Packed, ToReport, make_pack
from ledger.errors import ConflictError, InputError, NotFoundError, SealError
from ledger.store.engine import open_engine
from ledger.store.migration import upgrade
from tests.desk.small_ledger import AS_OF, MADE_AT, opened
from tests.desk.test_verify import behind_the_back


def packed(ledger: Path, out: Path, **more: Any) -> Packed:  # noqa: ANN401 - passed on
    asked: dict[str, Any] = {"as_of": AS_OF, "made_at": MADE_AT, "made_by": "clerk"}
    with opened(ledger) as rows:
        return make_pack(rows, out=out, **{**asked, **more})


def disclosed(pack: Path) -> list[tuple[int, str, object]]:
    """Return number of the entry, name and value of everything that a pack shows."""
    found = []
    for line in (pack / "data/disclosures.jsonl").read_bytes().splitlines():
        given = json.loads(line)
        text = given["text"] + "=" * (-len(given["text"]) % 4)
        _, name, value = json.loads(base64.urlsafe_b64decode(text))
        found.append((given["seq"], name, value))
    return found


def test_a_pack_of_a_ledger_holds(whole_ledger: Path, tmp_path: Path) -> None:
    for name in ("pack", "pack.zip"):
        made = packed(whole_ledger, tmp_path / name)
        verdict = check_pack_at(tmp_path / name)

        assert verdict.holds
        assert (made.size, made.root) == (verdict.size, verdict.root)
        assert (made.path, made.files) == (tmp_path / name, 16)


def test_the_same_ledger_gives_the_same_pack(
    whole_ledger: Path, tmp_path: Path
) -> None:
    for folder in ("one", "two"):
        (tmp_path / folder).mkdir()
        packed(whole_ledger, tmp_path / folder / "pack.zip")

    one, two = (tmp_path / folder / "pack.zip" for folder in ("one", "two"))
    assert one.read_bytes() == two.read_bytes()


def test_figures_are_for_the_date_that_is_asked(
    whole_ledger: Path, tmp_path: Path
) -> None:
    packed(whole_ledger, tmp_path / "pack", as_of=date(2026, 3, 5))
    figures = tmp_path / "pack/data/figures"

    assert "990.500,0.000" in (figures / "balances.csv").read_text()
    assert "L-1,bean,works,990.500" in (figures / "stock.csv").read_text()
    assert (figures / "sampled-sales.csv").read_text().count("\n") == 1
    assert check_pack_at(tmp_path / "pack").as_of == date(2026, 3, 5)
    assert check_pack_at(tmp_path / "pack").holds


def test_prices_are_shown_and_addresses_and_values_stay_sealed(
    whole_ledger: Path, tmp_path: Path
) -> None:
    made = packed(whole_ledger, tmp_path / "pack")
    shown = disclosed(tmp_path / "pack")
    names = {value for _, name, value in shown if name == "legal_name"}

    assert {name for _, name, _ in shown} == {"legal_name", "price", "money"}
    assert "Invented Growers" in names
    assert names == {"Invented Growers"} | {
        f"Invented Shop {int(sale[2:]) % 5}" for sale in made.sampled
    }
    assert b"Hill Road" not in (tmp_path / "pack/data/entries.jsonl").read_bytes()


def test_reports_are_told_what_they_are_about(
    whole_ledger: Path, tmp_path: Path
) -> None:
    told: list[ToReport] = []

    def reports(asked: ToReport) -> dict[str, bytes]:
        told.append(asked)
        return {"note.pdf": b"%PDF"}

    made = packed(whole_ledger, tmp_path / "pack", reports=reports)
    [asked] = told

    assert (tmp_path / "pack/data/reports/note.pdf").read_bytes() == b"%PDF"
    assert (asked.head.size, asked.head.root) == (made.size, made.root)
    assert (asked.scope.as_of, asked.sampled) == (AS_OF, made.sampled)
    assert check_pack_at(tmp_path / "pack").holds


def test_a_report_that_fails_leaves_nothing(whole_ledger: Path, tmp_path: Path) -> None:
    def reports(_: ToReport) -> dict[str, bytes]:
        raise InputError("the font is missing")

    with pytest.raises(InputError, match="font"):
        packed(whole_ledger, tmp_path / "pack", reports=reports)
    assert list(tmp_path.iterdir()) == []


def test_a_pack_that_is_there_is_kept(whole_ledger: Path, tmp_path: Path) -> None:
    packed(whole_ledger, tmp_path / "pack.zip")
    with pytest.raises(ConflictError):
        packed(whole_ledger, tmp_path / "pack.zip")

    packed(whole_ledger, tmp_path / "pack.zip", replace=True)


def test_an_empty_ledger_cannot_be_packed(tmp_path: Path) -> None:
    engine = open_engine(f"sqlite:///{tmp_path / 'empty.db'}")
    upgrade(engine)
    engine.dispose()

    with pytest.raises(NotFoundError, match="there is no entry 0"):
        packed(tmp_path / "empty.db", tmp_path / "pack")


def test_a_ledger_that_was_changed_is_not_packed(ledger: Path, tmp_path: Path) -> None:
    with behind_the_back(ledger) as database:
        database.execute("DELETE FROM entry WHERE seq = 22")
    with pytest.raises(SealError, match="verify the ledger"):
        packed(ledger, tmp_path / "pack")

    assert not (tmp_path / "pack").exists()


def test_a_tree_head_that_was_noted_down_is_read_back(
    whole_ledger: Path, tmp_path: Path
) -> None:
    made = packed(whole_ledger, tmp_path / "pack")
    kept = parse_kept(f" {made.size}:{made.root.hex()}\n")

    assert check_pack_at(tmp_path / "pack", kept=kept).holds
    for wrong in ("", "23", f"{made.size}:", f"-1:{made.root.hex()}", "٣:" + "0" * 64):
        with pytest.raises(InputError, match="copy it as it was printed"):
            parse_kept(wrong)


def test_a_verdict_is_plain_json(whole_ledger: Path, tmp_path: Path) -> None:
    packed(whole_ledger, tmp_path / "pack", made_at=datetime(2026, 7, 2, tzinfo=UTC))
    (tmp_path / "pack/data/figures/stock.csv").write_bytes(b"")
    verdict = json.loads(verdict_json(check_pack_at(tmp_path / "pack")))

    assert verdict["holds"] is False
    assert verdict["entries"] == 23
    assert verdict["problems"][0]["file"] == "data/figures/stock.csv"
    assert {part["name"] for part in verdict["checked"] if not part["holds"]} == {
        "files and digests",
        "stock",
    }
