"""What follows from the entries: emptied for a rebuild, and compared before and after."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from ledger.store.rows import PAGE, Row, Rows, Value


@dataclass(frozen=True, slots=True)
class Layout:
    """Columns of a derived table.

    Attributes:
        key: The columns by which its rows are told apart, in order.
        others: Its other columns.
    """

    key: tuple[str, ...]
    others: tuple[str, ...]


DERIVED: Final[dict[str, Layout]] = {
    "slot": Layout(("slot",), ("seq", "kind", "occurred_on")),
    "introduced": Layout(("kind", "name"), ("slot", "line")),
    "mention": Layout(("kind", "name", "slot", "line"), ("entry_kind",)),
    "posting": Layout(("book", "key", "day", "slot", "line"), ("grams", "cause")),
    "tally_day": Layout(("book", "key", "day"), ("closing_g",)),
    "edge": Layout(("target", "slot", "line"), ("source", "grams")),
    "tree_head": Layout(("place",), ("size", "frontier")),
}
"""Every derived table; a table stands before those that refer to it."""


def drop_derived(write: Rows) -> None:
    """Empty every table that follows from the entries, the tree included.

    Args:
        write: The transaction of a writer.
    """
    for table in reversed(DERIVED):
        write(f"DELETE FROM {table}")  # noqa: S608 - a table of ours


def set_aside(write: Rows) -> None:
    """Copy every derived table, to compare with after a rebuild.

    Args:
        write: The transaction of a writer; the copies are gone when it ends.
    """
    for table in DERIVED:
        write(f"DROP TABLE IF EXISTS before_{table}")
        write(f"CREATE TEMPORARY TABLE before_{table} AS SELECT * FROM {table}")  # noqa: S608 - ours


def changes_since_set_aside(rows: Rows) -> Iterator[tuple[str, Row, bool]]:
    """Yield the rows that differ from the copies set aside.

    Yields:
        The table, the row with key columns first, and whether it stood before and is
        gone, rather than new.
    """
    for table, layout in DERIVED.items():
        columns = ", ".join((*layout.key, *layout.others))
        old = f"SELECT {columns} FROM before_{table}"  # noqa: S608 - ours
        new = f"SELECT {columns} FROM {table}"  # noqa: S608 - ours
        for row in rows(f"{old} EXCEPT {new} ORDER BY 1, 2"):
            yield table, row, True
        for row in rows(f"{new} EXCEPT {old} ORDER BY 1, 2"):
            yield table, row, False


def derived_rows(rows: Rows) -> Iterator[tuple[str, Row]]:
    """Yield every row that follows from the entries, a page in memory at a time.

    Yields:
        The table and the row, key columns first, in an order that depends on nothing
        but the rows.
    """
    for table, layout in DERIVED.items():
        for row in _rows_in_order(rows, table, layout):
            yield table, row


def _rows_in_order(rows: Rows, table: str, layout: Layout) -> Iterator[Row]:
    key = ", ".join(layout.key)
    after = ", ".join(f":{column}" for column in layout.key)
    every = f"SELECT {', '.join((*layout.key, *layout.others))} FROM {table}"  # noqa: S608 - ours
    ordered = f" ORDER BY {key} LIMIT {PAGE}"
    page = rows(every + ordered)
    while page:
        yield from page
        last: Mapping[str, Value] = dict(zip(layout.key, page[-1], strict=False))
        page = rows(f"{every} WHERE ({key}) > ({after}){ordered}", last)
