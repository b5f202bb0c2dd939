"""Every page, in the order of the menu: a module for each thing that a person does."""

from typing import Final

from ledger.web.page import Page
from ledger.web.pages import balance, entries, home, me, people, sign_in, tokens, trace

PAGES: Final[tuple[Page, ...]] = (
    *home.PAGES,
    *balance.PAGES,
    *trace.PAGES,
    *entries.PAGES,
    *people.PAGES,
    *tokens.PAGES,
    *me.PAGES,
    *sign_in.PAGES,
)
"""Every page; the menu shows those that have a name in it, in this order."""
