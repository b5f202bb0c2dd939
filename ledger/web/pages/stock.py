"""What is on hand: lot by lot, and by form and place."""

from typing import Final

from starlette.responses import Response

from ledger.books.stock import grams_by_form_and_place, stock_on
from ledger.reports.stock_table import stock_by_place_table, stock_table
from ledger.web.access import FLOOR, MAKER, may_open
from ledger.web.asked import Asked
from ledger.web.page import Page
from ledger.web.pages.lot_forms import COUNT, MOVE, WRITE_OFF
from ledger.web.report import Report, show_report


def show_stock(asked: Asked) -> Response:
    """Show what is on hand when a day is over."""
    on = asked.as_of()
    with asked.books() as books:
        found = stock_on(books.shelf, on)
    tables = [stock_by_place_table(grams_by_form_and_place(found)), stock_table(found)]
    forms = (MOVE, COUNT, WRITE_OFF) if may_open(asked.person, FLOOR) else ()
    return show_report(
        asked,
        Report(
            asked.tongue.says("On hand"),
            tables,
            links={"lot": "/lots/{lot}", "hold": "/holds"},
        ),
        template="stock.html",
        as_of=on,
        doors=[(form.title, form.address) for form in forms],
    )


PAGES: Final = (Page("GET", "/stock", show_stock, MAKER, menu="On hand"),)
