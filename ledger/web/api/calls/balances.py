"""Mass balance: every account, how one ran, and how its movements were reached."""

from datetime import date
from typing import Final

from ledger.books.balance import Balance, RunningLine, averages, balances, running_lines
from ledger.books.why_balance import why_balance
from ledger.desk.books import OpenBooks, open_period_start
from ledger.errors import NotFoundError
from ledger.reports.account_workings import totals_workings_table
from ledger.reports.balance_table import balance_table, running_table
from ledger.trade.scope import Scope
from ledger.web.access import AUDIT
from ledger.web.api.asking import AsOf, Named, RecordedBy, Since
from ledger.web.api.call import Call
from ledger.web.api.caller import Calling
from ledger.web.api.cursor import USUAL, After, Limit, Place, beyond, page_of, place_in
from ledger.web.api.mass_row import BalanceRow, Balances, Running, RunningRow
from ledger.web.api.row import rows_from, said_of
from ledger.web.api.working_row import MovementWorkingRow, MovementWorkings


def read_balances(
    caller: Calling,
    since: Since = None,
    as_of: AsOf = None,
    recorded_by: RecordedBy = None,
) -> Balances:
    """Return what was certified, what was claimed and what is left, by account.

    Without `since` the figures begin with the open period.
    """
    until = caller.until(as_of)
    with caller.books(recorded_by) as books:
        first = _first_day(books, since, until)
        found = balances(books.shelf, since=first, until=until)
        means = averages(books.shelf, until)
    table = balance_table(found, since=first, until=until, averages=means)
    return Balances(as_of=until, rows=rows_from(BalanceRow, table), **said_of(table))


def read_account(
    caller: Calling,
    account: Named,
    since: Since = None,
    as_of: AsOf = None,
    recorded_by: RecordedBy = None,
    after: After = None,
    limit: Limit = USUAL,
) -> Running:
    """Return how one account ran, movement by movement."""
    until = caller.until(as_of)
    start = place_in(after, str, int, int)
    with caller.books(recorded_by) as books:
        first = _first_day(books, since, until)
        found = _named(balances(books.shelf, since=first, until=until), account)
        # The days before the cursor need not be gone through again.
        begin = first if start is None else date.fromisoformat(str(start[0]))
        lines = running_lines(books.shelf, found.account, since=begin, until=until)
        page, following = page_of(
            beyond(lines, _place_of, start), _place_of, limit=limit
        )
    table = running_table(found, page)
    return Running(rows=rows_from(RunningRow, table), next=following, **said_of(table))


def explain_account(
    caller: Calling,
    account: Named,
    since: Since = None,
    as_of: AsOf = None,
    recorded_by: RecordedBy = None,
) -> MovementWorkings:
    """Return how every movement of one account was reached: entries, rules, arithmetic."""
    until = caller.until(as_of)
    with caller.books(recorded_by) as books:
        first = _first_day(books, since, until)
        found = _named(balances(books.shelf, since=first, until=until), account)
        why = why_balance(books.shelf, found.account, since=first, until=until)
    table = totals_workings_table([why])
    return MovementWorkings(rows=rows_from(MovementWorkingRow, table), **said_of(table))


def _first_day(books: OpenBooks, since: date | None, until: date) -> date | None:
    first = since or open_period_start(books.rows)
    return None if first and first > until else first


def _named(found: tuple[Balance, ...], name: str) -> Balance:
    for one in found:
        if str(one.account) == name:
            return one
    raise NotFoundError(
        f"there is no account {name[:120]!r}; take the name from the list of all accounts"
    )


def _place_of(line: RunningLine) -> Place:
    movement = line.movement
    return movement.day.isoformat(), movement.slot, movement.line


_ACCOUNT: Final = "osierfold, cocoa, ropewalk, organic"

CALLS: Final = (
    Call(
        "GET",
        "/balance",
        read_balances,
        Balances,
        AUDIT,
        Scope.READ,
        "Mass balance",
        follows_day=True,
        example={"as_of": "2026-09-30"},
    ),
    Call(
        "GET",
        "/balance/{account:path}",
        read_account,
        Running,
        AUDIT,
        Scope.READ,
        "Mass balance",
        follows_day=True,
        example={"account": _ACCOUNT, "limit": 20},
    ),
    Call(
        "GET",
        "/workings/balance/{account:path}",
        explain_account,
        MovementWorkings,
        AUDIT,
        Scope.READ,
        "Mass balance",
        follows_day=True,
        example={"account": _ACCOUNT, "since": "2026-04-01"},
    ),
)
