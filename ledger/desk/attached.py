"""What an audit report carries inside: the record and figures it was worked out from."""

from collections.abc import Iterable, Iterator
from datetime import date, datetime
from typing import TYPE_CHECKING, Final

from ledger.audit.figure import COMPUTED, Asked, figure_text
from ledger.audit.layout import ENTRIES, SCOPE, TREE_HEAD, Scope, TreeHead
from ledger.audit.scope import scope_text, tree_head_text
from ledger.audit.writing import record_lines
from ledger.chain.link import Withheld
from ledger.reports.page import Attached
from ledger.store.entries import frontier, stream_raws
from ledger.store.shelf import SqlShelf

if TYPE_CHECKING:
    from ledger.store.rows import Rows

MOST_ATTACHED_BYTES: Final = 32 * 2**20
"""Bytes of entries up to which they are carried; a longer record is in the pack alone."""
_FIGURES: Final = {
    "balances.csv": "What accounts closed at, as the pack claims it",
    "stock.csv": "What is on hand, as the pack claims it",
    "dues.csv": "What growers are owed and were paid, as the pack claims it",
    "sampled-sales.csv": "The sales that were drawn, with their tickets",
}


def attached_to_report(
    rows: "Rows", *, as_of: date, made_at: datetime, made_by: str
) -> tuple[Attached, ...]:
    """Return what a report of a whole ledger is worked out from, by name.

    Args:
        rows: The ledger.
        as_of: Last trade date that counts.
        made_at: The moment, in UTC.
        made_by: Who makes the report.

    Raises:
        SealError: The stored entries do not give the tree head that is kept.
    """
    tree = frontier(rows)
    asked = Asked(SqlShelf(rows), TreeHead(tree.size, tree.root()), as_of)
    scope = Scope(as_of, made_at, made_by, tree.size)
    return attached_files(asked, scope, stream_raws(rows))


def attached_files(
    asked: Asked, scope: Scope, entries: Iterable[bytes | Withheld]
) -> tuple[Attached, ...]:
    """Return what a report is worked out from, as the pack holds it, by name.

    Values that were sealed stay sealed: a report is passed on more easily than a pack.

    Args:
        asked: What the figures are of.
        scope: What they cover.
        entries: Canonical bytes of every entry, or the digest of one that is not shown.

    Raises:
        SealError: The entries are not those of the tree head.
    """
    found = [
        _attached(SCOPE, "What the figures cover", scope_text(scope), scope.made_at),
        _attached(
            TREE_HEAD,
            "What stands for all entries",
            tree_head_text(asked.head),
            scope.made_at,
        ),
        *(
            Attached(
                figure.file,
                _FIGURES[figure.file],
                figure_text(figure, figure.rows(asked)),
                scope.made_at,
            )
            for figure in COMPUTED
        ),
    ]
    record = _bounded(record_lines(entries, asked.head))
    if record is not None:
        says = "The entries, one a line, as they were recorded"
        found.append(_attached(ENTRIES, says, record, scope.made_at))
    return tuple(sorted(found, key=lambda one: one.name))


def _attached(place: str, says: str, content: bytes, made_at: datetime) -> Attached:
    return Attached(place.rpartition("/")[2], says, content, made_at)


def _bounded(lines: Iterator[bytes]) -> bytes | None:
    found = bytearray()
    for line in lines:
        found += line
        if len(found) > MOST_ATTACHED_BYTES:
            return None
    return bytes(found)
