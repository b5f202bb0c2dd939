"""Yields: what each step gave of what went in, with control limits."""

from typing import Final

from starlette.responses import Response

from ledger.books.flattery import flatteries
from ledger.books.yield_ratio import yield_series
from ledger.errors import NotFoundError
from ledger.reports.yield_chart import is_drawn, yield_chart
from ledger.reports.yield_table import (
    batches_table,
    factors_table,
    outside_table,
    yields_table,
)
from ledger.web.access import AUDIT
from ledger.web.asked import Asked
from ledger.web.dates import year_asked
from ledger.web.page import Page
from ledger.web.report import Report, show_report
from ledger.web.whole import of_the_whole


@of_the_whole
def show_yields(asked: Asked) -> Response:
    """Show the yields of every kind of batch, and beans used against the factors."""
    dates = year_asked(asked)
    span = {"since": dates.since or dates.until, "until": dates.until}
    with asked.books() as books:
        found = yield_series(books.shelf, **span)
        compared = flatteries(books.shelf, **span)
    report = Report(
        asked.tongue.says("Yields"),
        [yields_table(found, **span), outside_table(found), factors_table(compared)],
        [yield_chart(series, asked.tongue) for series in found if series.outside],
        links={
            "step": f"/yields/{{step}}?{dates.carried}",
            "entry": "/entries/{entry}",
        },
    )
    return show_report(asked, report, template="window.html", dates=dates)


@of_the_whole
def show_step(asked: Asked) -> Response:
    """Show the batches of one step one by one, with control charts."""
    dates, step = year_asked(asked), asked.part("step")
    with asked.books() as books:
        found = yield_series(
            books.shelf, since=dates.since or dates.until, until=dates.until
        )
    chosen = [series for series in found if series.step == step]
    if not chosen:
        raise NotFoundError(
            f"no batch of step {step!r} was made from {dates.since} to {dates.until}; "
            "choose a step from the page of all yields, or other dates"
        )
    report = Report(
        asked.tongue.says(f"Yields: {step}"),
        [batches_table(series) for series in chosen],
        [yield_chart(series, asked.tongue) for series in chosen if is_drawn(series)],
        links={"batch": "/batches/{batch}", "entry": "/entries/{entry}"},
    )
    return show_report(asked, report, template="window.html", dates=dates)


PAGES: Final = (
    Page("GET", "/yields", show_yields, AUDIT, menu="Yields"),
    Page("GET", "/yields/{step}", show_step, AUDIT),
)
