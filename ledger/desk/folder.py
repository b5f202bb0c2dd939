"""Recording files: each is all or nothing, and says what happened to it."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from ledger.books.finding import Finding
from ledger.desk.record import record
from ledger.desk.writing import Writing
from ledger.errors import InputError, LedgerError
from ledger.intake.draft import Draft, in_its_place
from ledger.intake.folder import list_files, read_bytes
from ledger.intake.reading import read_file

BY_COMMAND: Final = {
    "disclosure.erased": "`evenweight erase`",
    "access.granted": "the page of people",
    "access.ended": "the page of people",
    "finding.noted": "the page of findings",
    "finding.closed": "the page of findings",
}
"""Kinds that no file records, and what does, because it does what they say."""

Transaction = Callable[[], AbstractContextManager[Writing]]


@dataclass(frozen=True, slots=True)
class Noted:
    """A warning about one entry, and where the entry stands.

    Attributes:
        where: File and line or row.
        seq: Sequence number of the entry.
        finding: The warning.
    """

    where: str
    seq: int
    finding: Finding


@dataclass(frozen=True, slots=True)
class FileOutcome:
    """What came of one file.

    Attributes:
        name: The file.
        entries: Number of entries recorded; 0 where it was refused.
        first_seq: Sequence number of the first of them, if any.
        warnings: What is unusual about them.
        refusal: Why nothing of it was recorded, if so.
    """

    name: str
    entries: int
    first_seq: int | None
    warnings: tuple[Noted, ...]
    refusal: LedgerError | None


@dataclass(frozen=True, slots=True)
class FilesFound:
    """Files to record, in order.

    Attributes:
        files: Name, as it is shown, and path of each.
        skipped: What was left out, with the reason.
    """

    files: tuple[tuple[str, Path], ...]
    skipped: tuple[str, ...]

    def contents(self) -> Iterator[tuple[str, bytes]]:
        """Yield name and content, reading each file when its turn comes.

        Raises:
            InputError: A file cannot be read.
        """
        for name, path in self.files:
            yield name, read_bytes(path)


def find_files(paths: Sequence[Path]) -> FilesFound:
    """Return the files that some paths name, folders opened in the order of recording.

    Raises:
        InputError: A folder cannot be read, a link in it leads out of it, or there is
            no file at all.
    """
    files: list[tuple[str, Path]] = []
    skipped: list[str] = []
    for path in paths:
        if path.is_dir():
            listing = list_files(path)
            files += [
                (found.relative_to(path).as_posix(), found) for found in listing.files
            ]
            skipped += listing.skipped
        else:
            files.append((str(path), path))
    if not files:
        raise InputError(
            f"no file of entries is in {', '.join(map(str, paths))}; name a file that ends "
            "in .yaml, .yml or .csv, or a folder that holds some"
        )
    return FilesFound(tuple(files), tuple(skipped))


class _DryRunError(Exception):
    """Rolls a transaction back after all went well."""


def record_files(
    transaction: Transaction,
    files: Iterable[tuple[str, bytes]],
    *,
    dry_run: bool = False,
) -> Iterator[FileOutcome]:
    """Record files one after another, and yield what came of each.

    A refused file leaves nothing behind, and ends the run: what follows usually rests
    on it.

    Args:
        transaction: Opens a transaction on the ledger.
        files: Name and content of each file, in the order of recording.
        dry_run: Whether to record nothing and only tell what would happen; then all
            files stand in one transaction that is rolled back at the end.
    """
    if dry_run:
        yield from _rehearse(transaction, files)
        return
    for name, raw in files:
        try:
            with transaction() as writing:
                outcome = record_file(writing, name, raw)
        except LedgerError as error:
            yield FileOutcome(name, 0, None, (), error)
            return
        yield outcome


def _rehearse(
    transaction: Transaction, files: Iterable[tuple[str, bytes]]
) -> Iterator[FileOutcome]:
    outcomes: list[FileOutcome] = []
    with suppress(_DryRunError), transaction() as writing:
        for name, raw in files:
            try:
                outcomes.append(record_file(writing, name, raw))
            except LedgerError as error:
                outcomes.append(FileOutcome(name, 0, None, (), error))
                break
        raise _DryRunError
    yield from outcomes


def record_file(writing: Writing, name: str, raw: bytes) -> FileOutcome:
    """Record every entry of one file within an open transaction.

    Args:
        writing: The open transaction; where an entry is refused it must roll back.
        name: Name of the file.
        raw: Its content.

    Raises:
        InputError: The file cannot be read, or holds what no file records.
        EntryRefusedError: The books refuse one of its entries.
    """
    drafts = read_file(name, raw)
    noted: list[Noted] = []
    first: int | None = None
    for draft in drafts:
        seq, warnings = _record_draft(writing, draft)
        first = seq if first is None else first
        noted += [Noted(draft.where, seq, warning) for warning in warnings]
    return FileOutcome(name, len(drafts), first, tuple(noted), None)


def _record_draft(writing: Writing, draft: Draft) -> tuple[int, tuple[Finding, ...]]:
    with in_its_place(draft):
        refuse_by_command(draft.kind)
        made = record(writing, draft.kind, draft.occurred_on, draft.body)
    return made.recorded.seq, made.judgement.warnings


def refuse_by_command(kind: str) -> None:
    """Refuse a kind of entry that only a command or page records.

    Raises:
        InputError: It is one of those.
    """
    if kind in BY_COMMAND:
        raise InputError(
            f"{kind} says that something was done, which a file does not do; "
            f"use {BY_COMMAND[kind]}, which does and records it"
        )
