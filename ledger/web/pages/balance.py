"""Mass balance: every account, and how one of them ran."""

from datetime import date
from typing import Final

from starlette.responses import Response

from ledger.books.balance import Balance, averages, balances, running_lines
from ledger.books.floor import floor_of
from ledger.desk.books import OpenBooks, open_period_start
from ledger.errors import NotFoundError
from ledger.reports.balance_table import balance_table, running_table
from ledger.reports.running_chart import running_chart
from ledger.web.access import AUDIT
from ledger.web.asked import Asked
from ledger.web.page import Page
from ledger.web.report import Report, show_report


def show_balances(asked: Asked) -> Response:
    """Show opening, movements and closing of every account."""
    with asked.books() as books:
        since, until = _span(asked, books)
        found = balances(books.shelf, since=since, until=until)
        means = averages(books.shelf, until)
    table = balance_table(found, since=since, until=until, averages=means)
    report = Report(
        asked.tongue.says("Mass balance"),
        [table],
        links={"account": "/balance/{account}"},
    )
    return show_report(asked, report, template="balance.html", since=since, until=until)


def show_account(asked: Asked) -> Response:
    """Show how one account ran, movement by movement."""
    name = asked.part("account")
    with asked.books() as books:
        since, until = _span(asked, books)
        found = _named(balances(books.shelf, since=since, until=until), name)
        lines = tuple(
            running_lines(books.shelf, found.account, since=since, until=until)
        )
        lowest_allowed = floor_of(books.shelf, found.account.tally)(until)
    drawings = (
        [running_chart(found, lines, since=since, until=until, floor_g=lowest_allowed)]
        if lines
        else []
    )
    report = Report(
        name,
        [running_table(found, lines)],
        drawings,
        links={"entry": "/entries/{entry}"},
    )
    return show_report(asked, report, template="balance.html", since=since, until=until)


def _span(asked: Asked, books: OpenBooks) -> tuple[date | None, date]:
    """Return the first and the last trade date that are asked for."""
    until = asked.as_of()
    since = asked.day("since") or open_period_start(books.rows)
    return (None if since and since > until else since), until


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
