"""The application that answers programs, to be mounted under /api/v1."""

from functools import cache
from threading import Lock

from fastapi import FastAPI
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Match, Route
from starlette.types import ASGIApp, Receive, Scope, Send

from ledger.web.api.call import Call
from ledger.web.api.calls import CALLS
from ledger.web.api.described import TITLE, VERSION, described, described_route
from ledger.web.api.gate import Gate
from ledger.web.api.pace import Paces
from ledger.web.api.problem import answer_with, problem_of_status
from ledger.web.office import Office


class Api:
    """The application, made when the first program asks: pages do not wait for it.

    Attributes:
        office: The ledger.
        paces: How fast programs may ask; the usual where left out.
    """

    def __init__(self, office: Office, *, paces: Paces | None = None) -> None:
        self.office, self.paces = office, paces
        self._made: ASGIApp | None = None
        self._making = Lock()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        await self._application()(scope, receive, send)

    def _application(self) -> ASGIApp:
        # Servers may ask from several threads at once; it is made by one of them.
        with self._making:
            if self._made is None:
                self._made = make_api(self.office, paces=self.paces)
            return self._made


def make_api(
    office: Office, calls: tuple[Call, ...] = CALLS, *, paces: Paces | None = None
) -> FastAPI:
    """Return the application that answers programs.

    Args:
        office: The ledger.
        calls: What they may ask.
        paces: How fast programs may ask; the usual where left out.
    """
    gate = Gate(office, paces or Paces.usual(office.now))
    api = FastAPI(
        title=TITLE,
        version=VERSION,
        docs_url=None,
        redoc_url=None,
        openapi_url=None,
        redirect_slashes=False,
    )
    for call in calls:
        api.router.add_api_route(
            call.path,
            call.answer,
            route_class_override=gate.route_to(call),
            **described_route(call),
        )
    description = cache(lambda: described(calls))

    async def show_description(_request: Request) -> Response:
        return JSONResponse(description(), headers={"Cache-Control": "no-cache"})

    async def not_here(request: Request, error: Exception) -> Response:
        status = error.status_code if isinstance(error, HTTPException) else 404
        allowed = _methods_at(api, request)
        return answer_with(
            problem_of_status(status), {"Allow": allowed} if allowed else None
        )

    api.router.add_route("/openapi.json", show_description, include_in_schema=False)
    api.add_exception_handler(HTTPException, not_here)
    return api


def _methods_at(api: FastAPI, request: Request) -> str:
    """Return how an address may be asked: the framework names one method of several."""
    methods = {
        method
        for route in api.routes
        if isinstance(route, Route)
        and route.matches(request.scope)[0] is not Match.NONE
        for method in route.methods or ()
    }
    return ", ".join(sorted(methods))
