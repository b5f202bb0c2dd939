"""The record: a list of entries, one of them, recording one, foreseeing what it does."""

from typing import Annotated, Final

from fastapi import Path, Query
from starlette.responses import Response

from ledger.desk.entries import Wanted, find_entries, read_entry
from ledger.desk.folder import refuse_by_command
from ledger.desk.foresee import foresee
from ledger.desk.record import record
from ledger.store.entries import head
from ledger.trade.record import Day
from ledger.trade.scope import Scope
from ledger.web.access import AUDIT, MAKER
from ledger.web.api.asking import Since
from ledger.web.api.call import JSON, Call
from ledger.web.api.caller import Calling
from ledger.web.api.cursor import USUAL, After, Limit, cursor_of, number_in
from ledger.web.api.entry_model import (
    Entries,
    EntryLine,
    EntryRead,
    Foretold,
    NewEntry,
    RecordedEntry,
)
from ledger.web.api.once import once

Kind = Annotated[
    str | None,
    Query(max_length=60, description="Only this kind", examples=["shipment.received"]),
]
By = Annotated[
    str | None,
    Query(max_length=64, description="Only what this person recorded"),
]
LastDay = Annotated[
    Day | None,
    Query(description="Last trade date", examples=["2026-09-30"]),
]
Number = Annotated[
    int, Path(ge=0, le=2**53 - 1, description="Number of the entry", examples=[38])
]


def read_entries(
    caller: Calling,
    kind: Kind = None,
    by: By = None,
    since: Since = None,
    until: LastDay = None,
    after: After = None,
    limit: Limit = USUAL,
) -> Entries:
    """List entries, the last recorded first."""
    wanted = Wanted(
        kind=kind or "",
        by=by or "",
        since=since,
        until=until,
        before=number_in(after),
    )
    with caller.books() as books:
        found = find_entries(books.rows, wanted, caller.reader, most=limit)
    return Entries(
        entries=[EntryLine.of(entry, standing) for entry, standing in found.entries],
        next=None if found.before is None else cursor_of((found.before,)),
    )


def read_one_entry(caller: Calling, entry: Number) -> EntryRead:
    """Return one entry: what it says, and whether it counts."""
    with caller.books() as books:
        return EntryRead.of_one(
            read_entry(books.rows, books.shelf, entry, caller.reader)
        )


def record_entry(caller: Calling, given: NewEntry) -> Response:
    """Record one entry, if the books let it in."""
    refuse_by_command(given.kind)
    return once(
        caller,
        lambda writing: RecordedEntry.of(
            record(writing, given.kind, given.occurred_on, given.body),
            head(writing.rows)[1],
        ),
    )


def foresee_entry(caller: Calling, given: NewEntry) -> Foretold:
    """Return what an entry would do to balances, lots and dues; nothing is recorded."""
    refuse_by_command(given.kind)
    return Foretold.of(
        foresee(caller.writing, given.kind, given.occurred_on, given.body)
    )


_EXAMPLE: Final = {
    "body": {
        "kind": "lot.moved",
        "occurred_on": "2026-09-30",
        "body": {"lot": "BU-03", "to_place": "cold-store"},
    }
}

CALLS: Final = (
    Call(
        "GET",
        "/entries",
        read_entries,
        Entries,
        MAKER | AUDIT,
        Scope.READ,
        "Entries",
        follows_day=True,
        example={"kind": "shipment.received", "limit": 20},
    ),
    Call(
        "GET",
        "/entries/{entry}",
        read_one_entry,
        EntryRead,
        MAKER | AUDIT,
        Scope.READ,
        "Entries",
        follows_day=True,
        example={"entry": 38},
    ),
    Call(
        "POST",
        "/entries",
        record_entry,
        RecordedEntry,
        MAKER,
        Scope.RECORD,
        "Entries",
        takes=(JSON,),
        once=True,
        status=201,
        example=_EXAMPLE,
    ),
    Call(
        "POST",
        "/preview/entries",
        foresee_entry,
        Foretold,
        MAKER,
        Scope.RECORD,
        "Entries",
        takes=(JSON,),
        example=_EXAMPLE,
    ),
)
