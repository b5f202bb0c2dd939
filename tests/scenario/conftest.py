"""The scenario of sample_shipments/, read from its files and judged once."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest

from ledger.books.effect import Recorded
from ledger.books.finding import Finding
from ledger.books.judge import judge
from ledger.books.memory import MemoryShelf
from ledger.books.opening import parse_body
from ledger.intake.draft import Draft
from ledger.intake.folder import list_files
from ledger.intake.reading import read_file
from sample_shipments.generate import FOLDER

RECORDED_AT = datetime(2026, 10, 5, 9, 0, tzinfo=UTC)


@dataclass(frozen=True)
class Replayed:
    """Everything recorded, and what the books said to it."""

    shelf: MemoryShelf
    entries: tuple[Recorded, ...]
    warnings: tuple[tuple[int, Finding], ...]


@pytest.fixture(scope="session")
def replayed() -> Replayed:
    shelf = MemoryShelf()
    entries: list[Recorded] = []
    warnings: list[tuple[int, Finding]] = []
    for draft in drafts_in(FOLDER):
        entry = entry_of(draft, seq=len(entries))
        warnings += [(entry.seq, warning) for warning in judge(shelf, entry).warnings]
        entries.append(entry)
    return Replayed(shelf, tuple(entries), tuple(warnings))


def drafts_in(folder: Path) -> Iterator[Draft]:
    for path in list_files(folder).files:
        yield from read_file(path.relative_to(folder).as_posix(), path.read_bytes())


def entry_of(draft: Draft, *, seq: int) -> Recorded:
    return Recorded(
        seq=seq,
        slot=seq,
        occurred_on=draft.occurred_on,
        recorded_at=RECORDED_AT,
        recorded_by="buyer",
        record=parse_body(draft.kind, draft.body),
    )
