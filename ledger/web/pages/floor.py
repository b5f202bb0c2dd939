"""The floor's first page: what to do, what is held, what is in the tanks, what is there."""

from itertools import islice
from typing import Final

from starlette.responses import Response

from ledger.books.holds import open_holds
from ledger.books.stock import grams_by_form_and_place, stock_on
from ledger.books.tank import tanks_in
from ledger.reports.batch_table import batches_table
from ledger.reports.stock_table import stock_by_place_table
from ledger.reports.tank_picture import tank_picture
from ledger.web.access import COMPLIANCE, FLOOR, may_open
from ledger.web.asked import Asked
from ledger.web.page import Page
from ledger.web.pages.batch_forms import ADDRESS
from ledger.web.pages.lot_forms import COUNT, HOLD, MOVE, RELEASE, WRITE_OFF
from ledger.web.report import Report, show_report

_LAST: Final = 12


def show_floor(asked: Asked) -> Response:
    """Show the floor as it is when a day is over."""
    on = asked.as_of()
    with asked.books() as books:
        stock = stock_on(books.shelf, on)
        holding = open_holds(books.shelf, on)
        tanks = tanks_in(books.shelf, stock)
        last = list(islice(reversed(books.shelf.of_kind("batch.made")), _LAST))
    doors = [
        (asked.tongue.says("Log a batch"), ADDRESS),
        *((form.title, form.address) for form in (MOVE, COUNT, WRITE_OFF, HOLD)),
    ]
    return show_report(
        asked,
        Report(
            asked.tongue.says("Floor"),
            [
                stock_by_place_table(grams_by_form_and_place(stock)),
                batches_table(last),
            ],
            links={"batch": "/batches/{batch}"},
        ),
        template="floor.html",
        as_of=on,
        doors=doors,
        holding=holding,
        release=RELEASE.address if may_open(asked.person, COMPLIANCE) else "",
        pictures=[
            (tank.place, tank_picture(tank, asked.tongue.says)) for tank in tanks
        ],
    )


PAGES: Final = (Page("GET", "/floor", show_floor, FLOOR, menu="Floor"),)
