import hashlib
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.chain.entry import (
    GENESIS_PREV,
    Entry,
    entry_bytes,
    leaf_digest,
    parse_entry,
)
from ledger.errors import InputError, LedgerError
from tests.chain import vectors
from tests.chain.strategies import ENTRIES

ENTRY = Entry(
    seq=42,
    prev="5feceb66ffc86f38d952786c6d696c79c2dbc239dd4e91b46729d73a27fb57e9",
    kind="shipment.received",
    occurred_on=date(2026, 3, 2),
    recorded_at=datetime(2026, 3, 4, 10, 22, 31, 123456, tzinfo=UTC),
    recorded_by="u7",
    body={"note": "Süßes", "landed_kg": "1250.5", "bags": 20},
)
RAW = (
    '{"body":{"bags":20,"landed_kg":"1250.5","note":"Süßes"},'
    '"kind":"shipment.received","occurred_on":"2026-03-02",'
    '"prev":"5feceb66ffc86f38d952786c6d696c79c2dbc239dd4e91b46729d73a27fb57e9",'
    '"recorded_at":"2026-03-04T10:22:31.123456Z","recorded_by":"u7","seq":42}'
).encode()


def test_an_entry_is_written_in_one_form() -> None:
    assert entry_bytes(ENTRY) == RAW
    assert parse_entry(RAW) == ENTRY


@given(ENTRIES)
def test_an_entry_is_read_back_as_it_was_written(entry: Entry) -> None:
    raw = entry_bytes(entry)

    assert entry == parse_entry(raw)
    assert raw == entry_bytes(parse_entry(raw))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        pytest.param('"seq":42', '"seq":"42"', id="seq as text"),
        pytest.param('"seq":42', '"seq":true', id="seq as truth"),
        pytest.param('"seq":42', '"seq":-1', id="seq below 0"),
        pytest.param(',"seq":42', "", id="no seq"),
        pytest.param('"seq":42', '"seq":42,"sum":1', id="one member more"),
        pytest.param('"prev":"5f', '"prev":"5F', id="capital digit"),
        pytest.param('"prev":"5f', '"prev":"5', id="digit too few"),
        pytest.param('"shipment.received"', '"Shipment.received"', id="capital kind"),
        pytest.param('"shipment.received"', '"shipment."', id="half a kind"),
        pytest.param('"shipment.received"', '""', id="no kind"),
        pytest.param('"2026-03-02"', '"20260302"', id="day without dashes"),
        pytest.param('"2026-03-02"', '"2026-W10-1"', id="week day"),
        pytest.param('"2026-03-02"', '"2026-02-30"', id="no such day"),
        pytest.param('"2026-03-02"', '"2026-03-02T00:00:00"', id="day with a time"),
        pytest.param("31.123456Z", "31.123Z", id="milliseconds"),
        pytest.param("31.123456Z", "31.123456", id="no zone"),
        pytest.param("31.123456Z", "31.123456+00:00", id="zone in digits"),
        pytest.param("31.123456Z", "31.123456+01:00", id="other zone"),
        pytest.param("04T10", "04 10", id="space before the time"),
        pytest.param("T10:22", "T24:22", id="no such hour"),
        pytest.param('"recorded_by":"u7"', '"recorded_by":""', id="nobody"),
        pytest.param('"recorded_by":"u7"', '"recorded_by":7', id="number as name"),
        pytest.param(
            '{"bags":20,"landed_kg":"1250.5","note":"Süßes"}', "[]", id="list"
        ),
        pytest.param('"seq":42', '"seq": 42', id="not canonical"),
    ],
)
def test_any_other_form_is_refused(old: str, new: str) -> None:
    changed = RAW.decode().replace(old, new)

    assert changed != RAW.decode()
    with pytest.raises(InputError):
        parse_entry(changed.encode())


@pytest.mark.parametrize("raw", [b"[]", b"null", b"{}", b'"entry"'])
def test_other_json_is_not_an_entry(raw: bytes) -> None:
    with pytest.raises(InputError, match="an entry has the integer seq"):
        parse_entry(raw)


@pytest.mark.parametrize(
    ("member", "value"),
    [
        ("seq", -1),
        ("seq", 2**53),
        ("seq", True),
        ("prev", "0" * 63),
        ("prev", GENESIS_PREV + "\n"),
        ("kind", "lot moved"),
        ("occurred_on", datetime(2026, 3, 2, tzinfo=UTC)),
        ("recorded_at", datetime(2026, 3, 2)),  # noqa: DTZ001 - the point of the case
        ("recorded_at", datetime(2026, 3, 2, tzinfo=timezone(timedelta(hours=1)))),
        ("recorded_by", ""),
    ],
)
def test_an_entry_that_could_not_be_read_back_is_never_made(
    member: str, value: object
) -> None:
    changes: dict[str, Any] = {member: value}

    with pytest.raises(InputError, match=f"{member} of the entry is"):
        replace(ENTRY, **changes)


def test_the_last_place_in_a_chain_is_the_largest_exact_integer() -> None:
    last = replace(ENTRY, seq=2**53 - 1)

    assert parse_entry(entry_bytes(last)) == last


def test_utc_by_another_name_is_the_same_moment() -> None:
    at = datetime(2026, 1, 4, 10, 22, 31, 123456, tzinfo=ZoneInfo("Europe/Lisbon"))

    raw = entry_bytes(replace(ENTRY, recorded_at=at))

    assert b'"recorded_at":"2026-01-04T10:22:31.123456Z"' in raw


def test_a_body_outside_the_profile_is_refused_with_its_path() -> None:
    body: Any = {"lots": [{"mass_kg": 1.5}]}
    entry = replace(ENTRY, body=body)

    with pytest.raises(InputError, match=r"^body\.lots\.0\.mass_kg is the floating"):
        entry_bytes(entry)


@given(st.one_of(st.binary(), st.text().map(str.encode)))
def test_reading_any_bytes_ends_in_an_entry_or_our_error(raw: bytes) -> None:
    try:
        entry = parse_entry(raw)
    except LedgerError:
        return
    assert raw == entry_bytes(entry)


@given(st.integers(0, len(RAW) - 1), st.binary(max_size=3))
def test_a_damaged_entry_is_refused_or_another_entry(place: int, patch: bytes) -> None:
    raw = RAW[:place] + patch + RAW[place + 1 :]

    try:
        entry = parse_entry(raw)
    except LedgerError:
        return
    assert raw == entry_bytes(entry)
    assert (raw == RAW) == (leaf_digest(raw) == leaf_digest(RAW))


# github.com/transparency-dev/merkle, rfc6962/rfc6962_test.go: the leaf hash of RFC 6962
# and RFC 9162, section 2.1.1, SHA-256(0x00 || data).
def test_leaf_digests_are_those_published() -> None:
    assert leaf_digest(b"").hex() == vectors.LEAF_HASH_OF_NOTHING
    assert leaf_digest(b"L123456").hex() == vectors.LEAF_HASH_OF_L123456


# The first two: worked examples of FIPS 180-4. The others: NIST CAVP,
# SHA256ShortMsg.rsp of CAVS 11.0, lengths of 0, 8 and 16 bits.
@pytest.mark.parametrize(
    ("message", "digest"),
    [
        (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
        (
            b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
        ),
        (b"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
        (b"\xd3", "28969cdfa74a12c82f3bad960b0b000aca2ac329deea5c2328ebc6f2ba9802c1"),
        (
            b"\x11\xaf",
            "5ca7133fa735326081558ac312c620eeca9970d1e70a4b95533d956f072d1f98",
        ),
    ],
)
def test_the_hash_below_the_digests_is_sha_256(message: bytes, digest: str) -> None:
    assert hashlib.sha256(message).hexdigest() == digest
