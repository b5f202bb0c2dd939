"""Every page, in the order of the menu: a module for each thing that a person does."""

from typing import Final

from ledger.web.page import Page
from ledger.web.pages import (
    approving,
    balance,
    breaches,
    compliance,
    correcting,
    dues,
    entries,
    home,
    me,
    people,
    periods,
    quarters,
    recall,
    reconciliation,
    sign_in,
    statements,
    tokens,
    trace,
    yields,
)

PAGES: Final[tuple[Page, ...]] = (
    *home.PAGES,
    *compliance.PAGES,
    *balance.PAGES,
    *dues.PAGES,
    *statements.PAGES,
    *quarters.PAGES,
    *breaches.PAGES,
    *yields.PAGES,
    *reconciliation.PAGES,
    *trace.PAGES,
    *recall.PAGES,
    *entries.PAGES,
    *correcting.PAGES,
    *approving.PAGES,
    *periods.PAGES,
    *people.PAGES,
    *tokens.PAGES,
    *me.PAGES,
    *sign_in.PAGES,
)
"""Every page; the menu shows those that have a name in it, in this order."""
