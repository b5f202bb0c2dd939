"""Going through the pages as a reader would, from link to link."""

import re
from collections import defaultdict
from collections.abc import Iterator
from html import unescape
from urllib.parse import urlsplit

from httpx2 import Response
from starlette.routing import Match, Route

from tests.web.conftest import Visitor


def crawl(
    visitor: Visitor, *, per_route: int, start: str = "/"
) -> Iterator[tuple[str, Response]]:
    """Yield every page and download that can be reached, a few of each sort.

    Args:
        visitor: Who goes.
        per_route: How many addresses of one page are opened, in each shape.
        start: Where to begin.

    Yields:
        The address, and what it answered.
    """
    waiting, known = [start], {start}
    opened: defaultdict[tuple[str, str], int] = defaultdict(int)
    while waiting:
        address = waiting.pop(0)
        path, shape = urlsplit(address).path, re.search(r"as=\w+", address)
        which = route_of(visitor, path), shape.group() if shape else ""
        if opened[which] >= per_route or path.startswith("/static/"):
            continue
        opened[which] += 1
        answer = visitor.get(address)
        yield address, answer
        new = [one for one in addresses_in(answer.text) if one not in known]
        known.update(new)
        waiting += new


def route_of(visitor: Visitor, path: str) -> str:
    """Return the route that an address leads to; empty where there is none."""
    scope = {"type": "http", "path": path, "method": "GET"}
    for route in visitor.app.routes:  # type: ignore[attr-defined]
        if isinstance(route, Route) and route.matches(scope)[0] is Match.FULL:
            return route.path
    return ""


def addresses_in(text: str) -> Iterator[str]:
    """Yield the addresses of ours that a page leads to."""
    for found in re.findall(r'(?:href|src|action)="([^"#]+)', text):
        address = urlsplit(unescape(found))
        if not address.netloc and address.path.startswith("/"):
            yield address.geturl()
