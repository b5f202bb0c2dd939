"""Holds: what may not move and why, and what was let go."""

from typing import Final

from starlette.responses import Response

from ledger.books.holds import all_holds
from ledger.reports.hold_table import holds_table
from ledger.web.access import COMPLIANCE, FLOOR, MAKER, may_open
from ledger.web.asked import Asked
from ledger.web.page import Page
from ledger.web.pages.lot_forms import HOLD, RELEASE
from ledger.web.report import Report, show_report


def show_holds(asked: Asked) -> Response:
    """Show the holds of a day, and those that are over."""
    on = asked.as_of()
    with asked.books() as books:
        found = all_holds(books.shelf, on)
    holding = [held for held in found if held.holds_on(on)]
    over = [held for held in found if held not in holding]
    return show_report(
        asked,
        Report(
            asked.tongue.says("Holds"),
            [
                holds_table(holding, title="On hold"),
                holds_table(over, title="Holds that are over"),
            ],
            links={"lot": "/lots/{lot}", "entry": "/entries/{entry}"},
        ),
        template="holds.html",
        holding=holding,
        place=HOLD.address if may_open(asked.person, FLOOR) else "",
        release=RELEASE.address if may_open(asked.person, COMPLIANCE) else "",
        seen_by_recall=may_open(asked.person, COMPLIANCE),
    )


PAGES: Final = (Page("GET", "/holds", show_holds, MAKER, menu="Holds"),)
