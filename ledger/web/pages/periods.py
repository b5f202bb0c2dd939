"""Periods: what is closed, what stands in the way of closing the next, and closing it."""

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Final

from starlette.responses import Response

from ledger.books.closing import closed_until, next_period, unsettled_accounts
from ledger.books.holds import open_holds
from ledger.books.shelf import Shelf
from ledger.chain.canonical import JsonValue
from ledger.desk.books import OpenBooks
from ledger.errors import InputError
from ledger.reports.figures import kg_text
from ledger.reports.period_table import periods_table
from ledger.store.proposals import list_proposals
from ledger.web.access import COMPLIANCE
from ledger.web.asked import Asked
from ledger.web.entry_form import (
    NOTHING_WRONG,
    Wrong,
    foresee_typed,
    is_for_fragment,
    record_typed,
    show_foretold,
    wrong_with,
)
from ledger.web.foretold import Foretold
from ledger.web.page import Page
from ledger.web.report import Report, show_report

_FIELDS: Final = ("period", "start", "end", "note")


def show_periods(asked: Asked) -> Response:
    """Show what is closed, and the form that closes the next period."""
    with asked.books() as books:
        coming = next_period(books.shelf)
    start, end = coming or (asked.office.today(), asked.office.today())
    typed = {
        "period": _name(start, end),
        "start": start.isoformat(),
        "end": end.isoformat(),
        "on": asked.office.today().isoformat(),
        "note": "",
        "accept_breach": "",
    }
    return _page(asked, typed)


def close(asked: Asked) -> Response:
    """Close a period, or say what closing it would do."""
    typed = {name: asked.text(name) for name in (*_FIELDS, "on", "accept_breach")}
    body: dict[str, JsonValue] = {name: typed[name] for name in _FIELDS if typed[name]}
    body["signed_off_by"] = asked.person.name
    if typed["accept_breach"]:
        body["accept_breach"] = True
    try:
        on = asked.day("on") or asked.office.today()
    except InputError as error:
        return _page(asked, typed, wrong=wrong_with(error))
    if is_for_fragment(asked):
        return show_foretold(asked, foresee_typed(asked, "period.closed", on, body))
    if asked.text("do") != "record":
        told = foresee_typed(asked, "period.closed", on, body)
        return _page(asked, typed, told=told)
    done = record_typed(asked, "period.closed", on, body)
    if isinstance(done, Wrong):
        return _page(asked, typed, wrong=done)
    return asked.away("/periods", said=asked.tongue.says("The period is closed."))


def _page(
    asked: Asked,
    typed: Mapping[str, str],
    *,
    wrong: Wrong = NOTHING_WRONG,
    told: Foretold | None = None,
) -> Response:
    with asked.books() as books:
        table = periods_table(books.shelf.of_kind("period.closed"))
        blocks = list(_blocks(asked, books.shelf, typed["end"]))
        looks = list(_looks(asked, books))
    return show_report(
        asked,
        Report(
            asked.tongue.says("Periods"), [table], links={"entry": "/entries/{entry}"}
        ),
        template="periods.html",
        status=wrong.status,
        typed=typed,
        wrong=wrong,
        blocks=blocks,
        looks=looks,
        foretold=told,
        worked_out=[],
    )


def _blocks(asked: Asked, shelf: Shelf, last: str) -> Iterator[str]:
    """Yield what keeps the books from being closed up to a day."""
    try:
        end = date.fromisoformat(last)
    except ValueError:
        return
    before = closed_until(shelf)
    if before is not None and end <= before:
        return
    if end > asked.office.today():
        yield asked.tongue.says(f"The period ends on {end}, which has not come yet.")
    for one in unsettled_accounts(shelf, end):
        missing = kg_text(-one.grams)
        yield asked.tongue.says(
            f"Account {one.account} is {missing} kg below zero on {one.end}, when its "
            "reconciliation period ends: record what settles it, or accept the breach."
        )


def _looks(asked: Asked, books: OpenBooks) -> Iterator[tuple[str, str]]:
    """Yield what does not stand in the way but should be looked at, with its address."""
    waiting = sum(1 for _ in list_proposals(books.rows))
    if waiting:
        yield (
            asked.tongue.says(f"Corrections that wait for a second person: {waiting}."),
            "/approve",
        )
    held = len(open_holds(books.shelf, asked.office.today()))
    if held:
        yield asked.tongue.says(f"Holds that are not released: {held}."), "/holds"
    yield (
        asked.tongue.says(
            "What an audit today would find: breaches, late dues, counts."
        ),
        "/",
    )


def _name(start: date, end: date) -> str:
    """Return the usual name of a period: one year, or two with a dash."""
    return str(end.year) if start.year == end.year else f"{start.year}-{end:%y}"


PAGES: Final = (
    Page("GET", "/periods", show_periods, COMPLIANCE, menu="Periods"),
    Page("POST", "/periods", close, COMPLIANCE),
)
