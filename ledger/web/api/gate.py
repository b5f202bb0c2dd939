"""The one gate to every call: how often, who asks, whether they may, what they send.

Nothing reaches a call's own function before all of this holds; and what it raises becomes
a problem (RFC 9457). A bug becomes a plain problem, and its traceback goes to the log of
the server. Cookies are not looked at, so no page of another origin can ask in the name of
whoever has signed in.
"""

import hashlib
import logging
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import Final

from fastapi.exceptions import RequestValidationError
from fastapi.routing import APIRoute
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from ledger.chain.canonical import parse_json
from ledger.desk.tokens import Holder, holder_of
from ledger.errors import LedgerError
from ledger.store.entries import frontier
from ledger.web.access import may_open
from ledger.web.api.call import JSON, Call
from ledger.web.api.caller import Caller
from ledger.web.api.once import HEADER, key_in
from ledger.web.api.pace import Pace, Paces
from ledger.web.api.problem import (
    ProblemError,
    Sort,
    answer_with,
    problem,
    problem_of,
    problem_of_request,
)
from ledger.web.bounded import TooLargeError, bounded
from ledger.web.office import Office

BEARER: Final = "Bearer"
_REALM: Final = 'Bearer realm="evenweight"'
_LONGEST_TOKEN: Final = 200
_NOT_MODIFIED: Final = 304
_TO_KEEP: Final = {"Cache-Control": "private, no-cache", "Vary": "Authorization"}

_log = logging.getLogger("evenweight.web.api")

Handler = Callable[[Request], Awaitable[Response]]


@dataclass(frozen=True, slots=True)
class Gate:
    """What every call passes.

    Attributes:
        office: The ledger.
        paces: How fast everybody may ask.
    """

    office: Office
    paces: Paces

    def route_to(self, call: Call) -> type[APIRoute]:
        """Return the sort of route that leads to a call through this gate."""
        gate = self

        class Gated(APIRoute):
            """A route through the gate."""

            def get_route_handler(self) -> Handler:  # type: ignore[override]
                known = {one.alias for one in self.dependant.query_params}
                inner = super().get_route_handler()

                async def passed(request: Request) -> Response:
                    return await gate.answer(call, known, inner, request)

                return passed

        return Gated

    async def answer(
        self, call: Call, known: set[str], inner: Handler, request: Request
    ) -> Response:
        """Answer a request of a call, with a problem where it does not pass."""
        try:
            holder = await run_in_threadpool(self._let_in, call, request)
            request = await _with_body(request, call)
            _check_query(request, known)
            request.state.caller = self._caller(
                call, holder, request, await request.body()
            )
            tag = await run_in_threadpool(self._tag, call, holder, request)
            if tag and tag in _tags_in(request.headers.get("if-none-match", "")):
                return Response(
                    status_code=_NOT_MODIFIED, headers={"ETag": tag, **_TO_KEEP}
                )
            response = await inner(request)
        except ProblemError as error:
            return answer_with(error.problem, error.headers)
        except LedgerError as error:
            return answer_with(problem_of(error))
        except RequestValidationError as error:
            return answer_with(problem_of_request(error))
        except Exception:  # noqa: BLE001 - a bug becomes a problem, its traceback is logged
            _log.exception("%s %s", request.method, request.url.path)
            return answer_with(
                problem(
                    Sort.BUG,
                    "something went wrong on our side, and nothing was recorded; try "
                    "again, and tell whoever runs this server if it stays",
                )
            )
        if tag:
            response.headers.update({"ETag": tag, **_TO_KEEP})
        return response

    def _let_in(self, call: Call, request: Request) -> Holder:
        """Return who asks, if they may.

        Raises:
            ProblemError: There is no token that holds, it asks too often, or it or the
                person may not do this.
        """
        holder = self._holder(request)
        _check_pace(self.paces.known, holder.token.digest)
        if not may_open(holder.person, call.may):
            raise ProblemError(
                Sort.NOT_ALLOWED,
                f"{holder.person.name} may not do this, whatever the token says; it is "
                f"for {', '.join(sorted(call.may))}, so ask the administrator",
            )
        if call.scope not in holder.token.scopes:
            raise ProblemError(
                Sort.NOT_ALLOWED,
                f"the token does not allow to {call.scope}; make one that does on the "
                "page /tokens",
                {
                    "WWW-Authenticate": f'{_REALM}, error="insufficient_scope", '
                    f'scope="{call.scope}"'
                },
            )
        return holder

    def _holder(self, request: Request) -> Holder:
        sort, _, secret = request.headers.get("authorization", "").partition(" ")
        secret = secret.strip()
        if sort.lower() == BEARER.lower() and 0 < len(secret) <= _LONGEST_TOKEN:
            with self.office.rows() as rows:
                found = holder_of(rows, secret, now=self.office.now())
            if found is not None:
                return found
        _check_pace(self.paces.strangers, request.client.host if request.client else "")
        error = ', error="invalid_token"' if secret else ""
        raise ProblemError(
            Sort.NO_TOKEN,
            "no token that holds came with the request; make one on the page /tokens and "
            "send it in the header Authorization, after the word Bearer",
            {"WWW-Authenticate": _REALM + error},
        )

    def _caller(
        self, call: Call, holder: Holder, request: Request, raw: bytes
    ) -> Caller:
        key = key_in(request.headers.get(HEADER)) if call.once else ""
        told = f"{request.method} {request.url.path}?{request.url.query}\n".encode()
        return Caller(self.office, holder, key, hashlib.sha256(told + raw).hexdigest())

    def _tag(self, call: Call, holder: Holder, request: Request) -> str:
        """Return what changes whenever the answer may, where that is cheap to know."""
        if not call.follows_day:
            return ""
        with self.office.rows() as rows:
            tree = frontier(rows)
        person = holder.person
        told = (
            tree.size,
            tree.root().hex(),
            self.office.today(),
            person.name,
            sorted(person.roles),
            person.window,
            request.url.path,
            request.url.query,
        )
        return f'"{hashlib.sha256(repr(told).encode()).hexdigest()[:32]}"'


def _check_pace(pace: Pace, who: str) -> None:
    wait = pace.wait_seconds(who)
    if wait:
        raise ProblemError(
            Sort.TOO_MANY,
            f"too many requests came at once; wait {wait} seconds and go on more slowly",
            {"Retry-After": str(wait)},
        )


def _check_query(request: Request, known: set[str]) -> None:
    """Refuse what would be overlooked: a misspelt name would give other figures.

    Raises:
        ProblemError: The query holds a name that the call does not know, or one twice.
    """
    given = [name for name, _ in request.query_params.multi_items()]
    for name in given:
        if name not in known:
            names = f"use {', '.join(sorted(known))}" if known else "leave it out"
            raise ProblemError(
                Sort.INPUT,
                f"the query names {name[:60]!r}, which this address does not know; {names}",
            )
        if given.count(name) > 1:
            raise ProblemError(
                Sort.INPUT, f"the query gives {name} more than once; give it once"
            )


async def _with_body(request: Request, call: Call) -> Request:
    """Return the request with its body, read no further than the call takes.

    Raises:
        ProblemError: It is too large, or of another media type.
        InputError: It is not JSON as it should be.
    """
    counted = Request(request.scope, bounded(request.receive, call.longest))
    try:
        raw = await counted.body()
    except TooLargeError:
        raise ProblemError(
            Sort.TOO_LARGE,
            f"what was sent is larger than the {call.longest // 1024} KiB that this "
            "address takes; send less, or in parts",
        ) from None
    sent_as = request.headers.get("content-type", "").partition(";")[0].strip()
    if call.takes and sent_as.lower() not in call.takes:
        raise ProblemError(
            Sort.MEDIA_TYPE,
            f"the body came as {sent_as[:60] or 'nothing'}; send it as "
            f"{' or '.join(call.takes)} and say so in the header Content-Type",
        )
    if call.takes == (JSON,):
        # The framework would take the last of two members of one name.
        parse_json(raw)
    return counted


def _tags_in(header: str) -> set[str]:
    return {one.strip().removeprefix("W/") for one in header.split(",")}
