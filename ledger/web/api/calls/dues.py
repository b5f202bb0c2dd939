"""What growers are owed, contract by contract, how it was reached, and statements."""

from typing import Final

from ledger.books.dues import contracts_signed, dues_of
from ledger.books.statement import statements_for
from ledger.reports.dues_table import dues_table
from ledger.reports.statement_table import all_amounts_table
from ledger.reports.workings import workings_table
from ledger.trade.scope import Scope
from ledger.web.access import AUDIT
from ledger.web.api.asking import AsOf, Named, RecordedBy
from ledger.web.api.call import Call
from ledger.web.api.caller import Calling
from ledger.web.api.cursor import USUAL, After, Limit, name_in, page_of
from ledger.web.api.money_row import DueRow, Dues, Statement, StatementRow
from ledger.web.api.row import rows_from, said_of
from ledger.web.api.working_row import DueWorkingRow, DueWorkings


def read_dues(
    caller: Calling,
    as_of: AsOf = None,
    recorded_by: RecordedBy = None,
    after: After = None,
    limit: Limit = USUAL,
) -> Dues:
    """Return what is owed to growers: price, differentials, premium, paid, late, open.

    A page holds all amounts of up to `limit` contracts.
    """
    until = caller.until(as_of)
    start = name_in(after)
    with caller.books(recorded_by) as books:
        signed = (name for name in contracts_signed(books.shelf, until) if name > start)
        page, following = page_of(signed, lambda name: (name,), limit=limit)
        table = dues_table(dues_of(books.shelf, name, until) for name in page)
    return Dues(
        as_of=until, rows=rows_from(DueRow, table), next=following, **said_of(table)
    )


def read_contract_dues(
    caller: Calling, contract: Named, as_of: AsOf = None, recorded_by: RecordedBy = None
) -> Dues:
    """Return what is owed under one contract."""
    until = caller.until(as_of)
    with caller.books(recorded_by) as books:
        table = dues_table([dues_of(books.shelf, contract, until)])
    return Dues(as_of=until, rows=rows_from(DueRow, table), next=None, **said_of(table))


def explain_dues(
    caller: Calling, contract: Named, as_of: AsOf = None, recorded_by: RecordedBy = None
) -> DueWorkings:
    """Return how each amount of a contract was reached: entries, rules, arithmetic."""
    until = caller.until(as_of)
    with caller.books(recorded_by) as books:
        table = workings_table([dues_of(books.shelf, contract, until)])
    return DueWorkings(rows=rows_from(DueWorkingRow, table), **said_of(table))


def read_statement(
    caller: Calling, party: Named, as_of: AsOf = None, recorded_by: RecordedBy = None
) -> Statement:
    """Return what a cooperative, or one contract, is owed, was paid and when."""
    until = caller.until(as_of)
    with caller.books(recorded_by) as books:
        table = all_amounts_table(statements_for(books.shelf, party, until))
    return Statement(as_of=until, rows=rows_from(StatementRow, table), **said_of(table))


CALLS: Final = (
    Call(
        "GET",
        "/dues",
        read_dues,
        Dues,
        AUDIT,
        Scope.READ,
        "Dues",
        follows_day=True,
        example={"as_of": "2026-09-30", "limit": 20},
    ),
    Call(
        "GET",
        "/dues/{contract:path}",
        read_contract_dues,
        Dues,
        AUDIT,
        Scope.READ,
        "Dues",
        follows_day=True,
        example={"contract": "K-01"},
    ),
    Call(
        "GET",
        "/workings/dues/{contract:path}",
        explain_dues,
        DueWorkings,
        AUDIT,
        Scope.READ,
        "Dues",
        follows_day=True,
        example={"contract": "K-01"},
    ),
    Call(
        "GET",
        "/statements/{party:path}",
        read_statement,
        Statement,
        AUDIT,
        Scope.READ,
        "Dues",
        follows_day=True,
        example={"party": "cahoba"},
    ),
)
