"""What an auditor asks on site: breaches, yields, and whether the masses add up."""

from datetime import date, timedelta
from typing import Final

from ledger.books.breach import find_breaches
from ledger.books.flattery import flatteries
from ledger.books.reconciliation import reconcile
from ledger.books.yield_ratio import yield_series
from ledger.errors import InputError
from ledger.reports.breach_table import flat_table
from ledger.reports.reconciliation_table import counts_table, forms_table
from ledger.reports.yield_table import factors_table, yields_table
from ledger.trade.scope import Scope
from ledger.web.access import AUDIT
from ledger.web.api.asking import AsOf, RecordedBy, Since, Until
from ledger.web.api.audit_row import (
    Breaches,
    BreachRow,
    CountRow,
    FactorRow,
    FormRow,
    Reconciliation,
    YieldRow,
    Yields,
)
from ledger.web.api.call import Call
from ledger.web.api.caller import Caller, Calling
from ledger.web.api.row import rows_from, said_of

_A_YEAR: Final = timedelta(days=364)


def read_breaches(
    caller: Calling, as_of: AsOf = None, recorded_by: RecordedBy = None
) -> Breaches:
    """Return claims that are no longer covered: why, what they touch, the way out.

    Closed breaches stay listed with what closed them.
    """
    until = caller.until(as_of)
    with caller.books(recorded_by) as books:
        found = find_breaches(books.shelf, until)
        table = flat_table(found)
    return Breaches(
        as_of=until,
        is_open=found.is_open,
        rows=rows_from(BreachRow, table),
        **said_of(table),
    )


def read_yields(caller: Calling, since: Since = None, until: Until = None) -> Yields:
    """Return measured yields with control limits, and how much the factors flatter.

    Without `since` it is the year up to the last day.
    """
    first, last = _span(caller, since, until)
    with caller.books() as books:
        found = yield_series(books.shelf, since=first, until=last)
        compared = flatteries(books.shelf, since=first, until=last)
    table, factors = (
        yields_table(found, since=first, until=last),
        factors_table(compared),
    )
    return Yields(
        title=table.title,
        notes=[*table.notes, *factors.notes],
        since=first,
        until=last,
        rows=rows_from(YieldRow, table),
        factors=rows_from(FactorRow, factors),
    )


def read_reconciliation(
    caller: Calling, since: Since = None, until: Until = None
) -> Reconciliation:
    """Return whether all masses add up: opening, came, went, closing, form by form.

    Without `since` it is the year up to the last day.
    """
    first, last = _span(caller, since, until)
    with caller.books() as books:
        found = reconcile(books.shelf, since=first, until=last)
    table, counts = forms_table(found), counts_table(found)
    return Reconciliation(
        title=table.title,
        notes=[*table.notes, *counts.notes],
        since=first,
        until=last,
        adds_up=found.adds_up and all(one.is_within for one in found.counts),
        rows=rows_from(FormRow, table),
        counts=rows_from(CountRow, counts),
    )


def _span(caller: Caller, since: date | None, until: date | None) -> tuple[date, date]:
    last = caller.until(until)
    first = since or last - _A_YEAR
    if first > last:
        raise InputError(f"since is {first}, after until {last}; swap the two dates")
    return first, last


CALLS: Final = (
    Call(
        "GET",
        "/breaches",
        read_breaches,
        Breaches,
        AUDIT,
        Scope.READ,
        "Audit",
        follows_day=True,
        example={"as_of": "2026-09-30"},
    ),
    Call(
        "GET",
        "/yields",
        read_yields,
        Yields,
        AUDIT,
        Scope.READ,
        "Audit",
        follows_day=True,
        example={"until": "2026-09-30"},
    ),
    Call(
        "GET",
        "/reconciliation",
        read_reconciliation,
        Reconciliation,
        AUDIT,
        Scope.READ,
        "Audit",
        follows_day=True,
        example={"until": "2026-09-30"},
    ),
)
