"""Entries to store: a small chain with sealed values, corrections and lots."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime

from ledger.chain.canonical import JsonValue
from ledger.chain.entry import (
    FORMAT_VERSION,
    GENESIS_PREV,
    OPENING_KIND,
    Entry,
    entry_bytes,
    leaf_digest,
)
from ledger.chain.seal import seal
from ledger.store.entries import append, head
from ledger.store.rows import Rows

DAY = date(2026, 3, 2)
MOMENT = datetime(2026, 3, 4, 10, 22, 31, 123456, tzinfo=UTC)
OPENING: Mapping[str, JsonValue] = {
    "format_version": FORMAT_VERSION,
    "organisation": "maker",
    "organisation_name": "Invented Maker",
    "sites": [{"site": "works", "place": "Works Lane 1", "country": "CH"}],
}


@dataclass(frozen=True)
class Written:
    """An entry as it is handed to the store."""

    raw: bytes
    disclosures: Sequence[str] = ()

    @property
    def leaf(self) -> bytes:
        return leaf_digest(self.raw)


def written(
    seq: int,
    prev: str,
    kind: str = "lot.moved",
    body: Mapping[str, JsonValue] | None = None,
    *,
    sealed: Sequence[str] = (),
) -> Written:
    """Seal and write out an entry."""
    salts = (bytes([seq % 256, n]) * 8 for n in range(256))
    what = seal(
        body if body is not None else {"lot": f"L-{seq}", "to_place": "Shelf-7"},
        sealed,
        new_salt=lambda: next(salts),
    )
    entry = Entry(
        seq=seq,
        prev=prev,
        kind=kind,
        occurred_on=DAY,
        recorded_at=MOMENT,
        recorded_by="u1",
        body=what.body,
    )
    return Written(entry_bytes(entry), tuple(what.disclosures.values()))


def chain(length: int) -> list[Written]:
    """Entries that follow one another; every third one has a sealed value."""
    found: list[Written] = []
    prev = GENESIS_PREV
    for seq in range(length):
        kind, body, sealed = _content(seq)
        found.append(written(seq, prev, kind, body, sealed=sealed))
        prev = found[-1].leaf.hex()
    return found


def _content(seq: int) -> tuple[str, Mapping[str, JsonValue], Sequence[str]]:
    if seq == 0:
        return OPENING_KIND, OPENING, ()
    if seq % 3 == 1:
        name = {"party": f"P-{seq}", "roles": ["customer"], "country": "CH"}
        return (
            "party.registered",
            name | {"legal_name": f"Name of {seq}"},
            ["legal_name"],
        )
    return "lot.moved", {"lot": f"L-{seq}", "to_place": "Shelf-7"}, ()


def fill(write: Rows, length: int) -> list[Written]:
    """Append entries to an empty ledger."""
    entries = chain(length)
    for entry in entries:
        append(write, entry.raw, entry.disclosures)
    return entries


def append_next(write: Rows, *, by: str = "L") -> int:
    """Append one more entry, whatever the ledger holds."""
    seq, prev = head(write)
    body = {"lot": f"{by}-{seq}", "to_place": "Shelf-7"}
    return append(write, written(seq, prev, body=body).raw)
