"""Which key signs, and how far its signatures count.

Keys are those of RFC 8032, section 7.1; the notes are as C2SP signed-note and
tlog-checkpoint have them.
"""

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.books.effect import Recorded
from ledger.books.finding import EntryRefusedError
from ledger.books.judge import judge
from ledger.books.memory import MemoryShelf
from ledger.books.opening import parse_body
from ledger.books.signing import (
    KeyTerm,
    key_terms,
    term_for,
    terms_of,
    trusted_terms,
)
from ledger.chain.checkpoint import Checkpoint
from ledger.chain.note import Algorithm, Key, Note, sign
from ledger.chain.rotation import rotation_text
from ledger.errors import SealError
from tests.chain.test_rotation import PRIVATES
from tests.world import assert_names_fields

Body = dict[str, Any]
ROOT = bytes(range(32))
DAY = date(2026, 1, 2)


def key(place: int) -> Key:
    public = PRIVATES[place].public_key().public_bytes_raw()
    return Key("maker/x", Algorithm.NOTE, public)


def opening(line: str | None) -> Body:
    return {
        "format_version": 1,
        "organisation": "maker",
        "organisation_name": "Invented Maker",
        "sites": [{"site": "works", "place": "Works Lane 1", "country": "CH"}],
        **({"public_key": line} if line else {}),
    }


def checkpoint(size: int, *, by: int = 0, root: bytes = ROOT, **other: str) -> Body:
    said = {"origin": "maker/x", **other}
    text = str(Checkpoint(said["origin"], size, root))
    note = Note(text, (sign(text, key(by), PRIVATES[by]),))
    return {"size": size, "root": root.hex(), "note": str(note)}


def rotation(old: int, new: int, *, lost: bool = False) -> Body:
    text = rotation_text(key(old), key(new))
    signers = (new,) if lost else (old, new)
    note = Note(text, tuple(sign(text, key(n), PRIVATES[n]) for n in signers))
    return {
        "old_key": str(key(old)),
        "new_key": str(key(new)),
        "reason": "test",
        "note": str(note),
    }


def revocation(of: int, from_entry: int) -> Body:
    return {"key": str(key(of)), "from_entry": from_entry, "reason": "test"}


@dataclass
class Ledger:
    """Entries on a shelf in memory, one after another."""

    line: str | None = str(key(0))
    shelf: MemoryShelf = field(default_factory=MemoryShelf)
    size: int = 0

    def __post_init__(self) -> None:
        self.add("ledger.opened", opening(self.line))

    def add(self, kind: str, body: Body) -> None:
        judge(
            self.shelf,
            Recorded(
                seq=self.size,
                slot=self.size,
                occurred_on=DAY,
                recorded_at=datetime(2026, 1, 3, tzinfo=UTC) + timedelta(self.size),
                recorded_by="clerk",
                record=parse_body(kind, body),
            ),
        )
        self.size += 1

    def fill(self, number: int) -> "Ledger":
        for count in range(number):
            name = f"p{self.size}-{count}"
            body = {"party": name, "roles": ["customer"], "country": "CH"}
            self.add("party.registered", {**body, "legal_name": name})
        return self

    def refused(self, kind: str, body: Body) -> str:
        """Return the rule that refuses an entry, after a look at the field it names."""
        with pytest.raises(EntryRefusedError) as caught:
            self.add(kind, body)
        assert_names_fields(parse_body(kind, body), caught.value)
        [finding] = caught.value.findings
        return finding.rule


# --- Checkpoints -----------------------------------------------------------------


def test_a_checkpoint_by_the_key_in_force_is_recorded() -> None:
    ledger = Ledger().fill(2)
    ledger.add("checkpoint.signed", checkpoint(3))

    assert [found.seq for found in ledger.shelf.of_kind("checkpoint.signed")] == [3]


@pytest.mark.parametrize(
    ("body", "rule"),
    [
        (checkpoint(4), "checkpoint-ahead"),
        (checkpoint(3, by=1), "note-unsigned"),
        (checkpoint(3) | {"root": "0" * 64}, "note-differs"),
        (checkpoint(2) | {"size": 3}, "note-differs"),
        (checkpoint(3, origin="other/x"), "note-differs"),
        (checkpoint(3) | {"note": "no note"}, "note-unsigned"),
        (
            checkpoint(3) | {"note": checkpoint(3)["note"].replace("— ", "— x")},
            "note-unsigned",
        ),
    ],
    ids=["ahead", "other key", "root", "size", "origin", "no note", "no such signer"],
)
def test_a_checkpoint_that_is_not_what_was_signed_is_refused(
    body: Body, rule: str
) -> None:
    assert Ledger().fill(2).refused("checkpoint.signed", body) == rule


def test_a_spoiled_signature_is_refused() -> None:
    body = checkpoint(3)
    body["note"] = checkpoint(2)["note"].replace("\n2\n", "\n3\n")

    assert Ledger().fill(2).refused("checkpoint.signed", body) == "note-unsigned"


@pytest.mark.parametrize("size", [1, 3])
def test_each_checkpoint_covers_more_than_the_one_before(size: int) -> None:
    ledger = Ledger().fill(2)
    ledger.add("checkpoint.signed", checkpoint(3))

    assert ledger.refused("checkpoint.signed", checkpoint(size)) == "checkpoint-behind"


def test_a_ledger_without_a_key_signs_nothing() -> None:
    ledger = Ledger(line=None).fill(2)

    assert ledger.refused("checkpoint.signed", checkpoint(3)) == "no-key"
    assert key_terms(ledger.shelf) == ()


def test_the_first_key_signs_from_before_the_first_entry_on() -> None:
    """A tree head over no entries is one, too (RFC 9162, section 2.1.1)."""
    terms = key_terms(Ledger().shelf)

    assert term_for(terms, 0).key == term_for(terms, 1).key == key(0)


# --- Rotations ---------------------------------------------------------------------


def test_a_rotation_puts_another_key_in_force_from_its_entry_on() -> None:
    ledger = Ledger().fill(2)
    ledger.add("key.rotated", rotation(0, 1))
    terms = key_terms(ledger.shelf)

    assert [term.key for term in terms] == [key(0), key(1)]
    # The rotation is entry 3: a checkpoint over 3 entries does not cover it.
    assert term_for(terms, 3).key == key(0)
    assert term_for(terms, 4).key == key(1)
    ledger.fill(1).add("checkpoint.signed", checkpoint(4, by=1))


def test_the_old_key_signs_what_came_before_even_later() -> None:
    ledger = Ledger().fill(2)
    ledger.add("key.rotated", rotation(0, 1))
    ledger.add("checkpoint.signed", checkpoint(3, by=0))

    assert ledger.fill(1).refused("checkpoint.signed", checkpoint(5, by=0)) == (
        "note-unsigned"
    )


@pytest.mark.parametrize(
    ("body", "rule"),
    [
        (rotation(1, 2), "key-not-in-force"),
        (rotation(0, 1) | {"note": rotation(0, 2)["note"]}, "rotation-unsigned"),
        (rotation(0, 1) | {"note": checkpoint(1)["note"]}, "rotation-unsigned"),
        (rotation(0, 1) | {"new_key": str(key(0))}, "rotation-unsigned"),
    ],
)
def test_a_rotation_that_is_not_signed_is_refused(body: Body, rule: str) -> None:
    assert Ledger().refused("key.rotated", body) == rule


def test_a_key_is_never_used_again() -> None:
    ledger = Ledger()
    ledger.add("key.rotated", rotation(0, 1))

    assert ledger.refused("key.rotated", rotation(1, 0)) == "name-taken"


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("key.rotated", rotation(0, 1)),
        ("key.revoked", revocation(0, 1)),
        ("checkpoint.signed", checkpoint(1)),
    ],
)
def test_what_was_signed_is_never_corrected(kind: str, body: Body) -> None:
    ledger = Ledger()
    ledger.add(kind, body)
    void = {"target": 1, "reason": "to be rid of it"}

    assert ledger.refused("correction", void) == "not-correctable"


@pytest.mark.parametrize("line", [None, str(key(1))])
def test_correcting_the_opening_leaves_the_key(line: str | None) -> None:
    other = {"entry_kind": "ledger.opened", "occurred_on": "2026-01-02"}
    wrong = {
        "target": 0,
        "reason": "x",
        "replacement": {**other, "body": opening(line)},
    }

    assert Ledger().refused("correction", wrong) == "opening-key-differs"
    right = opening(str(key(0))) | {"organisation_name": "Invented Makers"}
    ledger = Ledger()
    ledger.add("correction", wrong | {"replacement": {**other, "body": right}})
    assert key_terms(ledger.shelf)[0].key == key(0)


# --- Revocations -----------------------------------------------------------------------


def test_a_revoked_key_counts_up_to_the_entry_named_and_no_further() -> None:
    ledger = Ledger().fill(4)
    ledger.add("key.revoked", revocation(0, 3))
    [term] = key_terms(ledger.shelf)

    assert [term.counts_for(size) for size in (1, 3, 4, 9)] == [
        *(True, True),
        *(False, False),
    ]
    assert ledger.refused("checkpoint.signed", checkpoint(4)) == "key-revoked"


def test_the_earliest_revocation_counts() -> None:
    ledger = Ledger().fill(4)
    ledger.add("key.revoked", revocation(0, 3))
    ledger.add("key.revoked", revocation(0, 2))

    assert key_terms(ledger.shelf)[0].revoked_from == 2
    assert ledger.refused("key.revoked", revocation(0, 2)) == "revoked-already"


@pytest.mark.parametrize(
    ("body", "rule"),
    [(revocation(1, 0), "unknown-key"), (revocation(0, 2), "revoked-ahead")],
)
def test_a_revocation_names_a_key_and_an_entry_that_are_there(
    body: Body, rule: str
) -> None:
    assert Ledger().refused("key.revoked", body) == rule


# --- Whom to trust ------------------------------------------------------------------------


def keys(terms: tuple[KeyTerm, ...]) -> list[Key]:
    return [term.key for term in terms]


def test_trust_follows_signed_rotations_both_ways() -> None:
    ledger = Ledger()
    ledger.add("key.rotated", rotation(0, 1))
    ledger.add("key.rotated", rotation(1, 2))
    terms = key_terms(ledger.shelf)

    for place in range(3):
        assert keys(trusted_terms(terms, key(place))) == [key(0), key(1), key(2)]


def test_trust_does_not_pass_a_rotation_that_the_old_key_did_not_sign() -> None:
    ledger = Ledger()
    ledger.add("key.rotated", rotation(0, 1, lost=True))
    terms = key_terms(ledger.shelf)

    assert keys(trusted_terms(terms, key(0))) == [key(0)]
    assert keys(trusted_terms(terms, key(1))) == [key(0), key(1)]


@pytest.mark.parametrize(("from_entry", "trusted"), [(1, 1), (2, 2)])
def test_trust_does_not_pass_a_rotation_after_the_key_was_stolen(
    from_entry: int, trusted: int
) -> None:
    """The rotation is entry 1; the thief could have signed it from entry 1 on."""
    ledger = Ledger()
    ledger.add("key.rotated", rotation(0, 1))
    ledger.fill(2).add("key.revoked", revocation(0, from_entry))

    assert len(trusted_terms(key_terms(ledger.shelf), key(0))) == trusted


def test_a_key_that_the_ledger_does_not_know_is_trusted_with_nothing() -> None:
    assert trusted_terms(key_terms(Ledger().shelf), key(2)) == ()


def test_a_rotation_from_another_key_than_the_one_in_force_does_not_hold() -> None:
    """In a pack no books stood guard over what was recorded."""
    ledger = Ledger()
    ledger.add("key.rotated", rotation(0, 1))
    rotations = ledger.shelf.of_kind("key.rotated")

    with pytest.raises(SealError, match="not in force"):
        terms_of(str(key(2)), rotations=rotations, revocations=())


@given(st.lists(st.integers(0, 40), max_size=3), st.integers(0, 40))
def test_a_signature_counts_as_far_as_no_revocation_reaches(
    revoked: list[int], size: int
) -> None:
    term = KeyTerm(key(0), 0, vouched=True, revoked_from=min(revoked, default=None))

    assert term.counts_for(size) == all(size <= entry for entry in revoked)
