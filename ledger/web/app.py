"""The application: every page behind its door, and what stands around them."""

from collections.abc import Iterable
from typing import Final

from fastapi import FastAPI
from starlette.exceptions import HTTPException
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from ledger.reports.tongue import tongue_of
from ledger.web.api.application import Api
from ledger.web.api.entry_model import ADDRESS
from ledger.web.api.pace import Paces
from ledger.web.api.problem import answer_with, problem_of_status
from ledger.web.asked import Asked
from ledger.web.door import door_to
from ledger.web.headers import SafeHeaders
from ledger.web.office import Office
from ledger.web.page import Page
from ledger.web.pages import PAGES
from ledger.web.showing import Showing

OWN_NAMES: Final = ("localhost", "127.0.0.1", "[::1]")
"""What this machine calls itself."""


def make_app(
    office: Office,
    pages: Iterable[Page] = PAGES,
    *,
    paces: Paces | None = None,
    names: Iterable[str] = OWN_NAMES,
) -> FastAPI:
    """Return the application that serves the pages of a ledger, and answers programs.

    Args:
        office: The ledger.
        pages: The pages.
        paces: How fast programs may ask; the usual where left out.
        names: Names by which browsers may call this server. Another name is of somebody
            who lets it lead here, to ask in the reader's stead (DNS rebinding).
    """
    pages = tuple(pages)
    showing = Showing(
        ((page.menu, page.path, page.may) for page in pages if page.menu),
        ((page.path, page.may) for page in pages if page.method == "GET"),
    )
    app = FastAPI(title="evenweight", docs_url=None, redoc_url=None, openapi_url=None)
    for page in pages:
        app.router.routes.append(
            Route(
                page.path,
                door_to(page, office, showing),
                methods=[page.method],
                name=page.path.strip("/") or "home",
            )
        )
    app.router.routes.append(Mount(ADDRESS, Api(office, paces=paces)))
    app.router.routes.append(
        Mount("/static", StaticFiles(packages=[("ledger.web", "static")]))
    )

    async def not_here(request: Request, error: Exception) -> Response:
        # An address with a line break in it fits no route, not even that of the API.
        if request.url.path.startswith(f"{ADDRESS}/"):
            return answer_with(problem_of_status(404))
        tongue = tongue_of(
            request.headers.get("accept-language", "")[:200],
            request.cookies.get("language", ""),
        )
        asked = Asked(office, request, None, showing, tongue)
        status = error.status_code if isinstance(error, HTTPException) else 404
        return asked.page(
            "refused.html",
            status=status,
            sentence=tongue.says(
                "there is no page of this address; check it, or go to the start"
            ),
        )

    app.add_exception_handler(404, not_here)
    app.add_exception_handler(405, not_here)
    app.add_middleware(
        TrustedHostMiddleware, allowed_hosts=[*names], www_redirect=False
    )
    app.add_middleware(SafeHeaders)
    return app
