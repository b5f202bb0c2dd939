"""Correcting: an entry is void, or one read from a file takes its place."""

from dataclasses import replace
from datetime import date
from pathlib import Path

from ledger.chain.canonical import JsonValue
from ledger.desk.record import Recording, record
from ledger.desk.writing import Writing
from ledger.errors import InputError
from ledger.intake.folder import read_bytes
from ledger.intake.reading import read_file


def correct(
    writing: Writing,
    target: int,
    *,
    reason: str,
    replacement: Path | None,
    on: date,
    approved_by: str | None = None,
    accept_breach: bool = False,
) -> Recording:
    """Record a correction.

    Args:
        writing: The open transaction.
        target: Sequence number of the entry that is wrong.
        reason: What was wrong, and how it was found.
        replacement: File with the one entry that takes its place; None makes it void.
        on: Trade date of the correction.
        approved_by: Second person who approved it.
        accept_breach: Whether to record it even if it leaves an account short.

    Raises:
        InputError: The file does not hold exactly one entry.
        EntryRefusedError: The books refuse the correction.
    """
    body: dict[str, JsonValue] = {"target": target, "reason": reason}
    if replacement is not None:
        body["replacement"] = _replacement_in(replacement)
    if approved_by is not None:
        body["approved_by"] = approved_by
    if accept_breach:
        body["accept_breach"] = True
    # Whoever has the ledger's own file is believed about who approved.
    both = replace(writing, approved_by=approved_by)
    return record(both, "correction", on, body)


def _replacement_in(file: Path) -> dict[str, JsonValue]:
    drafts = read_file(file.name, read_bytes(file))
    if len(drafts) != 1:
        raise InputError(
            f"{file} holds {len(drafts)} entries; a correction puts one entry in the "
            "place of another, so give a file with exactly one"
        )
    [draft] = drafts
    return {
        "entry_kind": draft.kind,
        "occurred_on": draft.occurred_on.isoformat(),
        "body": dict(draft.body),
    }
