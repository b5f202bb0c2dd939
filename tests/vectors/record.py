"""Examples of what a record consists of: canonical JSON, entries, tree, sealed values."""

from collections.abc import Callable, Iterator, Mapping
from hashlib import sha256
from typing import Any, ParamSpec, TypeAlias

from ledger.chain.canonical import canonical_bytes, parse_canonical
from ledger.chain.entry import GENESIS_PREV, leaf_digest, parse_entry
from ledger.chain.seal import open_sealed, parse_disclosure, seal
from ledger.chain.tree import consistency_path, inclusion_path, tree_root
from ledger.errors import LedgerError

Vector: TypeAlias = dict[str, Any]
P = ParamSpec("P")
SIZE = 7
"""Entries of the ledger of these examples: a tree with subtrees of 4, 2 and 1."""


def refuses(read: Callable[P, object], *given: P.args, **named: P.kwargs) -> bool:
    """Tell whether the program refuses to read something."""
    try:
        read(*given, **named)
    except LedgerError:
        return True
    return False


# --- Canonical JSON ------------------------------------------------------------------

_JSON = (
    ("an object", b'{"a":1,"b":[true,false,null,""],"c":{"d":"e"}}'),
    ("text beyond ASCII as it is", '{"a":"Ma\u00f1\u00e9 \u20ac \U0001f36b"}'.encode()),
    ("the short escapes", b'{"a":"\\b\\t\\n\\f\\r\\"\\\\/"}'),
    ("other control characters", b'{"a":"\\u0000\\u001f\x7f"}'),
    ("the largest integers", b'{"a":9007199254740991,"b":-9007199254740991}'),
    ("thirty-two levels", b"[" * 32 + b"]" * 32),
    ("thirty-three levels", b"[" * 33 + b"]" * 33),
    ("an integer beyond", b'{"a":9007199254740992}'),
    ("a fraction", b'{"a":1.5}'),
    ("a fraction that is whole", b'{"a":1.0}'),
    ("an exponent", b'{"a":1e3}'),
    ("minus zero", b'{"a":-0}'),
    ("a leading zero", b'{"a":01}'),
    ("a number that is none", b'{"a":NaN}'),
    ("names out of order", b'{"b":1,"a":2}'),
    ("a name twice", b'{"a":1,"a":1}'),
    ("a name beyond ASCII", '{"\u00e9":1}'.encode()),
    ("a blank", b'{"a": 1}'),
    ("a line feed behind", b'{"a":1}\n'),
    ("an escape that is not needed", b'{"a":"\\u0061"}'),
    ("an escape in capitals", b'{"a":"\\u001F"}'),
    ("a slash escaped", b'{"a":"\\/"}'),
    ("half of a character", b'{"a":"\\ud800"}'),
    ("bytes that are no UTF-8", b'{"a":"\xff"}'),
    ("a byte order mark", b'\xef\xbb\xbf{"a":1}'),
    ("a comma too many", b'{"a":1,}'),
    ("nothing", b""),
)


def canonical() -> Iterator[Vector]:
    """Yield texts, and whether each is canonical under the profile."""
    for name, raw in _JSON:
        holds = not refuses(parse_canonical, raw)
        yield {"name": name, "hex": raw.hex(), "holds": holds}


# --- Entries, chain, tree ------------------------------------------------------------


def record() -> list[bytes]:
    """Return a chain of entries; what they say is no concern of these examples."""
    raws: list[bytes] = []
    prev = GENESIS_PREV
    for seq in range(SIZE):
        kind = "ledger.opened" if seq == 0 else "hold.placed"
        body: dict[str, Any] = {"lot": f"L-{seq}", "note": "Ma\u00f1ana"}
        if seq == 0:
            body = {"organisation": "maker"}
        entry: dict[str, Any] = {
            "seq": seq,
            "prev": prev,
            "kind": kind,
            "occurred_on": "2026-03-02",
            "recorded_at": f"2026-03-04T10:22:31.00000{seq}Z",
            "recorded_by": "clerk",
            "body": body,
        }
        raws.append(canonical_bytes(entry))
        prev = leaf_digest(raws[-1]).hex()
    return raws


RECORD = record()
LEAVES = [leaf_digest(raw) for raw in RECORD]


def entries() -> Iterator[Vector]:
    """Yield the lines of a record with digests, and the root over them so far."""
    for seq, raw in enumerate(RECORD):
        yield {
            "line": raw.decode(),
            "digest": LEAVES[seq].hex(),
            "root": tree_root(LEAVES[: seq + 1]).hex(),
        }


_MEMBERS = (
    ("a member is missing", b'"recorded_by":"clerk",', b""),
    ("a member too many", b'"seq":1', b'"seq":1,"zeal":0'),
    ("a number as text", b'"seq":1', b'"seq":"1"'),
    ("a number below zero", b'"seq":1', b'"seq":-1'),
    ("a digest in capitals", b'"prev":"', b'"prev":"A'),
    ("a day that does not exist", b"2026-03-02", b"2026-02-30"),
    ("a day in another form", b"2026-03-02", b"02.03.2026"),
    ("a moment without fractions", b"31.000001Z", b"31Z"),
    ("a moment in another zone", b"31.000001Z", b"31.000001+01:00"),
    ("nobody wrote it", b'"clerk"', b'""'),
    ("a kind in capitals", b"hold.placed", b"Hold.placed"),
    ("a body that is a list", b'{"lot":"L-1","note":"Ma\xc3\xb1ana"}', b"[]"),
)


def not_entries() -> Iterator[Vector]:
    """Yield lines of canonical JSON that are no entries."""
    for name, was, now in _MEMBERS:
        line = RECORD[1].replace(was, now, 1)
        if line == RECORD[1] or not refuses(parse_entry, line):
            raise ValueError(name)
        yield {"name": name, "line": line.decode()}


def inclusion() -> Iterator[Vector]:
    """Yield the inclusion proof of every entry."""
    for index in range(SIZE):
        path = inclusion_path(LEAVES, index)
        yield {"index": index, "size": SIZE, "path": [one.hex() for one in path]}


def consistency() -> Iterator[Vector]:
    """Yield the consistency proof from every size to every later one."""
    for size in range(1, SIZE + 1):
        for old in range(1, size + 1):
            path = consistency_path(LEAVES[:size], old)
            yield {"old": old, "size": size, "path": [one.hex() for one in path]}


# --- Sealed values -------------------------------------------------------------------


def sealed() -> Iterator[Vector]:
    """Yield a body with sealed values, opened by none, some and all of what opens it."""
    salts = iter(sha256(b"salt %d" % number).digest()[:16] for number in range(9))
    body: dict[str, Any] = {
        "party": "shop-1",
        "legal_name": "Caf\u00e9 Invented",
        "contact": {"phone": "+41 00 000 00 00", "mail": "nobody"},
    }
    made = seal(
        body, ["legal_name", "contact", "contact.phone"], new_salt=salts.__next__
    )
    texts = made.disclosures
    for shown in (
        [],
        ["legal_name"],
        ["contact"],
        ["contact", "contact.phone"],
        list(texts),
    ):
        opened = open_sealed(made.body, [texts[path] for path in shown])
        yield {
            "name": f"shown: {', '.join(shown) or 'nothing'}",
            "body": made.body,
            "disclosures": [texts[path] for path in shown],
            "opened": opened.body,
            "hidden": sum(one.count for one in opened.hidden),
        }
    for name, body_read, given in _not_opened(dict(made.body), texts):
        if not refuses(open_sealed, body_read, given):
            raise ValueError(name)
        yield {"name": name, "body": body_read, "disclosures": given, "opened": None}


def _not_opened(
    body: dict[str, Any], texts: Mapping[str, str]
) -> Iterator[tuple[str, dict[str, Any], list[str]]]:
    name = texts["legal_name"]
    value = parse_disclosure(name)
    yield "one that belongs to no digest", body, [_changed(name)]
    yield "one twice", body, [name, name]
    yield "one inside another that is not shown", body, [texts["contact.phone"]]
    yield "a digest twice", {**body, "_sd": [*body["_sd"], body["_sd"][0]]}, []
    yield "a member that is there", {**body, value.name: "x"}, [name]
    yield "a digest that is none", {**body, "_sd": ["short"]}, []


def _changed(text: str) -> str:
    return f"{'X' if text[0] != 'X' else 'Y'}{text[1:]}"


def tickets() -> Iterator[Vector]:
    """Yield the tickets by which sales are drawn, the first drawn first."""
    root = tree_root(LEAVES).hex()
    found = sorted(
        (sha256(f"{root}:{seq}".encode()).hexdigest(), seq) for seq in range(SIZE)
    )
    for ticket, seq in found:
        yield {"root": root, "entry": seq, "ticket": ticket}
