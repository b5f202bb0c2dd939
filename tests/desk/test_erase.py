"""Erasing a person's data: gone from the ledger, recorded, and nothing else is touched."""

import base64
import json
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from itertools import count
from pathlib import Path

import pytest

from ledger.audit.agreement import compare_packs
from ledger.desk.check import check_pack_at
from ledger.desk.erase import Erasable, caution, erase, find_erasable
from ledger.desk.folder import record_files
from ledger.desk.rebuild import rebuild
from ledger.desk.replay import shelf_as_recorded
from ledger.desk.verify import verify
from ledger.desk.writing import Writing
from ledger.errors import ConflictError, NotFoundError
from ledger.store.engine import empty_log, open_engine, rows_of
from ledger.trade.control import DisclosureErased
from tests.audit.two_schemes import part_of
from tests.desk.small_ledger import SMALL, fill, opened

CORRECTED = (
    *SMALL,
    (
        "correction",
        "2026-05-02",
        {
            "target": 1,
            "reason": "moved",
            "replacement": {
                "entry_kind": "party.registered",
                "occurred_on": "2026-01-02",
                "body": {
                    "party": "coop",
                    "roles": ["grower cooperative"],
                    "country": "PE",
                    "legal_name": "Invented Growers of the Hill",
                    "contacts": [{"person": "Somebody Invented", "phone": "+51 1"}],
                },
            },
        },
    ),
)
SECRETS = (
    b"Invented Growers",
    b"Invented Growers of the Hill",
    b"Somebody Invented",
    b"Hill Road 3",
)


@pytest.fixture
def ledger(tmp_path: Path) -> Path:
    fill(tmp_path / "ledger.db", CORRECTED)
    return tmp_path / "ledger.db"


def erased(ledger: Path, party: str = "coop", *, members: tuple[str, ...] = ()) -> int:
    """Erase a party's data, in a transaction of its own."""
    engine = open_engine(f"sqlite:///{ledger}")
    salts = (number.to_bytes(16, "big") for number in count(10_000))
    with engine.begin() as connection:
        writing = Writing(
            rows_of(connection),
            by="officer",
            now=lambda: datetime(2026, 7, 1, tzinfo=UTC),
            new_salt=lambda: next(salts),
        )
        found = (
            find_erasable(writing.rows, party, members=members)
            if members
            else find_erasable(writing.rows, party)
        )
        seq = erase(writing, found, reason="asked for", on=date(2026, 7, 1))
    empty_log(engine)
    engine.dispose()
    return seq


def stored(ledger: Path) -> bytes:
    """Return every byte of the files that hold a ledger."""
    return b"".join(
        path.read_bytes() for path in sorted(ledger.parent.glob(ledger.name + "*"))
    )


def in_base64(text: bytes) -> set[bytes]:
    """Return what a text looks like inside base64url, at any of three offsets."""
    found = set()
    for offset in range(3):
        encoded = base64.urlsafe_b64encode(b"x" * offset + text)
        found.add(encoded[4 if offset else 0 : -4])
    return found


def test_what_is_erased_is_in_no_file_of_the_ledger(ledger: Path) -> None:
    before = stored(ledger)
    erased(ledger)
    after = stored(ledger)

    for secret in SECRETS:
        assert any(form in before for form in in_base64(secret)), secret
        assert not any(form in after for form in in_base64(secret)), secret


def test_it_is_recorded_what_was_erased_why_and_by_whom(ledger: Path) -> None:
    with opened(ledger) as rows:
        found = find_erasable(rows, "coop")
    seq = erased(ledger)

    with opened(ledger) as rows:
        shelf = shelf_as_recorded(rows, datetime(2027, 1, 1, tzinfo=UTC))
    [entry] = shelf.of_kind("disclosure.erased")
    assert entry.record == DisclosureErased(
        party="coop",
        members=("legal_name", "address", "contacts"),
        digests=tuple(sorted(digest for _, digest in found.digests)),
        reason="asked for",
    )
    assert (entry.seq, entry.recorded_by) == (seq, "officer")
    assert len(found.digests) == 4


def test_the_ledger_holds_after_it(ledger: Path) -> None:
    erased(ledger)

    with opened(ledger) as rows:
        assert verify(rows).troubles == ()
    engine = open_engine(f"sqlite:///{ledger}")
    with engine.begin() as connection:
        writing = Writing(
            rows_of(connection),
            by="officer",
            now=lambda: datetime(2026, 7, 1, tzinfo=UTC),
            new_salt=lambda: b"0" * 16,
        )
        assert rebuild(writing).differing == 0
    engine.dispose()


def test_packs_from_before_and_after_hold_and_agree(
    ledger: Path, tmp_path: Path
) -> None:
    part_of(ledger, tmp_path / "before", None)
    erased(ledger)
    part_of(ledger, tmp_path / "after", None)
    texts = (tmp_path / "after/data/disclosures.jsonl").read_bytes()

    assert check_pack_at(tmp_path / "before").holds
    assert check_pack_at(tmp_path / "after").holds
    assert compare_packs(tmp_path / "before", tmp_path / "after").part.holds
    for secret in SECRETS:
        assert not any(form in texts for form in in_base64(secret))


def test_less_can_be_erased(ledger: Path) -> None:
    erased(ledger, members=("contacts",))

    with opened(ledger) as rows:
        left = dict(find_erasable(rows, "coop").counted())
    assert left == {"address": 1, "legal_name": 2}


def test_other_parties_keep_their_data(ledger: Path) -> None:
    erased(ledger)

    with opened(ledger) as rows:
        assert dict(find_erasable(rows, "shop-1").counted()) == {"legal_name": 1}


def test_a_party_that_was_never_registered_is_told(ledger: Path) -> None:
    with opened(ledger) as rows, pytest.raises(NotFoundError, match="never registered"):
        find_erasable(rows, "nobody")


def test_what_is_erased_already_is_told(ledger: Path) -> None:
    erased(ledger)

    with opened(ledger) as rows, pytest.raises(ConflictError, match="erased already"):
        find_erasable(rows, "coop")


def test_the_caution_names_the_years_of_the_terms_and_the_recall(ledger: Path) -> None:
    with opened(ledger) as rows:
        found = find_erasable(rows, "coop")
    told = " ".join(caution(found, today=date(2026, 7, 1)))

    assert "address (1), contacts (1), legal name (2)" in told
    assert "The terms of river ask that records are kept until 2031-03-20" in told
    assert "which has not come yet" in told
    assert "recall" in told
    assert "ask somebody who knows yours" in told


def test_years_are_counted_from_the_last_day_of_february() -> None:
    found = Erasable("coop", (("address", "x"),), date(2024, 2, 29), ())

    assert "2024-02-29" in " ".join(caution(found, today=date(2026, 1, 1)))


def test_a_file_cannot_claim_an_erasure(ledger: Path) -> None:
    raw = json.dumps(
        {
            "kind": "disclosure.erased",
            "on": "2026-07-01",
            "party": "coop",
            "members": ["address"],
            "digests": ["A" * 43],
            "reason": "said so",
        }
    ).encode()
    engine = open_engine(f"sqlite:///{ledger}")

    @contextmanager
    def writing() -> Iterator[Writing]:
        with engine.begin() as connection:
            yield Writing(
                rows_of(connection),
                by="officer",
                now=lambda: datetime(2026, 7, 1, tzinfo=UTC),
                new_salt=lambda: b"0" * 16,
            )

    [outcome] = record_files(writing, [("erased.yaml", raw)])
    engine.dispose()

    assert "use `evenweight erase`" in str(outcome.refusal)
    assert "erased.yaml, line 1" in str(outcome.refusal)
