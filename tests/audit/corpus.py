"""Good and spoiled packs: what a careless hand, and a forger who knows the format, leave.

Each spoil is done to a folder that holds a copy of a good pack. Those of a forger end with
`bag_again` or `chain_again`, so that every digest fits again.
"""

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ledger.audit.enclosed import VERIFIERS
from ledger.chain.canonical import JsonValue, canonical_bytes
from ledger.chain.note import Algorithm, Key, Note, sign
from tests.audit.forging import (
    bag_again,
    chain_again,
    edited,
    entries_of,
    files_of,
    resealed,
)
from tests.desk.signed_ledger import private_key

Entries = list[dict[str, Any]]
ENTRIES = "data/entries.jsonl"
SHOWN = "data/disclosures.jsonl"
SCOPE = "data/figures/scope.json"
HEAD = "data/tree-head.json"


@dataclass(frozen=True)
class Spoil:
    """One thing that was done to a pack.

    Attributes:
        name: What it is called.
        do: Does it to a folder.
        kept: Whether the reader has a checkpoint from before.
        beyond_file: Whether it breaks a rule that the file of Python says it leaves out.
    """

    name: str
    do: Callable[[Path], object]
    kept: bool = False
    beyond_file: bool = False


def spoils(pack: Path) -> Iterator[Spoil]:
    """Yield everything that is done to a small signed pack, nothing at all first."""
    yield Spoil("nothing", lambda _: None)
    yield Spoil("nothing, and a checkpoint was kept", lambda _: None, kept=True)
    yield from _careless(pack)
    yield from _figures(pack)
    yield from _small_files()
    yield from _sealed()
    yield from _signed()
    yield from _record(entries_of(pack))


def _careless(pack: Path) -> Iterator[Spoil]:
    """Files changed, cut, lost or added, with every digest left as it was."""
    for name in files_of(pack):
        raw = (pack / name).read_bytes()
        # A weight, where there is one; of what every pack encloses one place is enough.
        middle = raw.find(b"990.500") if b"990.500" in raw else len(raw) // 2
        places = (0, middle, len(raw) - 1) if name not in VERIFIERS else (middle,)
        for place in places:
            yield Spoil(f"{name}: byte {place} flipped", _flipped(name, place))
        yield Spoil(f"{name}: cut by a byte", _edit(name, lambda raw: raw[:-1]))
        yield Spoil(f"{name}: lost", _lost(name))
    for name in ("data/more.jsonl", "data/reports/a.pdf", "fetch.txt", ".DS_Store"):
        yield Spoil(f"{name}: added", _added(name))
        yield Spoil(f"{name}: added, and listed", _then(_added(name), bag_again))
    for name in ("README.txt", *VERIFIERS):
        yield Spoil(
            f"{name}: of another release",
            _rebagged(name, lambda raw: raw + b"one more line\n"),
        )


def _figures(pack: Path) -> Iterator[Spoil]:
    """Claimed figures changed cell by cell, with every digest made to fit."""
    for name in ("balances", "stock", "dues", "sampled-sales"):
        file = f"data/figures/{name}.csv"
        rows = (pack / file).read_bytes().decode().split("\r\n")[1:-1]
        for line, row in enumerate(rows, start=1):
            for place, cell in enumerate(row.split(",")):
                yield Spoil(
                    f"{name}, row {line}, cell {place} ({cell})",
                    _rebagged(file, _cell(line, place)),
                )
        yield Spoil(f"{name}: last row left out", _rebagged(file, _without_last))
        yield Spoil(f"{name}: last row twice", _rebagged(file, _twice))
        yield Spoil(f"{name}: no table", _rebagged(file, lambda _: b"\xff\x00"))


def _small_files() -> Iterator[Spoil]:
    for member, value in (
        ("as_of", "2026-03-31"),
        ("as_of", "never"),
        ("entries", 7),
        ("made_by", "somebody"),
        ("made_at", "2026-07-01"),
        ("more", "x"),
    ):
        yield Spoil(f"scope: {member} is {value}", _object(SCOPE, **{member: value}))
    yield Spoil("tree head: another root", _object(HEAD, root="ab" * 32))
    yield Spoil("tree head: another size", _object(HEAD, size=3))
    yield Spoil("tree head: not a root", _object(HEAD, root="zz"))
    yield Spoil("tree head: blanks", _rebagged(HEAD, lambda raw: b" " + raw))
    yield Spoil(
        "a newer format",
        _then(
            _edit(
                "bag-info.txt", lambda raw: raw.replace(b"Version: 1", b"Version: 2")
            ),
            bag_again,
        ),
    )
    yield Spoil(
        "another maker in the bag",
        _then(
            _edit("bag-info.txt", lambda raw: raw.replace(b"Invented", b"Another")),
            bag_again,
        ),
    )
    yield Spoil(
        "a paper that nobody recorded", _then(_added(f"data/documents/{'0' * 64}"))
    )


def _sealed() -> Iterator[Spoil]:
    def lines(change: Callable[[list[bytes]], list[bytes]]) -> Callable[[Path], None]:
        return _rebagged(
            SHOWN, lambda raw: b"".join(change(raw.splitlines(keepends=True)))
        )

    yield Spoil("a disclosure is left out", lines(lambda given: given[:-1]))
    yield Spoil("all are left out", lines(lambda _: []))
    yield Spoil("one stands twice", lines(lambda given: [*given, given[-1]]))
    yield Spoil(
        "two in another order", lines(lambda given: [given[1], given[0], *given[2:]])
    )
    yield Spoil("all in another order", lines(lambda given: given[::-1]))
    yield Spoil(
        "one for another entry", lines(lambda given: _moved(given, "seq", place=0))
    )
    yield Spoil("two exchanged", lines(_exchanged))
    yield Spoil(
        "another salt",
        lines(lambda given: [given[0].replace(b'"text":"W', b'"text":"V'), *given[1:]]),
    )


def _signed() -> Iterator[Spoil]:
    for size in (4, 9):
        note = f"data/checkpoints/{size}.note"
        yield Spoil(f"{note}: another root", _rebagged(note, _other_root))
        yield Spoil(f"{note}: another signature", _rebagged(note, _other_signature))
        yield Spoil(f"{note}: a byte that is no letter", _rebagged(note, _odd_letter))
        yield Spoil(f"{note}: by another key", _rebagged(note, _by_another_key))
        yield Spoil(f"{note}: no note", _rebagged(note, lambda _: b"nothing\n"))
        yield Spoil(f"{note}: lost, and not listed", _then(_lost(note), bag_again))


def _record(entries: Entries) -> Iterator[Spoil]:
    """The record rewritten, with chain, tree head and bag made to fit."""

    def of(kind: str) -> int:
        return next(seq for seq, one in enumerate(entries) if one["kind"] == kind)

    for seq, entry in enumerate(entries):
        yield Spoil(
            f"entry {seq} ({entry['kind']}) left out",
            _without(seq),
            beyond_file=entry["body"].get("holder") == "maker",
        )
    received, made, sold = (
        of("shipment.received"),
        of("batch.made"),
        of("sale.dispatched"),
    )
    for name, seq, was, now in (
        ("less received", received, '"990.500"', '"790.500"'),
        ("more received", received, '"990.500"', '"995.500"'),
        ("more shipped", received, '"1000.000"', '"1100.000"'),
        ("a weight that is none", received, '"990.500"', '"990.5000001"'),
        ("mass out of nothing", made, '"400.000"', '"440.000"'),
        ("mass lost", made, '"100.000"', '"90.000"'),
        ("a lot that is not there", made, '"L-1"', '"L-9"'),
        ("more sold than there is", sold, '"10.000"', '"900.000"'),
        ("sold without the claim", sold, '"scheme": "river"', '"scheme": "brook"'),
        ("to a stranger", sold, '"shop-0"', '"shop-9"'),
        ("another premium", of("terms.published"), '"240.00"', '"140.00"'),
        ("another factor", of("terms.published"), '"1.25"', '"1.05"'),
        ("another minimum", of("terms.published"), '"3000.00"', '"3300.00"'),
        (
            "a certificate run out",
            of("certificate.recorded"),
            "2026-12-31",
            "2025-12-31",
        ),
        ("paid later", of("payment.made"), "2026-03-20", "2026-05-20"),
        ("a correction of nothing", of("correction"), '"target": 1', '"target": 9'),
        ("in the future", sold, "2026-04-01", "2036-04-01"),
    ):
        yield Spoil(name, _record_edit(_text_edit(seq, was, now)))
    paid = of("payment.made")
    yield Spoil("more paid", lambda pack: resealed(pack, paid, "3000.00", "3070.55"))
    yield Spoil(
        "a sale moved to the front",
        _record_edit(lambda found: found.insert(1, found.pop(sold + 3))),
        beyond_file=True,
    )
    yield Spoil("a sale twice", _record_edit(lambda found: found.append(found[sold])))
    yield Spoil(
        "opened twice", _record_edit(lambda found: found.append(dict(found[0])))
    )
    yield Spoil("another maker", _record_edit(_text_edit(0, "Invented", "Another")))
    yield Spoil(
        "the last three taken away",
        _record_edit(lambda found: found.__delitem__(slice(-3, None))),
        kept=True,
    )
    yield Spoil(
        "rewritten since the last visit",
        _record_edit(_text_edit(1, "PE", "EC")),
        kept=True,
    )
    for name, was_raw, now_raw in (
        ("a number with a fraction", b'"seq":3', b'"seq":3.0'),
        ("a member twice", b'"seq":3', b'"seq":3,"seq":3'),
        ("members in another order", b'"kind":', b'"Kind":'),
        ("a blank", b'"seq":3', b'"seq": 3'),
        ("an escape", b"Callao", b"C\\u0061llao"),
        ("digits without end", b'"seq":3', b'"seq":' + b"9" * 5000),
        ("half of a character", b"Callao", b"\\ud800"),
        ("bytes that are no text", b"Callao", b"\xff\xfe"),
        ("a line of digits", b'"seq":3', b'"seq":3}\n' + b"0" * 64),
    ):
        yield Spoil(f"the record holds {name}", _replaced(was_raw, now_raw))
    yield Spoil(
        "nested without end",
        _rebagged(ENTRIES, lambda raw: raw + b"[" * 5000 + b"\n"),
    )
    yield Spoil("no record", _rebagged(ENTRIES, lambda _: b""))


# --- How it is done ------------------------------------------------------------------


def _then(*steps: Callable[[Path], object]) -> Callable[[Path], None]:
    def do(pack: Path) -> None:
        for step in steps:
            step(pack)

    return do


def _edit(name: str, edit: Callable[[bytes], bytes]) -> Callable[[Path], None]:
    return lambda pack: edited(pack, name, edit)


def _rebagged(name: str, edit: Callable[[bytes], bytes]) -> Callable[[Path], None]:
    return _then(_edit(name, edit), bag_again)


def _flipped(name: str, place: int) -> Callable[[Path], None]:
    return _edit(
        name,
        lambda raw: raw[:place] + bytes([raw[place] ^ 1]) + raw[place + 1 :],
    )


def _replaced(was: bytes, now: bytes) -> Callable[[Path], None]:
    return _rebagged(ENTRIES, lambda raw: raw.replace(was, now, 1))


def _lost(name: str) -> Callable[[Path], object]:
    return lambda pack: (pack / name).unlink()


def _added(name: str) -> Callable[[Path], object]:
    def do(pack: Path) -> None:
        (pack / name).parent.mkdir(exist_ok=True)
        (pack / name).write_bytes(b"more\n")

    return do


def _cell(line: int, place: int) -> Callable[[bytes], bytes]:
    def edit(raw: bytes) -> bytes:
        rows = raw.decode().split("\r\n")
        cells = rows[line].split(",")
        cell = cells[place]
        cells[place] = f"{cell[:-1]}{'1' if cell[-1:] != '1' else '2'}"
        rows[line] = ",".join(cells)
        return "\r\n".join(rows).encode()

    return edit


def _without_last(raw: bytes) -> bytes:
    return b"".join(raw.splitlines(keepends=True)[:-1])


def _twice(raw: bytes) -> bytes:
    return raw + raw.splitlines(keepends=True)[-1]


def _object(name: str, **members: JsonValue) -> Callable[[Path], None]:
    return _rebagged(
        name,
        lambda raw: canonical_bytes({**json.loads(raw), **members}) + b"\n",
    )


def _moved(given: list[bytes], member: str, *, place: int) -> list[bytes]:
    told = json.loads(given[place])
    told[member] += 1
    return [canonical_bytes(told) + b"\n", *given[1:]]


def _exchanged(given: list[bytes]) -> list[bytes]:
    one, other = json.loads(given[0]), json.loads(given[1])
    one["text"], other["text"] = other["text"], one["text"]
    return [
        canonical_bytes(one) + b"\n",
        canonical_bytes(other) + b"\n",
        *given[2:],
    ]


def _other_root(raw: bytes) -> bytes:
    origin, size, root, *rest = raw.decode().split("\n")
    turned = root.swapcase() if root.swapcase() != root else root[::-1]
    return "\n".join([origin, size, turned, *rest]).encode()


def _other_signature(raw: bytes) -> bytes:
    text = raw.decode()
    letter = "A" if text[-8] != "A" else "B"
    return f"{text[:-8]}{letter}{text[-7:]}".encode()


def _odd_letter(raw: bytes) -> bytes:
    """Put a byte before the signature that lenient readers of base64 pass over."""
    text, gap, signature = raw.rpartition(b" ")
    return text + gap + b"\0" + signature


def _by_another_key(raw: bytes) -> bytes:
    text = raw.decode().partition("\n\n")[0] + "\n"
    private = private_key("a thief")
    public = private.public_key().public_bytes_raw()
    key = Key(text.split("\n")[0], Algorithm.NOTE, public)
    return str(Note(text, (sign(text, key, private),))).encode()


def _record_edit(edit: Callable[[Entries], object]) -> Callable[[Path], None]:
    def do(pack: Path) -> None:
        entries = entries_of(pack)
        edit(entries)
        chain_again(pack, entries)

    return do


def _without(seq: int) -> Callable[[Path], None]:
    return _record_edit(lambda entries: entries.pop(seq))


def _text_edit(seq: int, was: str, now: str) -> Callable[[Entries], None]:
    def edit(entries: Entries) -> None:
        text = json.dumps(entries[seq])
        if was not in text:
            raise ValueError((seq, was))
        entries[seq] = json.loads(text.replace(was, now))

    return edit
