"""Threat by threat: somebody with the database, the files and the key cheats.

Each test performs an attack as its owner could and shows which check finds it, or that
none does; docs/explanation/trust.md says the same in words. The threats are those of
Crosby and Wallach, Efficient Data Structures for Tamper-Evident Logging (USENIX Security
2009), section 2, and of RFC 6962, section 7.3.
"""

import json
import shutil
import sqlite3
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from ledger.audit.check import check_pack
from ledger.audit.layout import TreeHead
from ledger.audit.signatures import Pinned
from ledger.audit.verdict import Verdict
from ledger.chain.checkpoint import SignedCheckpoint
from ledger.chain.note import Key
from ledger.desk.check import CheckedForFolder, check_pack_for
from ledger.desk.enrolment import enrol_maker, enrol_witness, maker_signing_as
from ledger.desk.receipt import make_receipt, read_receipt
from ledger.desk.verify import verify
from ledger.desk.witness import cosign_by_pack, witness_key
from ledger.errors import NotFoundError, RefusedError, SealError
from tests.audit.forging import bag_again, chain_again, entries_of
from tests.desk.signed_ledger import SignedLedger, private_key
from tests.desk.small_ledger import BOUGHT, CERTIFICATES, COOPERATIVE, TERMS, Step

BASE = (COOPERATIVE, TERMS, *CERTIFICATES, *BOUGHT)


def move(number: int) -> Step:
    """An entry that changes no figure."""
    return ("lot.moved", "2026-03-05", {"lot": "L-1", "to_place": f"shelf-{number}"})


def lighter(steps: tuple[Step, ...]) -> tuple[Step, ...]:
    """The same story, but the growers' delivery weighed less."""
    told = json.dumps(steps).replace('"990.500"', '"890.500"')
    return tuple((kind, day, body) for kind, day, body in json.loads(told))


@pytest.fixture
def honest(tmp_path: Path) -> SignedLedger:
    return SignedLedger(tmp_path / "honest").open(BASE)


@pytest.fixture
def certifier(tmp_path: Path, honest: SignedLedger) -> Path:
    folder = tmp_path / "certifier"
    enrol_maker(folder, "maker", str(honest.key))
    return folder


def visit(certifier: Path, ledger: SignedLedger, name: str) -> CheckedForFolder:
    return check_pack_for(certifier, ledger.pack(name))


def failing(verdict: Verdict) -> set[str]:
    return {part.name for part in verdict.checked if not part.holds}


KEPT = "tree head kept from before"
PINNED = "key pinned on enrolment"


def test_an_honest_maker_is_believed_visit_after_visit(
    honest: SignedLedger, certifier: Path
) -> None:
    honest.sign()
    first = visit(certifier, honest, "one")
    honest.record([move(1)])
    honest.sign()
    second = visit(certifier, honest, "two")

    assert (first.verdict.holds, first.kept, first.remembered) == (True, 0, 9)
    assert (second.verdict.holds, second.kept, second.remembered) == (True, 9, 11)
    assert any("only added" in sentence for sentence in second.verdict.proved)


# --- Edit, delete, insert, reorder -------------------------------------------------


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE entry SET raw = replace(raw, '990.500', '890.500') WHERE seq = 7",
        "DELETE FROM entry WHERE seq = 7",
        "INSERT OR REPLACE INTO entry SELECT seq, leaf, x'7b7d' FROM entry WHERE seq = 7",
        "UPDATE entry SET seq = 99 WHERE seq = 7",
    ],
)
def test_the_database_refuses_what_its_triggers_see(
    sql: str, honest: SignedLedger
) -> None:
    with sqlite3.connect(honest.database) as connection:
        connection.execute("PRAGMA recursive_triggers=ON")
        with pytest.raises(sqlite3.DatabaseError):
            connection.execute(sql)
    connection.close()


def test_an_edit_past_the_triggers_is_seen_by_verify_and_stops_signing(
    honest: SignedLedger,
) -> None:
    with sqlite3.connect(honest.database) as connection:
        for (name,) in connection.execute(
            "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        ).fetchall():
            connection.execute(f"DROP TRIGGER {name}")
        connection.execute(
            "UPDATE entry SET raw = CAST(replace(CAST(raw AS TEXT), '990.500', '890.500')"
            " AS BLOB)"
        )
    connection.close()

    with honest.reading() as rows:
        assert verify(rows).troubles
    with pytest.raises(SealError, match="do not give the tree head"):
        honest.sign()


@pytest.mark.parametrize("threat", ["edit", "delete", "insert", "reorder"])
def test_a_changed_history_that_fits_itself_is_found_by_what_was_kept(
    threat: str, honest: SignedLedger, certifier: Path
) -> None:
    """With all digests made to fit, and even without a signature to give it away."""
    kept = honest.sign()
    visit(certifier, honest, "one")
    pack = honest.pack("two")
    entries = entries_of(pack)
    changes: dict[str, Any] = {
        "edit": lambda: entries[8]["body"].update(document="bank 2"),
        "delete": lambda: entries.pop(8),
        "insert": lambda: entries.insert(8, {**entries[8], "recorded_by": "other"}),
        "reorder": lambda: entries.insert(3, entries.pop(4)),
    }
    changes[threat]()
    chain_again(pack, entries)
    found = check_pack_for(certifier, pack)

    assert KEPT in failing(found.verdict)
    assert "signed checkpoints" in failing(found.verdict)
    assert found.remembered is None
    assert maker_signing_as(certifier, honest.key.name).last == kept


# --- The whole history written anew, and signed with the stolen key -----------------


def rewritten(tmp_path: Path, steps: tuple[Step, ...]) -> SignedLedger:
    """Another history under the same key, from the first entry on."""
    return SignedLedger(tmp_path / "rewritten").open(steps)


def test_a_whole_rewrite_under_the_same_key_is_found_by_the_certifiers_own_checkpoint(
    honest: SignedLedger, certifier: Path, tmp_path: Path
) -> None:
    honest.sign()
    visit(certifier, honest, "one")
    forged = rewritten(tmp_path, lighter(BASE))
    forged.sign()
    found = visit(certifier, forged, "two")
    told = [problem.sentence for problem in found.verdict.problems]

    # The signatures hold, for it is the maker's own key; only what was kept gives it away.
    assert failing(found.verdict) == {KEPT}
    assert any("rewritten whole or split in two" in sentence for sentence in told)
    assert found.remembered is None


def test_no_check_finds_a_whole_rewrite_before_the_first_visit(
    honest: SignedLedger, certifier: Path, tmp_path: Path
) -> None:
    """Nothing can: that is why checkpoints leave the house. The verdict says so."""
    honest.sign()
    forged = rewritten(tmp_path, lighter(BASE))
    forged.sign()
    found = visit(certifier, forged, "one")

    assert found.verdict.holds
    assert any("rewritten before" in sentence for sentence in found.verdict.not_checked)


def test_a_rewrite_before_the_first_visit_is_found_by_a_counterpartys_receipt(
    honest: SignedLedger, tmp_path: Path
) -> None:
    """Two signed heads that contradict each other are proof (RFC 6962, section 7.3)."""
    honest.sign()
    with honest.reading() as rows:
        text = str(make_receipt(rows, honest.checkpoints, 7))
    (tmp_path / "receipt").write_text(text, encoding="utf-8")
    forged = rewritten(tmp_path, lighter(BASE))
    forged.sign()
    held = read_receipt(tmp_path / "receipt", (honest.key,))
    beside = TreeHead(held.checkpoint.size, held.checkpoint.root)
    found = check_pack(forged.pack(), kept=beside, pinned=Pinned(honest.key))

    assert failing(found) == {KEPT}


# --- Truncation ---------------------------------------------------------------------


def test_a_history_cut_after_a_visit_is_found(
    honest: SignedLedger, certifier: Path, tmp_path: Path
) -> None:
    honest.record([move(1), move(2)])
    honest.sign()
    visit(certifier, honest, "one")
    short = rewritten(tmp_path, BASE)
    short.sign()
    found = visit(certifier, short, "two")

    assert failing(found.verdict) == {KEPT}
    assert "entries were taken away" in found.verdict.problems[0].sentence


def test_no_check_finds_that_what_nobody_saw_was_cut(
    honest: SignedLedger, certifier: Path
) -> None:
    """Entries after the last checkpoint that left the house can vanish unseen."""
    honest.sign()
    visit(certifier, honest, "one")
    shutil.copy(honest.database, backup := honest.folder / "backup.db")
    honest.record([move(1)])
    shutil.copy(backup, honest.database)
    found = visit(certifier, honest, "two")

    assert found.verdict.holds
    assert any("left off at the end" in told for told in found.verdict.not_checked)


def test_a_checkpoint_that_the_entries_record_cannot_be_left_out_of_a_pack(
    honest: SignedLedger,
) -> None:
    honest.sign()
    pack = honest.pack()
    (pack / "data/checkpoints/9.note").unlink()
    bag_again(pack)
    found = check_pack(pack, pinned=Pinned(honest.key))

    assert {"signed checkpoints", PINNED} <= failing(found)


# --- Two histories ------------------------------------------------------------------


def fork(honest: SignedLedger, tmp_path: Path) -> SignedLedger:
    """A second history that shares the beginning, on a copy of all files."""
    copy = tmp_path / "fork"
    shutil.copytree(honest.folder, copy)
    other = SignedLedger(copy)
    other.clock = honest.clock
    return other


def test_a_second_history_shown_to_another_is_refused_by_a_common_witness(
    honest: SignedLedger, certifier: Path, tmp_path: Path
) -> None:
    """The certifier alone sees one branch only; the witness was shown both."""
    honest.sign()
    other = fork(honest, tmp_path)
    witness = tmp_path / "witness"
    enrol_maker(witness, "maker", str(honest.key))
    honest.record([move(1)])
    shown = honest.sign()
    cosigned = cosigned_by(witness, shown, honest.pack("shown"))
    other.record([move(2)])
    hidden = other.sign()

    with pytest.raises(SealError, match="split into two histories"):
        cosigned_by(witness, hidden, other.pack("hidden"))
    assert len(cosigned.note.signatures) == 2
    # The certifier who was shown the hidden branch alone believes it, and misses the
    # witness's word.
    seen = visit(certifier, other, "two")
    assert seen.verdict.holds
    assert not any("witness" in sentence for sentence in seen.verdict.proved)


def cosigned_by(folder: Path, signed: SignedCheckpoint, pack: Path) -> SignedCheckpoint:
    private = private_key("witness")
    return cosign_by_pack(
        signed,
        pack,
        folder,
        key=witness_key("accountant.example", private),
        private=private,
        moment=datetime(2026, 7, 2, tzinfo=UTC),
    )


def test_a_certifier_who_saw_one_history_refuses_the_other(
    honest: SignedLedger, certifier: Path, tmp_path: Path
) -> None:
    honest.sign()
    other = fork(honest, tmp_path)
    honest.record([move(1)])
    honest.sign()
    visit(certifier, honest, "one")
    other.record([move(2), move(3)])
    other.sign()

    assert failing(visit(certifier, other, "two").verdict) == {KEPT}


# --- A backup that was put back ------------------------------------------------------


def test_a_restored_backup_does_not_sign_a_second_history(honest: SignedLedger) -> None:
    honest.sign()
    shutil.copy(honest.database, backup := honest.folder / "backup.db")
    honest.record([move(1), move(2)])
    honest.sign()
    shutil.copy(backup, honest.database)
    kept = honest.checkpoints.read_bytes()

    with pytest.raises(SealError, match="put back from an older copy"):
        honest.sign()
    honest.record([move(3), move(4), move(5)])
    with pytest.raises(SealError, match="went on differently"):
        honest.sign()
    assert honest.checkpoints.read_bytes() == kept


def test_no_check_in_the_house_finds_a_backup_of_everything_but_the_certifier_does(
    honest: SignedLedger, certifier: Path, tmp_path: Path
) -> None:
    """Database, checkpoints and key put back together: only what left the house tells."""
    honest.sign()
    copy = tmp_path / "copy"
    shutil.copytree(honest.folder, copy)
    honest.record([move(1)])
    honest.sign()
    visit(certifier, honest, "one")
    back = SignedLedger(copy)
    back.clock = honest.clock
    back.record([move(2)])
    back.sign()

    assert failing(visit(certifier, back, "two").verdict) == {KEPT}


# --- Backdating -----------------------------------------------------------------------


def test_an_entry_written_late_with_the_clock_put_back_is_pointed_out(
    honest: SignedLedger,
) -> None:
    honest.record([move(1)])
    honest.clock -= timedelta(days=60)
    honest.record([move(2)])
    verdict = check_pack(honest.pack())

    assert any("goes back 1 time" in told for told in verdict.claimed)
    assert any("first time at entry 10" in told for told in verdict.claimed)


def test_no_check_finds_a_whole_history_written_yesterday_but_nobody_says_it_is_older(
    honest: SignedLedger, tmp_path: Path
) -> None:
    """The moments are the maker's clock. What a witness saw bounds them from above."""
    signed = honest.sign()
    pack = honest.pack()
    verdict = check_pack(pack, pinned=Pinned(honest.key))
    witness = tmp_path / "witness"
    enrol_maker(witness, "maker", str(honest.key))
    key = enrol_witness(
        witness,
        "accountant",
        str(witness_key("accountant.example", private_key("witness"))),
    )
    cosigned = cosigned_by(witness, signed, pack)
    (pack / "data/checkpoints/9.note").write_text(str(cosigned.note), encoding="utf-8")
    bag_again(pack)
    seen = check_pack(pack, pinned=Pinned(honest.key, (key,)))

    assert verdict.holds
    assert not any("were there by" in told for told in verdict.proved)
    assert any("there by 2026-07-02 00:00 UTC" in told for told in seen.proved)


# --- The key is stolen -----------------------------------------------------------------


def test_a_thief_with_the_key_alone_contradicts_what_was_seen(
    honest: SignedLedger, certifier: Path, tmp_path: Path
) -> None:
    honest.sign()
    visit(certifier, honest, "one")
    thief = SignedLedger(tmp_path / "thief").open(lighter(BASE))
    thief.record([move(n) for n in range(5)])
    thief.sign()

    assert failing(visit(certifier, thief, "two").verdict) == {KEPT}


def test_after_theft_the_revoked_key_counts_no_more_and_the_new_one_is_not_taken_unseen(
    honest: SignedLedger, certifier: Path
) -> None:
    honest.sign()
    visit(certifier, honest, "one")
    stolen = honest.key
    honest.record([move(1)])
    honest.sign()
    new = honest.rotate("new")
    honest.revoke(stolen, from_entry=10)
    honest.sign()
    found = visit(certifier, honest, "two")
    sentences = [problem.sentence for problem in found.verdict.problems]
    enrol_maker(certifier, "maker", str(new), replace=True)
    again = visit(certifier, honest, "three")

    # What the pinned key vouches for ends at the revocation: the thief could have
    # signed the rotation as well, so the new line must come from the maker in person.
    assert failing(found.verdict) == {PINNED}
    assert any("in person" in sentence for sentence in sentences)
    assert (again.verdict.holds, again.kept) == (True, 9)
    assert any("others may have the key" in told for told in again.verdict.claimed)


def test_a_thief_who_rotates_first_is_not_found_by_the_pack(
    honest: SignedLedger, certifier: Path, tmp_path: Path
) -> None:
    """With database and key the thief is the maker. Only the maker's word tells."""
    honest.sign()
    visit(certifier, honest, "one")
    thief = fork(honest, tmp_path)
    thief.rotate("thief")
    thief.sign()
    taken = visit(certifier, thief, "two")
    honest.record([move(1)])
    honest.sign()

    assert taken.verdict.holds
    assert any("key was changed 1 time" in told for told in taken.verdict.proved)
    # The true ledger no longer continues what was seen, so it comes out at the next
    # visit, and the maker's telephone call settles which of the two is true.
    assert KEPT in failing(visit(certifier, honest, "three").verdict)


def test_a_routine_rotation_is_followed_without_enrolling_again(
    honest: SignedLedger, certifier: Path
) -> None:
    honest.sign()
    visit(certifier, honest, "one")
    honest.rotate("second")
    honest.sign()
    honest.rotate("third")
    honest.sign()
    found = visit(certifier, honest, "two")

    assert found.verdict.holds
    assert any("changed 2 times" in told for told in found.verdict.proved)


def test_a_new_key_after_the_old_one_was_lost_is_not_taken_unseen(
    honest: SignedLedger, certifier: Path
) -> None:
    honest.sign()
    visit(certifier, honest, "one")
    honest.rotate("new", old_is_lost=True)
    honest.sign()
    found = visit(certifier, honest, "two")

    assert failing(found.verdict) == {PINNED}
    assert "lost or revoked" in found.verdict.problems[0].sentence


def test_a_revoked_key_signs_no_more(honest: SignedLedger) -> None:
    honest.sign()
    honest.revoke(honest.key, from_entry=9)

    with pytest.raises(RefusedError, match="revoked from entry 9"):
        honest.sign()


# --- Another ledger, another key ---------------------------------------------------------


def test_a_ledger_opened_anew_is_not_the_one_that_was_enrolled(
    certifier: Path, tmp_path: Path
) -> None:
    fresh = SignedLedger(tmp_path / "fresh", seed="another").open(BASE)
    fresh.sign()

    with pytest.raises(NotFoundError, match="nobody who signs as"):
        visit(certifier, fresh, "one")


def test_another_key_under_the_enrolled_name_is_not_believed(
    honest: SignedLedger, certifier: Path, tmp_path: Path
) -> None:
    """The pack's key is never taken, whatever it is called."""
    false = SignedLedger(tmp_path / "false", seed="another")
    false.key = Key(honest.key.name, false.key.algorithm, false.key.public)
    false.open(BASE)
    false.sign()
    found = visit(certifier, false, "one")

    assert failing(found.verdict) == {PINNED}
    assert found.remembered is None


# --- What no ledger can see ---------------------------------------------------------------


def test_no_check_finds_an_unrecorded_purchase_or_a_false_weight(
    honest: SignedLedger, certifier: Path
) -> None:
    """Goods that came and were never written down, or weighed wrong: the pack holds."""
    honest.sign()
    found = visit(certifier, honest, "one")

    assert found.verdict.holds
    assert any("never written down" in told for told in found.verdict.not_checked)
    assert any("weighed wrong" in told for told in found.verdict.not_checked)


def test_no_check_finds_maker_and_witness_in_collusion(
    honest: SignedLedger, certifier: Path, tmp_path: Path
) -> None:
    """A witness who cosigns whatever is shown is worth nothing; a second one helps."""
    key = witness_key("accountant.example", private_key("witness"))
    enrol_witness(certifier, "accountant", str(key))
    honest.sign()
    forged = rewritten(tmp_path, lighter(BASE))
    signed = forged.sign()
    blind = tmp_path / "blind"
    enrol_maker(blind, "maker", str(forged.key))
    pack = forged.pack("one")
    cosigned = cosigned_by(blind, signed, pack)
    (pack / "data/checkpoints/9.note").write_text(str(cosigned.note), encoding="utf-8")
    bag_again(pack)
    found = check_pack_for(certifier, pack)

    assert found.verdict.holds
    assert any("accountant.example" in told for told in found.verdict.proved)
