"""Long lists page by page: a cursor says after which row a page goes on.

It names the row itself and not its number, so that rows that are recorded in the meantime
neither repeat nor hide any.
"""

import base64
import json
from collections.abc import Callable, Iterable, Iterator
from itertools import islice
from typing import Annotated, Final, TypeVar

from fastapi import Query

from ledger.errors import ConflictError, InputError

Place = tuple[int | str, ...]
"""What tells one row of a list from every other."""

USUAL: Final = 100
MOST: Final = 500
_LONGEST: Final = 600

Row = TypeVar("Row")

Limit = Annotated[
    int, Query(ge=1, le=MOST, description="How many rows at most", examples=[20])
]
After = Annotated[
    str | None,
    Query(
        max_length=_LONGEST,
        description="The cursor `next` of the page before; the first page if left out",
    ),
]


def page_of(
    rows: Iterable[Row], place_of: Callable[[Row], Place], *, limit: int
) -> tuple[list[Row], str | None]:
    """Return a page of rows, and the cursor of the next page if there is one.

    Args:
        rows: The rows from the first of the page on.
        place_of: Gives the place of a row.
        limit: Most rows of the page.
    """
    page = list(islice(rows, limit + 1))
    if len(page) <= limit:
        return page, None
    return page[:limit], cursor_of(place_of(page[limit - 1]))


def beyond(
    rows: Iterable[Row], place_of: Callable[[Row], Place], start: Place | None
) -> Iterator[Row]:
    """Yield the rows that come after a place; all where none is given.

    Raises:
        ConflictError: No row has that place any more.
    """
    left = iter(rows)
    if start is not None and not any(place_of(row) == start for row in left):
        raise ConflictError(
            "the row after which the list would go on counts no more; begin with the "
            "first page again"
        )
    yield from left


def cursor_of(place: Place) -> str:
    """Return the cursor that goes on after a place."""
    return base64.urlsafe_b64encode(json.dumps(place).encode()).decode().rstrip("=")


def name_in(after: str | None) -> str:
    """Return the name after which a list goes on; empty where there is no cursor.

    Raises:
        InputError: It is no cursor of a list in the order of names.
    """
    found = place_in(after, str)
    return "" if found is None else str(found[0])


def number_in(after: str | None) -> int | None:
    """Return the number at which a list goes on; None where there is no cursor.

    Raises:
        InputError: It is no cursor of a list in the order of numbers.
    """
    found = place_in(after, int)
    return None if found is None else int(found[0])


def place_in(after: str | None, *sorts: type[int] | type[str]) -> Place | None:
    """Return the place that a cursor holds; None where there is no cursor.

    Args:
        after: The cursor.
        sorts: Of what the places of the list are made.

    Raises:
        InputError: It is no cursor of such a list.
    """
    if after is None:
        return None
    try:
        padded = after + "=" * (-len(after) % 4)
        found = json.loads(base64.b64decode(padded, altchars=b"-_", validate=True))
    except (ValueError, RecursionError):
        found = None
    if (
        not isinstance(found, list)
        or [type(one) for one in found] != list(sorts)
        or cursor_of(tuple(found)) != after
    ):
        raise InputError(
            f"after is {after[:60]!r}, which is no cursor of this list; give the member "
            "next of the page before, as it is, or leave it out"
        )
    return tuple(found)
