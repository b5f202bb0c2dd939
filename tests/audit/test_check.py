"""What the contents of a pack show, also where a forger made every digest fit."""

import json
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest

from ledger.audit.check import check_pack
from ledger.audit.layout import TreeHead
from ledger.audit.verdict import Verdict
from ledger.chain.canonical import JsonValue, canonical_bytes
from ledger.errors import InputError, SealError
from tests.audit.forging import bag_again, chain_again, edited, entries_of

Edit = Callable[[list[dict[str, Any]]], object]


def forged(pack: Path, edit: Edit) -> Verdict:
    """Change entries, make everything else fit, and check."""
    entries = entries_of(pack)
    edit(entries)
    chain_again(pack, entries)
    return check_pack(pack)


def parts_that_fail(verdict: Verdict) -> set[str]:
    return {part.name for part in verdict.checked if not part.holds}


def test_the_three_lists_say_what_the_pack_shows(small_pack: Path) -> None:
    verdict = check_pack(small_pack)

    assert any("23 entries" in sentence for sentence in verdict.proved)
    assert any("balances, stock, dues" in sentence for sentence in verdict.proved)
    assert any("Invented Maker" in sentence for sentence in verdict.claimed)
    assert any("never written down" in sentence for sentence in verdict.not_checked)
    assert any("sealed value" in sentence for sentence in verdict.not_checked)


def test_nothing_is_called_proved_that_does_not_hold(pack: Path) -> None:
    edited(pack, "data/entries.jsonl", lambda raw: raw.replace(b"Callao", b"Calla0"))
    verdict = check_pack(pack)

    assert not any("whole" in sentence for sentence in verdict.proved)
    assert not any("hangs together" in sentence for sentence in verdict.proved)
    assert not any("follow from" in sentence for sentence in verdict.proved)


# --- Figures -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("file", "old", "new", "told"),
    [
        (
            "balances.csv",
            "928.000,928.000",
            "929.000,928.000",
            "closing_kg of river, cocoa, works, all, all, all, all is '929.000'",
        ),
        (
            "dues.csv",
            "3000.00,70.55",
            "3070.55,0.00",
            "paid of C-1, SH-1, price, coop, final is '3070.55'",
        ),
        (
            "stock.csv",
            "works,330.000",
            "works,331.000",
            "on_hand_kg of L-2 is '331.000'",
        ),
        (
            "sampled-sales.csv",
            "S-5,",
            "S-2,",
            "the row of S-2 is claimed, but the entries give no such row",
        ),
    ],
)
def test_a_figure_that_does_not_follow_is_named_with_both_values(
    file: str, old: str, new: str, told: str, pack: Path
) -> None:
    name = f"data/figures/{file}"
    edited(pack, name, lambda raw: raw.replace(old.encode(), new.encode(), 1))
    bag_again(pack)
    verdict = check_pack(pack)
    first = verdict.problems[0]

    assert first.sentence.startswith(told)
    assert "the entries give" in first.sentence
    assert (first.where.file, first.where.line is not None) == (name, True)
    assert len(parts_that_fail(verdict)) == 1


def test_a_missing_row_is_named(pack: Path) -> None:
    edited(pack, "data/figures/dues.csv", lambda raw: raw.rsplit(b"C-1", 1)[0])
    bag_again(pack)
    [problem] = check_pack(pack).problems

    assert "the row of C-1, SH-1, premium, river, coop, final is missing" in (
        problem.sentence
    )


def test_figures_are_for_the_date_that_the_pack_says(pack: Path) -> None:
    scope = json.loads((pack / "data/figures/scope.json").read_bytes())
    scope["as_of"] = "2026-03-31"
    (pack / "data/figures/scope.json").write_bytes(canonical_bytes(scope) + b"\n")
    edited(
        pack,
        "bag-info.txt",
        lambda raw: raw.replace(b"to 2026-06-30", b"to 2026-03-31"),
    )
    bag_again(pack)

    assert parts_that_fail(check_pack(pack)) == {
        "balances",
        "stock",
        "dues",
        "sampled sales",
    }


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"\xff\xfe",
        b'"',
        b"scheme\r\n",
        b"\x00" * 100,
        b"x," * 200_000,
        b'lot,form,site,on_hand_kg\r\n"L-1',
    ],
)
def test_figures_that_are_no_figures_get_a_verdict(raw: bytes, pack: Path) -> None:
    (pack / "data/figures/stock.csv").write_bytes(raw)
    bag_again(pack)

    assert parts_that_fail(check_pack(pack)) == {"stock"}


def scope_with(**other: str | bool) -> bytes:
    scope: dict[str, JsonValue] = {
        "as_of": "2026-06-30",
        "entries": 23,
        "made_at": "2026-07-01T08:00:00.000000Z",
        "made_by": "clerk",
    }
    return canonical_bytes({**scope, **other}) + b"\n"


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"{}",
        b"[]\n",
        b'{"as_of":"2026-06-30"}\n',
        b'{"as_of":"20260630","entries":23,"made_at":"x","made_by":"y"}\n',
        scope_with(entries=True),
        scope_with(made_at="0001-01-01T00:00:00+14:00"),
        scope_with(made_at="2026-07-01T08:00:00.000000"),
        b'{"as_of":"2026-06-30","entries":99999999999999999999}\n',
        b"[" * 5000 + b"\n",
        b"9" * 5000 + b"\n",
    ],
)
@pytest.mark.parametrize("name", ["data/figures/scope.json", "data/tree-head.json"])
def test_a_small_file_that_cannot_be_read_gets_a_verdict(
    name: str, raw: bytes, pack: Path
) -> None:
    (pack / name).write_bytes(raw)
    bag_again(pack)
    verdict = check_pack(pack)

    assert name in {problem.where.file for problem in verdict.problems}
    assert not verdict.holds


# --- Rules of the books ----------------------------------------------------------


def test_an_overdrawn_sale_is_reported_and_the_reading_goes_on(pack: Path) -> None:
    def claim_more(entries: list[dict[str, Any]]) -> None:
        for seq in (15, 16):
            entries[seq]["body"]["lines"][0]["mass_kg"] = "9999.000"

    verdict = forged(pack, claim_more)
    refused = [p for p in verdict.problems if "the books refuse" in p.sentence]

    assert [problem.where.seq for problem in refused] == [15, 16]
    assert "below zero" in refused[0].sentence
    rules = next(p for p in verdict.checked if p.name == "rules of the books")
    assert (rules.holds, rules.count) == (False, 23)


def test_a_refused_entry_leaves_the_books_as_they_were(pack: Path) -> None:
    def void_what_is_used(entries: list[dict[str, Any]]) -> None:
        entries[-1]["body"] = {"target": 12, "reason": "to be refused"}

    told = [problem.sentence for problem in forged(pack, void_what_is_used).problems]

    assert told[0].startswith("the books refuse the entry (correction)")
    # Nothing else is different but the sale that the correction had made void.
    assert "sold_kg of river, cocoa, works, all, all, all, all is '-62.500'" in told[1]
    assert "the entries give '-75.000'" in told[1]


def test_an_open_breach_is_told_and_is_no_defect_of_the_pack(pack: Path) -> None:
    def suspend_the_seller(entries: list[dict[str, Any]]) -> None:
        body = {"certificate": "coop-river", "from_on": "2026-01-10", "reason": "audit"}
        suspended = {"kind": "certificate.suspended", "occurred_on": "2026-06-01"}
        entries.append({**entries[-1], **suspended, "body": body})

    verdict = forged(pack, suspend_the_seller)
    rules = next(p for p in verdict.checked if p.name == "rules of the books")

    assert rules.holds
    assert rules.detail.endswith("1 account below zero on some date, as an open breach")
    assert any("62.500 kg of bean equivalent below zero" in s for s in verdict.proved)


HOSTILE: list[tuple[str, Edit]] = [
    ("last moment", lambda e: e[5].update(recorded_at="9999-12-31T23:59:59.999999Z")),
    ("first day", lambda e: e[12].update(occurred_on="0001-01-01")),
    ("last day", lambda e: e[12].update(occurred_on="9999-12-31")),
    ("unknown kind", lambda e: e[9].update(kind="moon.landed")),
    ("empty body", lambda e: e[9].update(body={})),
    ("wrong types", lambda e: e[10]["body"].update(quantity_kg=[{"a": None}])),
    ("huge mass", lambda e: e[12]["body"]["lots"][0].update(net_landed_kg="9" * 400)),
    ("malformed digests", lambda e: e[1]["body"].update(_sd=["x"])),
    ("digests that are none", lambda e: e[1]["body"].update(_sd=7)),
    ("void of itself", lambda e: e[22]["body"].update(target=22)),
    ("void of what comes", lambda e: e[22]["body"].update(target=2**53 - 1)),
    ("void of the opening", lambda e: e[22]["body"].update(target=0)),
    ("opened twice", lambda e: e.insert(3, dict(e[0]))),
    ("not opened", lambda e: e.pop(0)),
    ("period of all time", lambda e: e.append({**e[22], "kind": "period.closed",
        "body": {"period": "P", "start": "1900-01-01", "end": "9999-12-31",
                 "signed_off_by": "clerk"}})),
    ("recursive replacement", lambda e: e[22]["body"].update(replacement={
        "entry_kind": "correction", "occurred_on": "2026-01-01",
        "body": {"target": 22, "reason": "x"}})),
]  # fmt: skip


@pytest.mark.parametrize(("what", "edit"), HOSTILE, ids=[what for what, _ in HOSTILE])
def test_entries_that_no_ledger_would_let_in_get_a_verdict(
    what: str, edit: Edit, pack: Path
) -> None:
    verdict = forged(pack, edit)

    assert not verdict.holds, what
    assert {p.where.file for p in verdict.problems} & {
        "data/entries.jsonl",
        "data/disclosures.jsonl",
    }
    assert all("\n" not in problem.sentence for problem in verdict.problems)


@pytest.mark.parametrize(
    "line",
    [
        b"",
        b"{}",
        b"null",
        b"[" * 100_000,
        b'{"a":' * 10_000,
        b"1" * 10_000,
        b"\xff\xfe\x00",
        b'{"seq":1e999}',
        b'"\\ud800"',
    ],
)
def test_lines_that_are_no_entries_get_a_verdict(line: bytes, pack: Path) -> None:
    raw = (pack / "data/entries.jsonl").read_bytes().splitlines()
    raw[7] = line
    (pack / "data/entries.jsonl").write_bytes(b"\n".join(raw) + b"\n")
    bag_again(pack)
    places = {(p.where.file, p.where.line) for p in check_pack(pack).problems}

    assert ("data/entries.jsonl", 8) in places


def test_a_line_without_end_is_refused_in_one_sentence(pack: Path) -> None:
    edited(pack, "data/entries.jsonl", lambda raw: raw + b"x" * 5_000_000)

    with pytest.raises(SealError, match="line 24 of data/entries"):
        check_pack(pack)


def test_a_newer_format_of_entries_is_told(pack: Path) -> None:
    verdict = forged(pack, lambda e: e[0]["body"].update(format_version=2))

    assert any(
        "entries are in format 2" in problem.sentence and problem.where.line == 1
        for problem in verdict.problems
    )


# --- The record as a whole ---------------------------------------------------------


def head_of(pack: Path) -> TreeHead:
    head = json.loads((pack / "data/tree-head.json").read_bytes())
    return TreeHead(head["size"], bytes.fromhex(head["root"]))


def rewrite(entries: list[dict[str, Any]]) -> None:
    """Say from the start that the growers' delivery weighed less."""
    entries[12]["body"]["lots"][0]["net_landed_kg"] = "990.400"


def test_a_whole_rewrite_is_seen_only_beside_an_earlier_tree_head(pack: Path) -> None:
    """What a chain alone cannot show: Crosby and Wallach, USENIX Security 2009."""
    before = head_of(pack)
    verdict = forged(pack, rewrite)
    beside = check_pack(pack, kept=before)

    assert "chain of entries" not in parts_that_fail(verdict)
    assert "tree head" not in parts_that_fail(verdict)
    assert any("rewritten before" in sentence for sentence in verdict.not_checked)
    assert "tree head kept from before" in parts_that_fail(beside)


def test_a_record_cut_at_its_end_is_seen_only_beside_an_earlier_tree_head(
    pack: Path,
) -> None:
    before = head_of(pack)
    verdict = forged(pack, lambda entries: entries.pop())
    beside = check_pack(pack, kept=before)
    told = [p.sentence for p in beside.problems if "that you kept" in p.sentence]

    assert "chain of entries" not in parts_that_fail(verdict)
    assert any("left off at the end" in sentence for sentence in verdict.not_checked)
    assert "entries were taken away" in told[0]


def test_entries_added_since_are_no_rewrite(pack: Path, tiny_pack: Path) -> None:
    verdict = check_pack(pack, kept=head_of(pack))

    assert verdict.holds
    assert any("since then entries were only added" in s for s in verdict.proved)
    assert not any("rewritten before" in s for s in verdict.not_checked)
    assert not check_pack(pack, kept=head_of(tiny_pack)).holds


def test_a_tree_head_over_nothing_shows_nothing(pack: Path) -> None:
    with pytest.raises(InputError, match="covers 0 entries"):
        check_pack(pack, kept=TreeHead(0, sha256(b"").digest()))


def test_a_tree_head_that_is_not_theirs_is_named(pack: Path) -> None:
    head: dict[str, JsonValue] = {"root": "0" * 64, "size": 23}
    (pack / "data/tree-head.json").write_bytes(canonical_bytes(head) + b"\n")
    bag_again(pack)
    verdict = check_pack(pack)

    assert verdict.problems[0].where.file == "data/tree-head.json"
    assert "tree head" in parts_that_fail(verdict)


def test_what_the_first_change_hides_is_found_too(pack: Path) -> None:
    raw = (pack / "data/entries.jsonl").read_bytes().splitlines()
    raw[3] = raw[3].replace(b"CH", b"DE")
    raw[14] = raw[14].replace(b"grind", b"roast")
    (pack / "data/entries.jsonl").write_bytes(b"\n".join(raw) + b"\n")
    verdict = check_pack(pack)
    chain = {
        p.where.line for p in verdict.problems if "was changed after" in p.sentence
    }

    assert chain >= {4, 15}


# --- Sealed values -----------------------------------------------------------------


def disclosures_of(pack: Path) -> list[dict[str, Any]]:
    raw = (pack / "data/disclosures.jsonl").read_bytes()
    return [json.loads(line) for line in raw.splitlines()]


def disclosed(pack: Path, given: list[dict[str, Any]]) -> Verdict:
    lines = (canonical_bytes(one) + b"\n" for one in given)
    (pack / "data/disclosures.jsonl").write_bytes(b"".join(lines))
    bag_again(pack)
    return check_pack(pack)


def test_a_disclosure_for_another_entry_is_named(pack: Path) -> None:
    given = disclosures_of(pack)
    given[0]["seq"] += 1
    places = {(p.where.line, p.where.seq) for p in disclosed(pack, given).problems}

    assert (1, 2) in places


def test_a_disclosure_for_no_entry_is_named(pack: Path) -> None:
    given = disclosures_of(pack)
    given[-1]["seq"] = 99
    [problem, *_] = disclosed(pack, given).problems

    assert "no entry of the pack has this number" in problem.sentence


def test_a_disclosure_given_twice_is_named(pack: Path) -> None:
    given = disclosures_of(pack)
    verdict = disclosed(pack, [given[0], *given])
    where = verdict.problems[0].where

    assert (where.file, where.line) == ("data/disclosures.jsonl", 2)


def test_what_is_not_disclosed_stays_sealed_and_the_record_holds(pack: Path) -> None:
    """Deleting a disclosure erases a value and breaks nothing (RFC 9901)."""
    given = [one for one in disclosures_of(pack) if one["seq"] != 1]
    verdict = disclosed(pack, given)

    assert verdict.holds
    assert any("11 sealed values" in sentence for sentence in verdict.not_checked)


def test_dues_without_the_price_are_not_what_was_claimed(pack: Path) -> None:
    given = [one for one in disclosures_of(pack) if one["seq"] != 10]

    assert parts_that_fail(disclosed(pack, given)) == {"dues"}


# --- Attached papers ---------------------------------------------------------------

PAPER = b"weight note"
DIGEST = sha256(PAPER).hexdigest()


def with_paper(pack: Path, *, size: int = len(PAPER)) -> None:
    entries = entries_of(pack)
    body = {
        "document": "D-1",
        "title": "weight note",
        "sha256": DIGEST,
        "media_type": "text/plain",
        "size": size,
        "about": [{"subject": "contract", "name": "C-1"}],
    }
    entries.append({**entries[-1], "kind": "document.attached", "body": body})
    chain_again(pack, entries)


def test_a_paper_that_is_recorded_belongs(pack: Path) -> None:
    with_paper(pack)
    (pack / "data/documents").mkdir()
    (pack / f"data/documents/{DIGEST}").write_bytes(PAPER)
    bag_again(pack)
    verdict = check_pack(pack)

    assert "attached papers" not in parts_that_fail(verdict)
    assert any("1 attached paper" in sentence for sentence in verdict.proved)


def test_a_paper_that_is_recorded_but_missing_is_told(pack: Path) -> None:
    with_paper(pack)

    assert any("pack: 1 paper" in s for s in check_pack(pack).not_checked)


def test_a_paper_that_nobody_recorded_is_named(pack: Path) -> None:
    (pack / "data/documents").mkdir()
    (pack / f"data/documents/{DIGEST}").write_bytes(PAPER)
    bag_again(pack)
    [problem] = check_pack(pack).problems

    assert problem.sentence == "no entry records this paper"


def test_a_paper_of_another_size_or_digest_is_named(pack: Path) -> None:
    with_paper(pack, size=3)
    (pack / "data/documents").mkdir()
    (pack / f"data/documents/{DIGEST}").write_bytes(PAPER)
    (pack / f"data/documents/{'0' * 64}").write_bytes(PAPER)
    bag_again(pack)
    told = {p.where.file[-64:]: p.sentence for p in check_pack(pack).problems}

    assert told[DIGEST] == f"the paper has {len(PAPER)} bytes, but 3 are recorded"
    assert "not its name" in told["0" * 64]
