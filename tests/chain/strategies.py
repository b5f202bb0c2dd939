"""What the properties of the chain are tried on."""

from collections.abc import Mapping
from datetime import UTC, datetime

from hypothesis import strategies as st

from ledger.chain.canonical import MAX_INTEGER, JsonValue
from ledger.chain.entry import GENESIS_PREV, Entry, entry_bytes, leaf_digest

# Any character but the halves of surrogate pairs, which stand for no text.
TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
# No dots, which part the steps of a path, and nothing like `_sd`.
NAMES = st.text('abcXYZ09 "\\\n\x7f', max_size=4)
SCALARS: st.SearchStrategy[JsonValue] = st.one_of(
    st.none(), st.booleans(), st.integers(-MAX_INTEGER, MAX_INTEGER), TEXTS
)
JSON_VALUES: st.SearchStrategy[JsonValue] = st.recursive(
    SCALARS,
    lambda inner: st.one_of(
        st.lists(inner, max_size=4), st.dictionaries(NAMES, inner, max_size=4)
    ),
    max_leaves=20,
)
BODIES: st.SearchStrategy[Mapping[str, JsonValue]] = st.dictionaries(
    NAMES, JSON_VALUES, max_size=5
)
ENTRIES = st.builds(
    Entry,
    seq=st.integers(0, MAX_INTEGER),
    prev=st.binary(min_size=32, max_size=32).map(bytes.hex),
    kind=st.from_regex(r"[a-z][a-z0-9_]{0,8}(\.[a-z][a-z0-9_]{0,8})?", fullmatch=True),
    occurred_on=st.dates(),
    recorded_at=st.datetimes(timezones=st.just(UTC)),
    recorded_by=TEXTS.filter(bool),
    body=BODIES,
)


def chain(length: int, *, seq: int = 0, prev: str = GENESIS_PREV) -> list[bytes]:
    """A sound chain of entries, as stored, from a place in the chain onwards."""
    raws: list[bytes] = []
    for place in range(seq, seq + length):
        entry = Entry(
            seq=place,
            prev=prev,
            kind="ledger.opened" if place == 0 else "lot.moved",
            occurred_on=datetime(2026, 3, 2, tzinfo=UTC).date(),
            recorded_at=datetime(2026, 3, 4, 10, 22, place % 60, 123456, tzinfo=UTC),
            recorded_by="u1",
            body={"lot": f"L{place}", "to": "Regal 7, Süd"},
        )
        raws.append(entry_bytes(entry))
        prev = leaf_digest(raws[-1]).hex()
    return raws
