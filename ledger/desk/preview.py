"""What a reader of a pack will see and what stays hidden, told before it is made."""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ledger.chain.canonical import parse_json
from ledger.desk.pack import Wanted, select
from ledger.desk.showing import Decided, decide
from ledger.reports.tables import Column, Table
from ledger.store.entries import frontier, stream_raws

if TYPE_CHECKING:
    from ledger.store.rows import Rows


@dataclass(frozen=True, slots=True)
class Count:
    """How much of one sort is shown.

    Attributes:
        what: The sort.
        shown: How many are shown.
        hidden: How many are not.
    """

    what: str
    shown: int
    hidden: int


@dataclass(frozen=True, slots=True)
class Preview:
    """What a pack would show.

    Attributes:
        reader: Who reads it.
        profile: What the reader is shown, by name and day.
        entries: Entries by kind.
        values: Sealed values of the entries that are shown, by what they are.
        sampled: Names of the sales that the present tree head draws.
    """

    reader: str
    profile: str
    entries: tuple[Count, ...]
    values: tuple[Count, ...]
    sampled: tuple[str, ...]


def preview(rows: "Rows", wanted: Wanted) -> Preview:
    """Return what a pack would show, without writing one.

    Args:
        rows: The ledger, as it stands at one moment.
        wanted: What the pack is to show.

    Raises:
        NotFoundError: Nothing is recorded of the scheme or sale that it is about.
        SealError: The part cannot be shown by itself.
    """
    selected = select(rows, frontier(rows).root(), wanted)
    reader = selected.reader
    kinds = (
        (_kind_in(raw), reader.sees_entry(seq))
        for seq, raw in enumerate(stream_raws(rows))
    )
    values = ((_what(one), one.is_shown) for one in decide(rows, reader))
    return Preview(
        reader=reader.profile.reader,
        profile=str(reader.profile),
        entries=tuple(_counts(kinds)),
        values=tuple(_counts(values)),
        sampled=selected.sampled,
    )


def preview_tables(found: Preview) -> tuple[Table, Table]:
    """Return what a pack would show as tables: entries, and sealed values."""
    note = (
        "Contacts are never shown. What is sealed in an entry that is not shown stays "
        "sealed with it, and is not counted here."
    )
    return (
        _table("Entries by kind", "kind", found.entries, _sampled(found.sampled)),
        _table(
            f"Sealed values, as {found.reader} sees them (profile {found.profile})",
            "value",
            found.values,
            note,
        ),
    )


def _sampled(sales: tuple[str, ...]) -> str:
    named = ", ".join(sales) or "none, since there are no sales to draw from"
    return (
        f"Sampled sales, drawn by the present tree head: {named}. Another entry gives "
        "another draw."
    )


def _table(title: str, key: str, counts: tuple[Count, ...], *notes: str) -> Table:
    return Table(
        title=title,
        columns=(
            Column(key, key.capitalize(), width=30),
            Column("shown", "Shown", is_figure=True),
            Column("hidden", "Hidden", is_figure=True),
        ),
        rows=[(one.what, str(one.shown), str(one.hidden)) for one in counts],
        notes=notes,
    )


def _kind_in(raw: bytes) -> str:
    entry = parse_json(raw)
    return str(entry["kind"]) if isinstance(entry, dict) else "not an entry"


def _counts(found: Iterable[tuple[str, bool]]) -> Iterator[Count]:
    counted = Counter(found)
    for what in sorted({what for what, _ in counted}):
        yield Count(what, counted[what, True], counted[what, False])


def _what(decided: Decided) -> str:
    of = decided.kind if not decided.roles else " and ".join(decided.roles)
    return f"{decided.member.replace('_', ' ')} of {of}"
