"""The start: sends everybody to the first page of their own."""

from typing import Final

from starlette.responses import Response

from ledger.trade.role import Role
from ledger.web.access import SIGNED_IN, may_open
from ledger.web.asked import Asked
from ledger.web.page import Page


def go_home(asked: Asked) -> Response:
    """Send somebody to the first page of the menu that is theirs.

    Those who only certify, or only work on the floor, have theirs further on in it.
    """
    if asked.is_limited:
        return asked.away("/certifier")
    if asked.person.roles == {Role.FLOOR}:
        return asked.away("/floor")
    path = next(
        path for _, path, may in asked.showing.menu if may_open(asked.person, may)
    )
    return asked.away(path)


PAGES: Final = (Page("GET", "/", go_home, SIGNED_IN),)
