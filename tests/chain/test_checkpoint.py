"""Checkpoints and receipts against the cases of C2SP tlog-checkpoint and tlog-proof."""

import base64
import hashlib

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from hypothesis import given
from hypothesis import strategies as st

from ledger.chain.checkpoint import Checkpoint, parse_checkpoint
from ledger.chain.note import Algorithm, Key, Note, sign
from ledger.chain.receipt import Receipt, check_receipt, parse_receipt
from ledger.chain.tree import inclusion_path, tree_root
from ledger.errors import InputError, LedgerError, SealError

# C2SP tlog-checkpoint, the example of the document.
EXAMPLE = (
    "example.com/behind-the-sofa\n20852163\n"
    "CsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=\n"
)
LEAVES = [hashlib.sha256(bytes([n])).digest() for n in range(7)]


def signed_head(leaves: list[bytes]) -> Note:
    private = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
    key = Key("maker.example", Algorithm.NOTE, private.public_key().public_bytes_raw())
    text = str(Checkpoint("maker.example/ledger", len(leaves), tree_root(leaves)))
    return Note(text, (sign(text, key, private),))


def test_the_published_checkpoint_is_read_and_written() -> None:
    found = parse_checkpoint(EXAMPLE)

    assert (found.origin, found.size) == ("example.com/behind-the-sofa", 20852163)
    assert str(found) == EXAMPLE


def test_further_lines_of_a_checkpoint_are_kept() -> None:
    assert parse_checkpoint(EXAMPLE + "more\n").extension == ("more",)


# transparency-dev/formats, log/checkpoint_test.go. Its two valid cases carry roots that
# are no SHA-256 digests; ours must be, so they stand here among the refused.
@pytest.mark.parametrize(
    "text",
    [
        "Log\n123\nYmFuYW5hcw==\n",
        "Banana\n9944\ndGhlIHZpZXcgZnJvbSB0aGUgdHJlZSB0b3BzIGlzIGdyZWF0IQ==\n",
        "Head\n9944\n",
        "\n9944\ndGhlIHZpZXcgZnJvbSB0aGUgdHJlZSB0b3BzIGlzIGdyZWF0IQ==\n",
        EXAMPLE.rstrip("\n"),
        EXAMPLE.replace("20852163", "bananas"),
        EXAMPLE.replace("20852163", "-34"),
        EXAMPLE.replace("20852163", "034"),
        EXAMPLE.replace("20852163", "3438945738945739845734895735"),
        EXAMPLE.replace("CsUY", "Isn'"),
        EXAMPLE.replace("xq2I=", "xq2J="),
        "",
    ],
)
def test_what_is_not_a_checkpoint_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        parse_checkpoint(text)


def test_a_receipt_is_read_as_it_was_written_and_holds() -> None:
    receipt = Receipt(5, inclusion_path(LEAVES, 5), signed_head(LEAVES), b"entry")

    read = parse_receipt(str(receipt))
    check_receipt(read, LEAVES[5])

    assert read == receipt


def test_a_receipt_does_not_hold_for_another_entry() -> None:
    receipt = Receipt(5, inclusion_path(LEAVES, 5), signed_head(LEAVES))

    with pytest.raises(SealError):
        check_receipt(receipt, LEAVES[4])


def test_the_published_proof_text_is_read() -> None:
    # transparency-dev/formats, proof/tlog_proof_test.go, the valid case; its checkpoint
    # is a placeholder, so a real note stands in for it.
    head = signed_head(LEAVES)
    first = "rzFuy5Go7nrpkhBwKy1HWPMM3eO/YePY54fXRoH5Cm4="
    text = (
        f"c2sp.org/tlog-proof@v1\nindex 5\n{first}\n"
        f"5784L25ZFbP4hhm4ZiI+vx1RxMUyHMzeLp/3AKMlkIY=\n\n{head}"
    )

    found = parse_receipt(text)

    assert (found.index, len(found.path)) == (5, 2)
    assert found.path[0] == base64.b64decode(first)


# The same source, the invalid cases.
@pytest.mark.parametrize(
    "head",
    [
        "wrong-header\nindex 0\n",
        "c2sp.org/tlog-proof@v1\nextra !!notbase64!!\nindex 0\n",
        "c2sp.org/tlog-proof@v1\n\n",
        "c2sp.org/tlog-proof@v1\n",
        "c2sp.org/tlog-proof@v1\nindex notanumber\n",
        "c2sp.org/tlog-proof@v1\nindex -5\n",
        "c2sp.org/tlog-proof@v1\nindex 0\n!!notbase64!!\n",
        "c2sp.org/tlog-proof@v1\nindex 0\nAAAA\n",
        "c2sp.org/tlog-proof@v1\nindex 0\n"
        + (base64.b64encode(bytes(32)).decode() + "\n") * 65,
    ],
)
def test_what_is_not_a_receipt_is_refused(head: str) -> None:
    with pytest.raises(InputError):
        parse_receipt(f"{head}\n{signed_head(LEAVES)}")


@given(st.text())
def test_any_text_is_read_or_refused(text: str) -> None:
    for parse in (parse_checkpoint, parse_receipt):
        try:
            parse(text)
        except LedgerError:
            continue


def test_a_receipt_may_go_without_the_entry() -> None:
    receipt = Receipt(0, inclusion_path(LEAVES, 0), signed_head(LEAVES))

    assert parse_receipt(str(receipt)) == receipt
    assert "extra" not in str(receipt)
