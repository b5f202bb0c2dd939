"""Examples of what is signed: keys, checkpoints, rotations, proofs, receipts.

Private keys are made from fixed words: they protect nothing.
"""

from collections.abc import Iterator
from hashlib import sha256

from ledger.chain.base64_text import encode
from ledger.chain.checkpoint import Checkpoint, SignedCheckpoint, parse_signed
from ledger.chain.extension import Extension, check_extension, parse_extension
from ledger.chain.note import (
    Algorithm,
    Key,
    Note,
    parse_key,
    parse_note,
    sign,
    signed_by,
)
from ledger.chain.receipt import Receipt, check_receipt, parse_receipt
from ledger.chain.rotation import check_rotation, origin_of, rotation_text
from ledger.chain.tree import consistency_path, inclusion_path, tree_root
from tests.desk.signed_ledger import private_key
from tests.vectors.record import LEAVES, RECORD, SIZE, Vector, refuses


def key_of(word: str, algorithm: Algorithm, name: str = "") -> Key:
    """Return the public key whose private key is the SHA-256 of a word."""
    public = private_key(word).public_key().public_bytes_raw()
    return Key(name or origin_of("maker", public), algorithm, public)


MAKER = key_of("maker", Algorithm.NOTE)
NEXT = key_of("next", Algorithm.NOTE, MAKER.name)
WITNESS = key_of("witness", Algorithm.COSIGNATURE, "witness.example/one")


def keys() -> Iterator[Vector]:
    """Yield lines of keys, and whether each is one."""
    for word, key in (("maker", MAKER), ("next", NEXT), ("witness", WITNESS)):
        yield {
            "name": word,
            "line": str(key),
            "private": private_key(word).private_bytes_raw().hex(),
            "public": key.public.hex(),
            "algorithm": int(key.algorithm),
            "holds": True,
        }
    line = str(MAKER)
    for name, bad in (
        ("another hash", line.replace(f"+{MAKER.hash.hex()}+", "+00000000+")),
        ("another name", "another" + line),
        ("a key of 31 bytes", _line_of(b"\1" + bytes(31))),
        ("an algorithm that is not used", _line_of(b"\2" + bytes(32))),
        ("without a name", line[line.index("+") :]),
        ("a key of small order", _line_of(b"\1\1" + bytes(31))),
        (
            "a key of small order, beyond the field",
            _line_of(b"\1\xee" + b"\xff" * 30 + b"\x7f"),
        ),
    ):
        if not refuses(parse_key, bad):
            raise ValueError(name)
        yield {"name": name, "line": bad, "holds": False}


def _line_of(raw: bytes) -> str:
    stated = sha256(b"a\n" + raw).hexdigest()[:8]
    return f"a+{stated}+{encode(raw)}"


def checkpoint_of(size: int, word: str = "maker", key: Key = MAKER) -> SignedCheckpoint:
    """Return the checkpoint over the first entries, signed."""
    text = str(Checkpoint(MAKER.name, size, tree_root(LEAVES[:size])))
    return parse_signed(str(Note(text, (sign(text, key, private_key(word)),))))


def notes() -> Iterator[Vector]:
    """Yield checkpoints, and under which of the keys above each is signed."""
    signed = checkpoint_of(5)
    text = signed.note.text
    moment = 1_772_600_000
    seen = sign(text, WITNESS, private_key("witness"), moment=moment)
    cases = [
        ("signed", str(signed.note)),
        ("signed and cosigned", str(signed.with_signatures([seen]).note)),
        ("signed by the next key", str(checkpoint_of(5, "next", NEXT).note)),
        ("signed by a stranger", _by_stranger(text)),
    ]
    for name, note in cases:
        found = signed_by(parse_note(note), (MAKER, NEXT, WITNESS))
        yield {
            "name": name,
            "note": note,
            "size": 5,
            "root": tree_root(LEAVES[:5]).hex(),
            "signed_by": [{"key": str(one.key), "moment": one.moment} for one in found],
        }
    yield from _bad_notes(str(signed.with_signatures([seen]).note))


def _by_stranger(text: str) -> str:
    key = key_of("stranger", Algorithm.NOTE, MAKER.name)
    return str(Note(text, (sign(text, key, private_key("stranger")),)))


def _bad_notes(note: str) -> Iterator[Vector]:
    lines = note.split("\n")
    mine, theirs = lines[4], lines[5]
    for name, bad in (
        ("another root", note.replace(lines[2], lines[2].swapcase())),
        ("another size", note.replace("\n5\n", "\n6\n")),
        ("a signature changed", note.replace(mine, _turned(mine))),
        ("a cosignature changed", note.replace(theirs, _turned(theirs))),
        ("a size with a zero before it", note.replace("\n5\n", "\n05\n")),
        ("without an empty line", note.replace("\n\n", "\n")),
        ("without signatures", note.partition("\n\n")[0] + "\n\n"),
        ("without a line feed at the end", note[:-1]),
        ("with another dash", note.replace("\u2014", "-")),
        ("lines that end as on another system", note.replace("\n", "\r\n")),
    ):
        if not refuses(_signers, bad):
            raise ValueError(name)
        yield {"name": name, "note": bad, "signed_by": None}


def _signers(note: str) -> object:
    return signed_by(parse_signed(note).note, (MAKER, WITNESS))


def _turned(line: str) -> str:
    return f"{line[:-9]}{'A' if line[-9] != 'A' else 'B'}{line[-8:]}"


def rotations() -> Iterator[Vector]:
    """Yield notes by which one key follows another, and who vouches for it."""
    text = rotation_text(MAKER, NEXT)

    def signed(*words: str) -> Note:
        by = {"maker": MAKER, "next": NEXT}
        return Note(
            text, tuple(sign(text, by[word], private_key(word)) for word in words)
        )

    for name, note in (
        ("both signed", signed("maker", "next")),
        ("the old key is lost", signed("next")),
        ("the new key did not sign", signed("maker")),
    ):
        holds = not refuses(check_rotation, note, old=MAKER, new=NEXT)
        vouched = holds and MAKER in check_rotation(note, old=MAKER, new=NEXT)
        yield {
            "name": name,
            "old": str(MAKER),
            "new": str(NEXT),
            "note": str(note),
            "holds": holds,
            "vouched_for": vouched,
        }


def extensions() -> Iterator[Vector]:
    """Yield proofs that one checkpoint continues another, good and bad."""
    signed, old_root = checkpoint_of(SIZE), tree_root(LEAVES[:3])
    path = consistency_path(LEAVES, 3)
    good = str(Extension(3, path, signed))
    lines = good.split("\n")
    for name, text in (
        ("from 3 to 7", good),
        ("a digest changed", good.replace(lines[1], lines[2])),
        ("a digest left out", "\n".join([lines[0], *lines[2:]])),
        ("a digest too many", "\n".join([*lines[:2], *lines[1:]])),
        ("from another size", good.replace("old 3", "old 4")),
        ("from nothing", good.replace("old 3", "old 0")),
    ):
        holds = not refuses(_extends, text, old_root)
        yield {"name": name, "old_root": old_root.hex(), "text": text, "holds": holds}


def _extends(text: str, old_root: bytes) -> None:
    check_extension(parse_extension(text), old_root=old_root)


def receipts() -> Iterator[Vector]:
    """Yield receipts for one entry, good and bad."""
    made = Receipt(2, inclusion_path(LEAVES, 2), checkpoint_of(SIZE).note, RECORD[2])
    good = str(made)
    lines = good.split("\n")
    for name, text in (
        ("for entry 2", good),
        ("for entry 3", good.replace("index 2", "index 3")),
        ("a digest changed", good.replace(lines[3], lines[4])),
        ("a digest left out", "\n".join([*lines[:3], *lines[4:]])),
        ("another format", good.replace("@v1", "@v2")),
    ):
        holds = not refuses(_stands_in_tree, text)
        yield {"name": name, "digest": LEAVES[2].hex(), "text": text, "holds": holds}


def _stands_in_tree(text: str) -> None:
    check_receipt(parse_receipt(text), LEAVES[2])
