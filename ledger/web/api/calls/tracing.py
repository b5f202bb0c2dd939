"""Where goods came from, where they went, and what a recall of them needs."""

from typing import Annotated, Final

from fastapi import Query

from ledger.books.asked import find_asked
from ledger.books.genealogy import trace_back, trace_forward
from ledger.books.why_share import why_share
from ledger.desk.recall import recall_for
from ledger.reports.recall_table import flat_table, phone_table
from ledger.reports.share_workings import share_workings_table
from ledger.reports.trace_table import trace_table
from ledger.trade.scope import Scope
from ledger.web.access import AUDIT, MAKER
from ledger.web.api.asking import AsOf, OfGoods, RecordedBy
from ledger.web.api.call import Call
from ledger.web.api.caller import Calling
from ledger.web.api.row import rows_from, said_of
from ledger.web.api.trace_row import CallRow, Recall, RecallRow, Trace, TraceRow
from ledger.web.api.working_row import ShareWorkings, WorkingRow

Forward = Annotated[
    bool, Query(description="To customers, instead of back to growers", examples=[True])
]
OfLot = Annotated[
    str,
    Query(
        min_length=1,
        max_length=64,
        description="The lot whose share is explained",
        examples=["SU-01"],
    ),
]


def read_trace(
    caller: Calling,
    of: OfGoods,
    forward: Forward = False,  # noqa: FBT002 - named in the query
    as_of: AsOf = None,
    recorded_by: RecordedBy = None,
) -> Trace:
    """Trace goods back to growers, or forward to customers, with masses and shares."""
    with caller.books(recorded_by) as books:
        asked = find_asked(books.shelf, of)
        found = (
            trace_forward(books.shelf, asked, until=caller.until(as_of))
            if forward
            else trace_back(books.shelf, asked)
        )
        table = trace_table(found)
    return Trace(rows=rows_from(TraceRow, table), **said_of(table))


def explain_share(
    caller: Calling, of: OfGoods, lot: OfLot, recorded_by: RecordedBy = None
) -> ShareWorkings:
    """Return how the share of a lot in some goods was reached, mixture by mixture."""
    with caller.books(recorded_by) as books:
        found = why_share(books.shelf, find_asked(books.shelf, of), lot)
    table = share_workings_table(found)
    return ShareWorkings(rows=rows_from(WorkingRow, table), **said_of(table))


def read_recall(caller: Calling, of: OfGoods, as_of: AsOf = None) -> Recall:
    """Return what a recall needs: stock to lock away, customers to call, what is missing.

    What must be done, and by when, the law and the competent authority say; this list
    only tells what the record holds.
    """
    until = caller.until(as_of)
    with caller.books() as books:
        found = recall_for(caller.reader, books.shelf, of, until)
    table, calls = flat_table(found), phone_table(found)
    return Recall(
        title=table.title,
        notes=[*table.notes, *calls.notes],
        as_of=until,
        rows=rows_from(RecallRow, table),
        calls=rows_from(CallRow, calls),
    )


CALLS: Final = (
    Call(
        "GET",
        "/trace",
        read_trace,
        Trace,
        MAKER | AUDIT,
        Scope.READ,
        "Trace and recall",
        follows_day=True,
        example={"of": "SA-0122"},
    ),
    Call(
        "GET",
        "/workings/share",
        explain_share,
        ShareWorkings,
        MAKER | AUDIT,
        Scope.READ,
        "Trace and recall",
        follows_day=True,
        example={"of": "SA-0122", "lot": "SU-01"},
    ),
    Call(
        "GET",
        "/recall",
        read_recall,
        Recall,
        MAKER,
        Scope.READ,
        "Trace and recall",
        follows_day=True,
        example={"of": "SA-0122", "as_of": "2026-09-30"},
    ),
)
