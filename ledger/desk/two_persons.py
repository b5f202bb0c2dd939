"""The rule of two persons: whether a correction may be recorded by one alone."""

from typing import TYPE_CHECKING, Final

from ledger.desk.writing import Writing
from ledger.errors import RefusedError
from ledger.store.people import setting
from ledger.trade.control import Correction
from ledger.trade.record import Record

if TYPE_CHECKING:
    from ledger.store.rows import Rows

SETTING: Final = "corrections need two"
"""Name of the setting; "yes" where they do."""


def needs_two(rows: "Rows") -> bool:
    """Tell whether a correction needs a second person."""
    return setting(rows, SETTING) == "yes"


def refuse_alone(writing: Writing, given: Record) -> None:
    """Refuse a correction that needs a second person and has none.

    Args:
        writing: The open transaction; it knows who really approved.
        given: The record that is to be written.

    Raises:
        RefusedError: Nobody else stands behind it.
    """
    if not isinstance(given, Correction) or not needs_two(writing.rows):
        return
    approver = writing.approved_by
    if (
        approver is None
        or approver in {writing.by, ""}
        or approver != given.approved_by
    ):
        raise RefusedError(
            f"the correction of entry {given.target} is by {writing.by} alone, but this "
            "maker lets corrections be recorded by two persons only; propose it on the "
            "page of that entry, where another compliance officer approves it"
        )
