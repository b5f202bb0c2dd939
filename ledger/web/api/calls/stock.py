"""What is on hand, lot by lot, and how it came to be."""

from typing import Final

from ledger.books.stock import stock_of, stream_stock
from ledger.books.why_balance import why_stock
from ledger.reports.account_workings import totals_workings_table
from ledger.reports.stock_table import stock_table
from ledger.trade.scope import Scope
from ledger.web.access import MAKER
from ledger.web.api.asking import AsOf, Named, RecordedBy
from ledger.web.api.call import Call
from ledger.web.api.caller import Calling
from ledger.web.api.cursor import USUAL, After, Limit, name_in, page_of
from ledger.web.api.mass_row import Stock, StockRow
from ledger.web.api.row import rows_from, said_of
from ledger.web.api.working_row import MovementWorkingRow, MovementWorkings


def read_stock(
    caller: Calling,
    as_of: AsOf = None,
    recorded_by: RecordedBy = None,
    after: After = None,
    limit: Limit = USUAL,
) -> Stock:
    """Return what is on hand by lot, with form, place and holds."""
    until = caller.until(as_of)
    start = name_in(after)
    with caller.books(recorded_by) as books:
        held = (one for one in stream_stock(books.shelf, until) if one.lot > start)
        page, following = page_of(held, lambda one: (one.lot,), limit=limit)
        table = stock_table(page)
    return Stock(
        as_of=until, rows=rows_from(StockRow, table), next=following, **said_of(table)
    )


def read_lot(
    caller: Calling, lot: Named, as_of: AsOf = None, recorded_by: RecordedBy = None
) -> Stock:
    """Return what is on hand of one lot; no rows where nothing is left."""
    until = caller.until(as_of)
    with caller.books(recorded_by) as books:
        table = stock_table(stock_of(books.shelf, lot, until))
    return Stock(
        as_of=until, rows=rows_from(StockRow, table), next=None, **said_of(table)
    )


def explain_lot(
    caller: Calling, lot: Named, as_of: AsOf = None, recorded_by: RecordedBy = None
) -> MovementWorkings:
    """Return every movement of a lot, with the entry and the arithmetic."""
    until = caller.until(as_of)
    with caller.books(recorded_by) as books:
        stock_of(books.shelf, lot, until)
        table = totals_workings_table([why_stock(books.shelf, lot, until=until)])
    return MovementWorkings(rows=rows_from(MovementWorkingRow, table), **said_of(table))


CALLS: Final = (
    Call(
        "GET",
        "/stock",
        read_stock,
        Stock,
        MAKER,
        Scope.READ,
        "Stock",
        follows_day=True,
        example={"as_of": "2026-09-30", "limit": 20},
    ),
    Call(
        "GET",
        "/stock/{lot:path}",
        read_lot,
        Stock,
        MAKER,
        Scope.READ,
        "Stock",
        follows_day=True,
        example={"lot": "BU-03"},
    ),
    Call(
        "GET",
        "/workings/stock/{lot:path}",
        explain_lot,
        MovementWorkings,
        MAKER,
        Scope.READ,
        "Stock",
        follows_day=True,
        example={"lot": "BU-03"},
    ),
)
