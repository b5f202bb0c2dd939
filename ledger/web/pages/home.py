"""The start: sends everybody to the first page of their own."""

from typing import Final

from starlette.responses import Response

from ledger.web.access import SIGNED_IN, may_open
from ledger.web.asked import Asked
from ledger.web.page import Page


def go_home(asked: Asked) -> Response:
    """Send somebody to the first page of the menu that is theirs."""
    if asked.is_limited:
        return asked.away("/certifier")
    path = next(
        path for _, path, may in asked.showing.menu if may_open(asked.person, may)
    )
    return asked.away(path)


PAGES: Final = (Page("GET", "/", go_home, SIGNED_IN),)
