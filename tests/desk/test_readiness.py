"""ledger.desk.readiness: how far a ledger is signed, and how far others have seen it."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from ledger.books.readiness import Readiness, Signed
from ledger.desk.books import open_books
from ledger.desk.enrolment import enrol_maker
from ledger.desk.readiness import Answers, signed_and_seen
from ledger.desk.witness import add_cosignature, cosign_by_pack, witness_key
from ledger.store.checkpoint_file import read_checkpoint_file
from tests.desk.signed_ledger import TODAY, SignedLedger, private_key
from tests.desk.small_ledger import COOPERATIVE, CUSTOMERS

SEEN_AT = datetime(2026, 7, 2, tzinfo=UTC)


@pytest.fixture
def ledger(tmp_path: Path) -> SignedLedger:
    """Two entries, the opening and a cooperative, and nothing signed."""
    return SignedLedger(tmp_path / "maker").open([COOPERATIVE])


def asked(ledger: SignedLedger) -> Signed:
    with ledger.reading() as rows:
        return signed_and_seen(
            rows, lambda: ledger.checkpoints, lambda: ledger.timestamps
        )


def witnessed(ledger: SignedLedger, state: Path) -> None:
    private = private_key("witness")
    key = witness_key("accountant.example", private)
    signed, pack = ledger.sign(), ledger.pack()
    enrol_maker(state, "maker", str(ledger.key))
    cosigned = cosign_by_pack(
        signed, pack, state, key=key, private=private, moment=SEEN_AT
    )
    kept = read_checkpoint_file(ledger.checkpoints) or ()
    add_cosignature(ledger.checkpoints, kept, cosigned, key)


def test_nothing_is_signed_at_first(ledger: SignedLedger) -> None:
    assert asked(ledger) == Signed(entries=2)


def test_the_entry_that_records_a_checkpoint_does_not_wait_for_the_next(
    ledger: SignedLedger,
) -> None:
    ledger.sign()

    found = asked(ledger)
    assert (found.entries, found.covered, found.since) == (3, 2, 0)
    assert found.signed_at == ledger.clock
    assert (found.seen, found.seen_by, found.seen_at) == (0, "", None)


def test_what_is_recorded_since_is_counted(ledger: SignedLedger) -> None:
    ledger.sign()
    ledger.record(CUSTOMERS[:2])

    assert (asked(ledger).covered, asked(ledger).since) == (2, 2)


def test_the_witness_and_the_moment_are_told(
    ledger: SignedLedger, tmp_path: Path
) -> None:
    witnessed(ledger, tmp_path / "state")
    ledger.record(CUSTOMERS[:1])
    ledger.sign()

    found = asked(ledger)
    assert (found.seen, found.seen_by) == (2, "accountant.example")
    assert found.seen_at == SEEN_AT
    assert found.covered > found.seen


def test_a_file_of_checkpoints_that_is_lost_is_a_problem(ledger: SignedLedger) -> None:
    ledger.checkpoints.unlink()

    found = asked(ledger)
    assert found.problem is not None
    assert "is missing" in found.problem
    assert not found.is_broken


def test_a_file_that_was_cut_is_broken(ledger: SignedLedger) -> None:
    ledger.sign()
    ledger.checkpoints.write_bytes(b"")

    found = asked(ledger)
    assert found.problem is not None
    assert "was cut" in found.problem
    assert found.is_broken


def test_an_answer_is_kept_until_something_is_recorded(ledger: SignedLedger) -> None:
    answers = Answers()

    def answer() -> Readiness:
        with ledger.reading() as rows, open_books(rows) as books:
            return answers.on(books, TODAY, Signed(entries=2))

    first, again = answer(), answer()
    ledger.record(CUSTOMERS[:1])
    after = answer()

    assert again.masses is first.masses
    assert after.masses is not first.masses


def test_how_far_it_is_signed_is_told_anew_each_time(ledger: SignedLedger) -> None:
    answers = Answers()
    with ledger.reading() as rows, open_books(rows) as books:
        for seen in (0, 2):
            found = answers.on(books, TODAY, Signed(entries=2, seen=seen))
            assert found.signed.seen == seen


def test_only_the_last_few_days_asked_about_are_kept(ledger: SignedLedger) -> None:
    answers = Answers()
    with ledger.reading() as rows, open_books(rows) as books:
        first = answers.on(books, TODAY, Signed(entries=2))
        for days in range(1, 5):
            answers.on(books, TODAY - timedelta(days=days), Signed(entries=2))
        again = answers.on(books, TODAY, Signed(entries=2))

    assert again.masses is not first.masses
