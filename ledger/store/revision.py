"""Which layout of the tables this program reads and writes."""

from collections.abc import Collection
from typing import Final

from ledger.errors import ConflictError

REVISIONS: Final = ("ew0001", "ew0002")
"""Revisions of the layout, from the first to the one in use."""

HEAD: Final = REVISIONS[-1]
"""The revision in use, as it stands in the table alembic_version."""

OURS: Final = frozenset({"alembic_version", "entry"})
"""Tables without which a database that is not empty is no ledger."""


def not_ours(place: str) -> ConflictError:
    """Return the error that a database holds something other than a ledger."""
    return ConflictError(
        f"the database {place} holds no ledger, or tables that are not a ledger's; name "
        "the database of a ledger, or an empty one to open a new ledger in"
    )


def check_known(found: Collection[str], place: str) -> None:
    """Refuse a database that a newer program has laid out.

    Args:
        found: What stands in alembic_version.
        place: File or address of the database.

    Raises:
        ConflictError: Something stands there that this program does not know.
    """
    unknown = sorted(set(found) - set(REVISIONS))
    if unknown:
        raise ConflictError(
            f"the database {place} has the layout {', '.join(unknown)}, which this "
            f"program does not know (it knows up to {HEAD}); use the newer evenweight "
            "that last wrote to it"
        )


def check_current(found: Collection[str], place: str) -> None:
    """Refuse a database whose layout is not the one in use.

    Raises:
        ConflictError: The layout is newer, older or missing.
    """
    check_known(found, place)
    if tuple(found) != (HEAD,):
        raise ConflictError(
            f"the database {place} still has the layout {', '.join(found) or 'of none'} "
            f"instead of {HEAD}; open it once for recording, which brings it up to date"
        )
