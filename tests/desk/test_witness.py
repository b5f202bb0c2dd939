"""A witness refuses whatever does not continue what was seen, each time for its reason."""

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from ledger.chain.checkpoint import SignedCheckpoint
from ledger.chain.note import Key, Note
from ledger.desk.check import check_pack_for, kept_from, pinned_by_hand
from ledger.desk.checkpoint import restore_checkpoints
from ledger.desk.enrolment import enrol_maker, maker_signing_as, makers
from ledger.desk.signed import extension_from, read_checkpoint, signed_so_far
from ledger.desk.witness import (
    add_cosignature,
    cosign_by_pack,
    cosign_by_proof,
    line_file,
    read_witness_key,
    witness_key,
)
from ledger.errors import (
    InputError,
    LedgerError,
    NotFoundError,
    RefusedError,
    SealError,
)
from ledger.store.checkpoint_file import read_checkpoint_file
from tests.desk.signed_ledger import SignedLedger, private_key
from tests.desk.small_ledger import COOPERATIVE, CUSTOMERS

PRIVATE = private_key("witness")
KEY = witness_key("accountant.example", PRIVATE)
NOW = datetime(2026, 7, 2, tzinfo=UTC)


@pytest.fixture
def ledger(tmp_path: Path) -> SignedLedger:
    return SignedLedger(tmp_path / "maker").open([COOPERATIVE])


@pytest.fixture
def folder(tmp_path: Path, ledger: SignedLedger) -> Path:
    enrol_maker(tmp_path / "state", "maker", str(ledger.key))
    return tmp_path / "state"


def by_pack(signed: SignedCheckpoint, pack: Path, folder: Path) -> SignedCheckpoint:
    return cosign_by_pack(signed, pack, folder, key=KEY, private=PRIVATE, moment=NOW)


def by_proof(
    signed: SignedCheckpoint, ledger: SignedLedger, old: int, folder: Path
) -> SignedCheckpoint:
    with ledger.reading() as rows:
        proof = str(extension_from(rows, ledger.checkpoints, old))
    return cosign_by_proof(signed, proof, folder, key=KEY, private=PRIVATE, moment=NOW)


def refused(error: type[LedgerError], said: str, attempt: Callable[[], object]) -> None:
    with pytest.raises(error, match=said):
        attempt()


def test_a_pack_made_before_the_checkpoint_is_not_enough(
    ledger: SignedLedger, folder: Path
) -> None:
    pack = ledger.pack()
    ledger.record([CUSTOMERS[0]])
    signed = ledger.sign()

    refused(SealError, "fewer than the 3", lambda: by_pack(signed, pack, folder))


def test_a_checkpoint_of_other_entries_than_the_packs_is_refused(
    ledger: SignedLedger, folder: Path, tmp_path: Path
) -> None:
    other = SignedLedger(tmp_path / "other").open([CUSTOMERS[0]])
    signed, pack = other.sign(), ledger.pack()

    refused(SealError, "not that of the entries", lambda: by_pack(signed, pack, folder))
    assert maker_signing_as(folder, ledger.key.name).seen == ()


def test_a_key_that_nothing_vouches_for_is_refused(
    ledger: SignedLedger, folder: Path
) -> None:
    ledger.rotate("new", old_is_lost=True)
    signed, pack = ledger.sign(), ledger.pack()

    refused(SealError, "vouches for", lambda: by_pack(signed, pack, folder))


def test_a_revoked_key_is_refused(ledger: SignedLedger, folder: Path) -> None:
    signed = ledger.sign()
    ledger.revoke(ledger.key, from_entry=1)

    refused(
        SealError, "others may have it", lambda: by_pack(signed, ledger.pack(), folder)
    )


def test_another_key_under_the_name_that_is_enrolled_is_refused(
    ledger: SignedLedger, folder: Path, tmp_path: Path
) -> None:
    false = SignedLedger(tmp_path / "false", seed="another")
    false.key = Key(ledger.key.name, false.key.algorithm, false.key.public)
    false.open([COOPERATIVE])
    signed, pack = false.sign(), false.pack()

    refused(SealError, "is none of the ledger's", lambda: by_pack(signed, pack, folder))


def test_a_proof_must_start_where_the_witness_stopped(
    ledger: SignedLedger, folder: Path
) -> None:
    by_proof(ledger.sign(), ledger, 0, folder)
    ledger.record([CUSTOMERS[0]])
    signed = ledger.sign()

    refused(RefusedError, "proof 2", lambda: by_proof(signed, ledger, 1, folder))
    assert by_proof(signed, ledger, 2, folder).size == 4


def test_a_record_cut_below_what_was_seen_is_refused(
    ledger: SignedLedger, folder: Path, tmp_path: Path
) -> None:
    ledger.record([CUSTOMERS[0]])
    by_pack(ledger.sign(), ledger.pack(), folder)
    short = SignedLedger(tmp_path / "short").open([COOPERATIVE])
    signed, pack = short.sign(), short.pack()

    refused(RefusedError, "seen already", lambda: by_pack(signed, pack, folder))


def test_a_cosignature_is_kept_only_if_it_is_one(
    ledger: SignedLedger, folder: Path, tmp_path: Path
) -> None:
    signed = ledger.sign()
    cosigned = by_pack(signed, ledger.pack(), folder)
    kept = read_checkpoint_file(ledger.checkpoints) or ()
    elsewhere = SignedLedger(tmp_path / "other").open([CUSTOMERS[1]]).sign()
    file = ledger.checkpoints

    refused(
        RefusedError, "did not cosign", lambda: add_cosignature(file, kept, signed, KEY)
    )
    refused(
        InputError, "none that was", lambda: add_cosignature(file, kept, elsewhere, KEY)
    )
    assert add_cosignature(file, kept, cosigned, KEY) == NOW


def test_a_witness_needs_the_line_of_its_own_key(tmp_path: Path) -> None:
    file = tmp_path / "w.key"

    refused(InputError, "witness-key", lambda: read_witness_key(file))
    line_file(file).write_text(str(SignedLedger(tmp_path / "x").key))
    refused(InputError, "is not a witness's", lambda: read_witness_key(file))
    line_file(file).write_bytes(b"\xff")
    refused(InputError, "witness-key", lambda: read_witness_key(file))
    line_file(file).write_text(f"{KEY}\n")
    assert read_witness_key(file) == KEY


def test_a_folder_that_does_not_hold_keys_is_said(folder: Path) -> None:
    (folder / "makers" / "other.key").write_bytes(b"\xff")

    refused(InputError, "does not hold a key", lambda: list(makers(folder)))


def test_a_pack_without_a_key_is_of_nobody_enrolled(
    empty_pack: Path, folder: Path
) -> None:
    refused(NotFoundError, "names no key", lambda: check_pack_for(folder, empty_pack))


@pytest.fixture
def empty_pack(tmp_path: Path) -> Path:
    unsigned = SignedLedger(tmp_path / "unsigned")
    (unsigned.folder / "pack" / "data").mkdir(parents=True)
    return unsigned.folder / "pack"


def test_what_was_kept_is_a_checkpoint_or_a_tree_head(
    ledger: SignedLedger, tmp_path: Path
) -> None:
    signed = ledger.sign()
    (tmp_path / "1.note").write_text(str(signed.note))
    (tmp_path / "no.note").write_bytes(b"\xff")
    root = signed.checkpoint.root

    assert kept_from(str(tmp_path / "1.note")) == kept_from(f"2:{root.hex()}")
    for wrong in ("", "2", "x:y", f"2:{root.hex()[:-2]}", f"-2:{root.hex()}"):
        refused(InputError, "is not a file", lambda wrong=wrong: kept_from(wrong))  # type: ignore[misc]
    refused(InputError, "not a signed", lambda: read_checkpoint(tmp_path / "no.note"))


def test_a_witnesss_key_is_no_makers(ledger: SignedLedger) -> None:
    refused(InputError, "is a witness's", lambda: pinned_by_hand(str(KEY), (), None))
    assert pinned_by_hand(str(ledger.key), (str(KEY),), None).witnesses == (KEY,)


def test_a_note_that_another_key_signed_does_not_stand_for_what_was_lost(
    ledger: SignedLedger,
) -> None:
    signed = ledger.sign()
    ledger.checkpoints.unlink()
    false = SignedCheckpoint(signed.checkpoint, Note(signed.note.text, ()))
    with ledger.reading() as rows:
        file = ledger.checkpoints

        refused(SealError, "not signed", lambda: restore_checkpoints(rows, file, false))
        assert not file.exists()
        assert restore_checkpoints(rows, file, signed) == 1
        assert signed_so_far(rows, lambda: file).entries == 2


def test_what_was_signed_but_not_recorded_is_recorded_at_the_next_signing(
    ledger: SignedLedger,
) -> None:
    """The machine stopped after the file was written and before the commit."""
    before = ledger.database.read_bytes()
    signed = ledger.sign()
    for suffix in ("-wal", "-shm"):
        Path(f"{ledger.database}{suffix}").unlink(missing_ok=True)
    ledger.database.write_bytes(before)
    again = ledger.signing()

    assert (again.signed, again.is_new) == (signed, False)
    assert read_checkpoint_file(ledger.checkpoints) == (signed,)
    with ledger.reading() as rows:
        assert rows("SELECT COUNT(*) FROM entry") == [(3,)]
