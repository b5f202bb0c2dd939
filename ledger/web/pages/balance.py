"""Mass balance: every account, how one ran, and how each movement was reached."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import timedelta
from itertools import islice
from typing import Final
from urllib.parse import quote

from starlette.responses import Response

from ledger.books.balance import (
    Balance,
    RunningLine,
    averages,
    balances,
    running_lines,
)
from ledger.books.effect import Cause
from ledger.books.floor import floor_of
from ledger.books.shelf import Shelf
from ledger.books.why_balance import WhyMovement, why_balance
from ledger.desk.books import OpenBooks, open_period_start
from ledger.errors import InputError, NotFoundError
from ledger.reports.account_workings import totals_workings_table
from ledger.reports.audit_report import MOST_RUNNING_LINES
from ledger.reports.balance_table import (
    UNIT,
    balance_table,
    heading_of,
    monthly_table,
    running_table,
    statement_table,
)
from ledger.reports.entry_table import entry_name
from ledger.reports.figures import kg_text
from ledger.reports.running_chart import running_chart
from ledger.web.access import AUDIT
from ledger.web.asked import Asked
from ledger.web.dates import Dates, dates_asked
from ledger.web.page import Page
from ledger.web.report import ROWS_PER_PAGE, Report, first_row, show_report

MOVEMENTS_PER_PAGE: Final = 40
"""Movements whose arithmetic is shown on one page."""


def show_balances(asked: Asked) -> Response:
    """Show opening, movements and closing of every account."""
    with asked.books() as books:
        dates = _dates(asked, books)
        found = balances(books.shelf, since=dates.since, until=dates.until)
        means = averages(books.shelf, dates.until)
    table = balance_table(found, since=dates.since, until=dates.until, averages=means)
    account = f"/balance/{{account}}?{dates.carried}"
    moved = {
        f"{heading_of(cause).lower().replace(' ', '_')}_kg": f"{account}&cause={cause}"
        for cause in Cause
    }
    report = Report(
        asked.tongue.says("Mass balance"),
        [table],
        links={
            "account": account,
            "closing_kg": account,
            "lowest_kg": f"/balance/{{account}}?{dates.of_day('lowest_on')}",
            "lowest_on": f"/balance/{{account}}?{dates.of_day('lowest_on')}",
            **_opening(dates),
            **moved,
        },
    )
    return show_report(
        asked,
        report,
        template="balance.html",
        dates=dates,
        is_breach=any(one.is_breach for one in found),
    )


def _opening(dates: Dates) -> dict[str, str]:
    """Return where the openings lead: to what moved before the first day."""
    if dates.since is None:
        return {}
    before = replace(dates, since=None, until=dates.since - timedelta(days=1))
    return {"opening_kg": f"/balance/{{account}}?{before.carried}"}


def show_account(asked: Asked) -> Response:
    """Show how one account ran, and what moved it."""
    with asked.books() as books:
        dates = _dates(asked, books)
        found = _named(
            balances(books.shelf, since=dates.since, until=dates.until),
            asked.part("account"),
        )
        if asked.query("why"):
            return _show_why(asked, books.shelf, found, dates)
        return _show_running(asked, books.shelf, found, dates)


def _show_running(asked: Asked, shelf: Shelf, found: Balance, dates: Dates) -> Response:
    cause = _cause(asked)
    lines = tuple(
        running_lines(shelf, found.account, since=dates.since, until=dates.until)
    )
    shown = [one for one in lines if cause in {None, one.movement.cause}]
    tables = [running_table(found, shown, entries=_entries(asked, shelf, shown))]
    drawings = []
    if cause is None and lines:
        lowest_allowed = floor_of(shelf, found.account.tally)(dates.until)
        drawings.append(
            running_chart(
                found,
                lines,
                since=dates.since,
                until=dates.until,
                floor_g=lowest_allowed,
            )
        )
        tables.append(statement_table(found))
        if len(lines) > MOST_RUNNING_LINES:
            tables.append(monthly_table(found, lines))
    address = _address(found)
    one_day = f"{address}?why=yes&{dates.of_day('on')}"
    report = Report(
        str(found.account),
        tables,
        drawings,
        links={
            "entry": "/entries/{entry}",
            "moved_kg": one_day,
            "standing_kg": one_day,
        },
    )
    return show_report(
        asked,
        report,
        template="account.html",
        dates=dates,
        address=address,
        cause=None if cause is None else heading_of(cause),
        cause_asked=asked.query("cause"),
        moved=None if cause is None else kg_text(found.by_cause.get(cause, 0)),
        unit=UNIT,
    )


def _show_why(asked: Asked, shelf: Shelf, found: Balance, dates: Dates) -> Response:
    """Show how the movements of an account were reached, some of them a page."""
    address, first = _address(found), first_row(asked)
    if asked.query("as"):
        why = why_balance(shelf, found.account, since=dates.since, until=dates.until)
        return show_report(
            asked, Report(str(found.account), [totals_workings_table([why])])
        )
    lines = tuple(
        running_lines(shelf, found.account, since=dates.since, until=dates.until)
    )
    return show_report(
        asked,
        Report(str(found.account), []),
        template="account_why.html",
        dates=dates,
        address=address,
        movements=_explained(shelf, found, lines[first : first + MOVEMENTS_PER_PAGE]),
        total=len(lines),
        per_page=MOVEMENTS_PER_PAGE,
        opening=kg_text(found.opening_g),
        closing=kg_text(found.closing_g),
        heading_of=heading_of,
        entry_name=entry_name,
        kg_text=kg_text,
        unit=UNIT,
    )


def _explained(
    shelf: Shelf, found: Balance, lines: Sequence[RunningLine]
) -> list[WhyMovement]:
    """Return the arithmetic of some movements that follow each other."""
    if not lines:
        return []
    since, until = lines[0].movement.day, lines[-1].movement.day
    why = why_balance(shelf, found.account, since=since, until=until)
    wanted = {line.movement for line in lines}
    return [one for one in why.movements if one.line.movement in wanted]


def _entries(
    asked: Asked, shelf: Shelf, lines: Iterable[RunningLine]
) -> Mapping[int, tuple[int, str]]:
    """Return number and name of the entries that are read, by their slot.

    On a page only those that it shows are opened.
    """
    first = first_row(asked)
    seen = lines if asked.query("as") else islice(lines, first, first + ROWS_PER_PAGE)
    return {
        slot: (recorded.seq, entry_name(recorded))
        for slot in {line.movement.slot for line in seen}
        if (recorded := shelf.at(slot)) is not None
    }


def _cause(asked: Asked) -> Cause | None:
    given = asked.query("cause")
    try:
        return Cause(given) if given else None
    except ValueError:
        raise InputError(
            f"cause is {given!r}, which moves no account; use one of {', '.join(Cause)}"
        ) from None


def _dates(asked: Asked, books: OpenBooks) -> Dates:
    return dates_asked(asked, usual_since=open_period_start(books.rows))


def _address(found: Balance) -> str:
    return f"/balance/{quote(str(found.account))}"


def _named(found: tuple[Balance, ...], name: str) -> Balance:
    for one in found:
        if str(one.account) == name:
            return one
    raise NotFoundError(
        f"there is no account {name!r}; choose one from the page of all accounts"
    )


PAGES: Final = (
    Page("GET", "/balance", show_balances, AUDIT, menu="Mass balance"),
    Page("GET", "/balance/{account:path}", show_account, AUDIT),
)
