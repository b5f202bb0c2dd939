"""Receipts: a counterparty gets proof that the entry about it is in the ledger."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ledger.chain.checkpoint import Checkpoint, parse_checkpoint
from ledger.chain.entry import Entry, leaf_digest, parse_entry
from ledger.chain.note import Key, Signed, signed_by
from ledger.chain.receipt import Receipt, check_receipt, parse_receipt
from ledger.desk.signed import signed_before
from ledger.errors import InputError, RefusedError, SealError
from ledger.intake.folder import read_bytes
from ledger.store.entries import entry_raw
from ledger.store.proof import inclusion_proof

if TYPE_CHECKING:
    from ledger.store.rows import Rows


@dataclass(frozen=True, slots=True)
class ReceiptRead:
    """What a receipt proves.

    Attributes:
        entry: The entry; its sealed values stay sealed.
        checkpoint: The checkpoint that covers it.
        signatures: Those that hold under the keys that were given.
    """

    entry: Entry
    checkpoint: Checkpoint
    signatures: tuple[Signed, ...]


def make_receipt(rows: "Rows", file: Path, seq: int) -> Receipt:
    """Return the receipt for an entry, under the last checkpoint signed.

    Args:
        rows: The ledger.
        file: The file of signed checkpoints.
        seq: The entry.

    Raises:
        NotFoundError: There is no such entry, the ledger has no key, or the file is lost.
        RefusedError: No checkpoint covers the entry yet.
        ConflictError: The file belongs to another ledger.
        SealError: The ledger does not extend what was signed.
    """
    raw = entry_raw(rows, seq)
    last = signed_before(rows, file).last
    if last is None or last.size <= seq:
        covered = 0 if last is None else last.size
        raise RefusedError(
            f"entry {seq} is not covered by a signed checkpoint yet: {covered} entries "
            "are; sign one with `evenweight checkpoint` and try again"
        )
    path = inclusion_proof(rows, seq, size=last.size)
    receipt = Receipt(seq, path, last.note, raw)
    check_receipt(receipt, leaf_digest(raw))
    return receipt


def read_receipt(path: Path, keys: tuple[Key, ...]) -> ReceiptRead:
    """Check a receipt, and return what it proves.

    Args:
        path: The file.
        keys: Keys of the maker and of witnesses, got from their owners.

    Raises:
        InputError: It is not a receipt, or holds no entry.
        SealError: The entry is not in the ledger that the checkpoint states, or no key
            that was given signed it.
    """
    try:
        receipt = parse_receipt(read_bytes(path).decode())
    except UnicodeDecodeError as error:
        raise InputError(f"{path} is not a receipt: it is not text") from error
    entry = parse_entry(receipt.extra)
    if entry.seq != receipt.index:
        raise SealError(
            f"the receipt is for entry {receipt.index}, but the entry in it is number "
            f"{entry.seq}"
        )
    check_receipt(receipt, leaf_digest(receipt.extra))
    signatures = signed_by(receipt.checkpoint, keys)
    if not signatures:
        raise SealError(
            "the receipt's checkpoint is not signed by a key that you gave; get the key's "
            "line from the maker in person, and never from the receipt"
        )
    return ReceiptRead(entry, parse_checkpoint(receipt.checkpoint.text), signatures)
