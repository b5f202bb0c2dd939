"""Timestamps against published answers (RFC 3161) and an authority made here.

The published ones are fixtures of rfc3161-client, over the text `hello`.
"""

from contextlib import suppress
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.chain.timestamp import (
    MAX_TOKEN,
    check_timestamp,
    parse_authorities,
    stated_moment,
    timestamp_request,
)
from ledger.errors import InputError, LedgerError, SealError
from tests.chain import timestamp_vectors as published
from tests.chain.authority import Authority

TEXT = "maker/0123456789abcdef\n7\n47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=\n"


@pytest.fixture(scope="module")
def authority(tmp_path_factory: pytest.TempPathFactory) -> Authority:
    return Authority(tmp_path_factory.mktemp("authority") / "own")


@pytest.mark.parametrize(
    ("token", "chain", "moment"),
    [
        (
            published.TEST_TSA_RESPONSE,
            published.TEST_TSA_CHAIN,
            datetime(2024, 10, 8, 15, 40, 32, tzinfo=UTC),
        ),
        # Certificates that were slipped in beside the signer's do no harm.
        (
            published.TEST_TSA_RESPONSE_INJECTED_CERTS,
            published.TEST_TSA_CHAIN,
            datetime(2024, 10, 8, 15, 40, 32, tzinfo=UTC),
        ),
        (
            published.SIGSTAGE_RESPONSE_SHA256,
            published.SIGSTAGE_CHAIN,
            datetime(2025, 5, 9, 11, 58, 55, tzinfo=UTC),
        ),
        (
            published.SIGSTAGE_RESPONSE_SHA384,
            published.SIGSTAGE_CHAIN,
            datetime(2025, 5, 9, 11, 58, 55, tzinfo=UTC),
        ),
        (
            published.SIGSTAGE_RESPONSE_SHA512,
            published.SIGSTAGE_CHAIN,
            datetime(2025, 5, 9, 11, 58, 56, tzinfo=UTC),
        ),
        # No certificate inside: the reader has the signer's own.
        (
            published.SIGSTAGE_RESPONSE_NO_EMBEDDED_CERT,
            published.SIGSTAGE_CHAIN,
            datetime(2025, 6, 18, 8, 13, 2, tzinfo=UTC),
        ),
    ],
)
def test_published_answers_hold_over_hello_and_nothing_else(
    token: bytes, chain: str, moment: datetime
) -> None:
    authorities = parse_authorities(chain.encode())

    assert check_timestamp(token, "hello", authorities) == moment
    assert stated_moment(token, "hello") == moment
    with pytest.raises(SealError, match="for something else"):
        check_timestamp(token, "hullo", authorities)


@pytest.mark.parametrize(
    ("token", "chain"),
    [
        (published.SIGSTAGE_RESPONSE_INVALID_SIGNATURE, published.SIGSTAGE_CHAIN),
        (published.TEST_TSA_OTHER_RESPONSE, published.TEST_TSA_CHAIN),
        (published.TEST_TSA_RESPONSE, published.SIGSTAGE_CHAIN),
    ],
    ids=["signature spoiled", "signed by another", "not one that is trusted"],
)
def test_published_answers_that_do_not_hold(token: bytes, chain: str) -> None:
    with pytest.raises(SealError, match="not signed by an authority that you trust"):
        check_timestamp(token, "hello", parse_authorities(chain.encode()))


def test_a_missing_certificate_of_the_signer_is_not_made_up_for() -> None:
    root = published.SIGSTAGE_CHAIN[published.SIGSTAGE_CHAIN.rindex("-----BEGIN") :]

    with pytest.raises(SealError, match="not signed by an authority"):
        check_timestamp(
            published.SIGSTAGE_RESPONSE_NO_EMBEDDED_CERT,
            "hello",
            parse_authorities(root.encode()),
        )


def test_what_is_asked_is_answered_and_holds(authority: Authority) -> None:
    """RFC 3161, section 2.4.2: the answer has the imprint that was asked about."""
    token = authority.answer(timestamp_request(TEXT))
    moment = check_timestamp(token, TEXT, parse_authorities(authority.root))

    assert abs((datetime.now(UTC) - moment).total_seconds()) < 3600  # noqa: TID251


def test_the_same_is_asked_each_time() -> None:
    assert timestamp_request(TEXT) == timestamp_request(TEXT)


def test_any_changed_byte_of_an_answer_is_found_or_changes_nothing(
    authority: Authority,
) -> None:
    token = authority.answer(timestamp_request(TEXT))
    authorities = parse_authorities(authority.root)
    moment = check_timestamp(token, TEXT, authorities)
    held = 0
    for place in range(0, len(token), 7):
        changed = bytearray(token)
        changed[place] ^= 1 << place % 8
        with suppress(LedgerError):
            assert check_timestamp(bytes(changed), TEXT, authorities) == moment
            held += 1

    # What no signature covers: a status text or a certificate that is not needed.
    assert held < len(token) / 7 / 2


@pytest.mark.parametrize("raw", [b"", b"x", b"\x30\x80", bytes(300), b"x" * 70_000])
def test_what_is_no_answer_is_refused(raw: bytes) -> None:
    with pytest.raises(InputError):
        stated_moment(raw, TEXT)
    assert MAX_TOKEN == 65_536


def test_a_refusal_of_the_authority_is_no_timestamp() -> None:
    """RFC 3161, section 2.4.2: PKIStatus 2 is rejection, and has no token."""
    with pytest.raises((InputError, SealError)):
        stated_moment(bytes.fromhex("30053003020102"), TEXT)


@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused(raw: bytes) -> None:
    with pytest.raises(LedgerError):
        stated_moment(raw, TEXT)


@pytest.mark.parametrize(
    ("pem", "said"),
    [
        (b"", "cannot be read as PEM"),
        (b"nothing of the sort", "cannot be read as PEM"),
        (
            published.TEST_TSA_CHAIN.encode().partition(b"-----END CERTIFICATE-----")[0]
            + b"-----END CERTIFICATE-----\n",
            "none of the certificates is a root",
        ),
    ],
)
def test_what_is_no_root_certificate_is_refused(pem: bytes, said: str) -> None:
    with pytest.raises(InputError, match=said):
        parse_authorities(pem)
