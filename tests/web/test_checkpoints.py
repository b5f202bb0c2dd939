"""Signing on the pages: one step, what witnesses give back, and whether all holds."""

import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from ledger import wiring
from ledger.chain.checkpoint import SignedCheckpoint, parse_signed
from ledger.chain.note import Algorithm, Key, sign, signed_by
from ledger.desk.signed import keys_of
from ledger.store.entries import head
from ledger.store.key_file import read_key_file, write_key_file
from ledger.trade.role import Role
from ledger.web.office import Office
from tests.web.conftest import Visit, Visitor, visit_as

NOON = int(datetime(2026, 11, 1, 12, tzinfo=UTC).timestamp())


def sign_all(someone: Visitor) -> SignedCheckpoint:
    """Sign and return the last note that the page gives out."""
    assert someone.submit("/checkpoints").status_code == 303
    with_links = someone.get("/checkpoints").text
    size = with_links.split('href="/checkpoints/')[1].split('"')[0]
    return parse_signed(someone.get(f"/checkpoints/{size}").text)


def test_all_entries_are_signed_and_the_note_holds(office: Office) -> None:
    someone = visit_as(office, Role.COMPLIANCE)
    with office.rows() as rows:
        size, _ = head(rows)
        key = keys_of(rows)[-1].key

    note = sign_all(someone)

    assert note.size == size
    assert signed_by(note.note, [key])
    assert str(key) in someone.get("/checkpoints").text
    assert "All entries are signed" in someone.get("/packs").text


def test_signing_twice_signs_once(visitor: Visit) -> None:
    someone = visitor(Role.COMPLIANCE)
    first = sign_all(someone)

    someone.submit("/checkpoints")

    assert "Nothing was recorded since" in someone.get("/checkpoints").text
    assert sign_all(someone) == first


def test_a_witness_is_believed_only_under_its_key(visitor: Visit) -> None:
    someone = visitor(Role.COMPLIANCE)
    note = sign_all(someone)
    private, other = wiring.new_private_key(), wiring.new_private_key()
    key, wrong = (
        Key(
            "accountant.example",
            Algorithm.COSIGNATURE,
            one.public_key().public_bytes_raw(),
        )
        for one in (private, other)
    )
    cosigned = note.with_signatures(
        [sign(note.note.text, key, private, moment=NOON)]
    ).note

    refused = someone.submit(
        "/checkpoints/cosignatures", note=str(cosigned), key=str(wrong)
    )
    assert refused.status_code == 409
    assert "did not cosign" in refused.text
    assert "accountant.example" in refused.text

    as_a_form_sends_it = str(cosigned).replace("\n", "\r\n")
    taken = someone.submit(
        "/checkpoints/cosignatures", note=as_a_form_sends_it, key=str(key)
    )
    assert taken.status_code == 303
    told = someone.get("/checkpoints").text
    assert "accountant.example saw" in told
    assert signed_by(
        parse_signed(someone.get(f"/checkpoints/{note.size}").text).note, [key]
    )


def test_a_locked_key_asks_for_its_passphrase(office: Office) -> None:
    path = office.place.key_path
    private = read_key_file(path, passphrase=None)
    path.unlink()
    write_key_file(path, private, passphrase=b"four words together here")
    someone = visit_as(office, Role.COMPLIANCE)

    assert "Passphrase of the key" in someone.get("/checkpoints").text
    for passphrase in ("", "guessed"):
        refused = someone.submit("/checkpoints", passphrase=passphrase)
        assert refused.status_code == 409
        assert "passphrase" in refused.text
    signed = someone.submit("/checkpoints", passphrase="four words together here")
    assert signed.status_code == 303


def test_an_untouched_ledger_holds_and_a_changed_one_says_where(office: Office) -> None:
    someone = visit_as(office, Role.COMPLIANCE)
    assert "It holds: bytes" in someone.submit("/checkpoints/verify").text

    change_entry(office.place.path, 7)

    told = someone.submit("/checkpoints/verify").text
    assert "It does not hold" in told
    assert "entry 7" in told


def change_entry(path: Path | None, seq: int) -> None:
    assert path is not None
    with closing(sqlite3.connect(path)) as database, database:
        triggers = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        for (name,) in database.execute(triggers).fetchall():
            database.execute(f"DROP TRIGGER {name}")
        database.execute(
            "UPDATE entry SET raw = CAST(replace(raw, 'recorded_by', 'recorded_bz') "
            "AS BLOB) WHERE seq = ?",
            (seq,),
        )


def test_a_lost_file_of_checkpoints_is_told_and_nothing_is_signed(
    office: Office,
) -> None:
    office.place.checkpoints_path.unlink()
    someone = visit_as(office, Role.COMPLIANCE)

    assert "is missing, so nothing is signed" in someone.get("/checkpoints").text
    assert someone.submit("/checkpoints").status_code == 404


def test_a_note_that_was_never_signed_is_not_found(reader: Visit) -> None:
    assert reader(Role.COMPLIANCE).get("/checkpoints/123456").status_code == 404
