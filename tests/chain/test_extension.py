"""Extensions over the classic eight leaves of RFC 6962's reference tests."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.chain.base64_text import encode
from ledger.chain.checkpoint import Checkpoint, SignedCheckpoint, parse_signed
from ledger.chain.extension import (
    MAX_PATH,
    Extension,
    check_extension,
    parse_extension,
)
from ledger.chain.note import Note, Signature
from ledger.errors import InputError, LedgerError, SealError
from tests.chain.vectors import CONSISTENCY_PROOFS, EIGHT_ROOTS

SIGNATURE = Signature("maker/x", b"hash", bytes(64))


def signed(size: int) -> SignedCheckpoint:
    head = Checkpoint("maker/x", size, bytes.fromhex(EIGHT_ROOTS[size]))
    return SignedCheckpoint(head, Note(str(head), (SIGNATURE,)))


def extension(old: int, size: int, path: tuple[str, ...]) -> Extension:
    return Extension(old, tuple(map(bytes.fromhex, path)), signed(size))


@pytest.mark.parametrize(("old", "size", "path"), CONSISTENCY_PROOFS)
def test_published_proofs_hold_and_read_back(
    old: int, size: int, path: tuple[str, ...]
) -> None:
    made = extension(old, size, path)
    read = parse_extension(str(made))

    assert read == made
    check_extension(read, old_root=bytes.fromhex(EIGHT_ROOTS[old]))
    with pytest.raises(SealError):
        check_extension(read, old_root=bytes(32))


def test_it_is_written_as_a_witness_is_asked() -> None:
    """C2SP tlog-witness, add-checkpoint: old size, proof, empty line, checkpoint."""
    old, size, path = next(proof for proof in CONSISTENCY_PROOFS if proof[2])
    lines = str(extension(old, size, path)).split("\n")

    assert lines[0] == f"old {old}"
    assert lines[1] == encode(bytes.fromhex(path[0]))
    assert lines[len(path) + 1] == ""
    assert lines[len(path) + 2] == "maker/x"


def test_the_first_checkpoint_needs_no_proof() -> None:
    made = Extension(0, (), signed(8))

    assert parse_extension(str(made)) == made


def test_a_smaller_checkpoint_continues_nothing() -> None:
    with pytest.raises(SealError, match="cannot continue"):
        check_extension(
            Extension(8, (), signed(6)), old_root=bytes.fromhex(EIGHT_ROOTS[8])
        )


@pytest.mark.parametrize(
    "text",
    [
        "",
        "old 1",
        "old 1\n",
        f"{signed(8).note}",
        f"old -1\n\n{signed(8).note}",
        f"old 01\n\n{signed(8).note}",
        f"old x\n\n{signed(8).note}",
        f"old 1\nnot*base64\n\n{signed(8).note}",
        f"old 1\nAAAA\n\n{signed(8).note}",
        "old 1\n" + f"{encode(bytes(32))}\n" * (MAX_PATH + 1) + f"\n{signed(8).note}",
        "old 1\n\nno note\n",
    ],
)
def test_what_is_no_proof_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        parse_extension(text)


@given(st.text())
def test_any_text_is_read_or_refused(text: str) -> None:
    for parse in (parse_extension, parse_signed):
        try:
            parse(text)
        except LedgerError:
            continue


def test_signatures_are_added_each_once() -> None:
    other = Signature("witness", b"hash", bytes(72))
    more = signed(8).with_signatures([other, SIGNATURE, other])

    assert more.note.signatures == (SIGNATURE, other)
    assert more.size == 8
    assert parse_signed(str(more.note)) == more
