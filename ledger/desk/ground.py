"""Where the books of a pack are added up: in memory, or on disk if it is a large one."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from ledger.audit.replay import Ground, in_memory

MOST_IN_MEMORY: Final = 20_000
"""Entries of a pack up to which its books are added up in memory."""


@contextmanager
def ground_for(entries: int) -> Iterator[Ground]:
    """Give an empty shelf for the books of a pack.

    Args:
        entries: How many entries the pack has.

    Yields:
        The shelf; one on disk is removed in the end.
    """
    if entries <= MOST_IN_MEMORY:
        with in_memory(entries) as ground:
            yield ground
        return
    # Loaded for large packs only; the library of tables takes a moment.
    from ledger.store.scratch import ScratchShelf, scratch_rows

    with scratch_rows() as rows:
        yield ScratchShelf(rows)
