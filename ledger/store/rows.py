"""The one shape in which the store talks to a database.

Every question is portable SQL text with `:name` parameters. Whoever can answer it, be it
the standard library's SQLite or SQLAlchemy over PostgreSQL, is a `Rows`.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import Any, Final, Protocol, TypeAlias

Value: TypeAlias = int | str | bytes | None
"""What a parameter may be."""

Row: TypeAlias = tuple[Any, ...]
"""One row of an answer: integers, text and bytes in the order of the columns asked."""

NOTHING: Final[Mapping[str, Value]] = MappingProxyType({})

PAGE: Final = 500
"""How many rows are asked for, or values listed, at a time."""


class Rows(Protocol):
    """Answers SQL, and executes it where the transaction may write."""

    def __call__(
        self, sql: str, parameters: Mapping[str, Value] = NOTHING, /
    ) -> list[Row]:
        """Return the rows that a statement gives; none where it only writes.

        Raises:
            LedgerError: The database cannot or may not do it.
        """


def listed(
    rows: Rows, sql: str, values: Iterable[int] | Iterable[str]
) -> Iterator[Row]:
    """Ask for rows that match any value of a list, however long it is.

    Args:
        rows: Whom to ask.
        sql: The question, with `{values}` where the list belongs.
        values: The list; repeats count once.

    Yields:
        The rows, in order only within each `PAGE` of values.
    """
    distinct: Sequence[int | str] = list(dict.fromkeys(values))
    for first in range(0, len(distinct), PAGE):
        page = {f"v{n}": v for n, v in enumerate(distinct[first : first + PAGE])}
        # A page is filled up with a repeat, so that few texts of the question exist.
        width = 1 << (len(page) - 1).bit_length()
        page |= {f"v{n}": page["v0"] for n in range(len(page), width)}
        names = ", ".join(f":{name}" for name in page)
        yield from rows(sql.format(values=names), page)
