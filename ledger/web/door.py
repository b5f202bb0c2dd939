"""The one door to every page: who asks, whether they may, what the form says, the answer.

Nothing reaches a page's own function before all of this holds; and what a page raises
becomes one sentence on a page. A bug becomes a plain page, and its traceback goes to the
log of the server.
"""

import logging
from collections.abc import Awaitable, Callable, Mapping
from contextlib import AbstractContextManager, nullcontext
from typing import Final

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ledger.errors import (
    ConflictError,
    InputError,
    LedgerError,
    NotFoundError,
    RefusedError,
    SealError,
)
from ledger.reports.tongue import tongue_of
from ledger.web.access import may_open
from ledger.web.asked import SEE_OTHER, Asked
from ledger.web.bounded import TooLargeError, bounded
from ledger.web.office import Office
from ledger.web.page import Page
from ledger.web.showing import Showing
from ledger.web.turns import NoTurnError, address_of
from ledger.web.visit import PROOF, Visit, is_from_here, is_proved, visit_of

STATUSES: Final[Mapping[type[LedgerError], int]] = {
    InputError: 422,
    RefusedError: 409,
    NotFoundError: 404,
    ConflictError: 409,
    SealError: 409,
}
"""Status (RFC 9110, 15.5) by what went wrong."""
FORBIDDEN: Final = 403
TOO_LARGE: Final = 413
TOO_MANY: Final = 429
BUG: Final = 500
_MOST_FIELDS: Final = 5_000
_MOST_FILES: Final = 50
_LONGEST_TYPED: Final = 2**20

_log = logging.getLogger("evenweight.web")

Endpoint = Callable[[Request], Awaitable[Response]]


def door_to(page: Page, office: Office, showing: Showing) -> Endpoint:
    """Return what answers requests of a page."""

    async def answer(request: Request) -> Response:
        visit = await run_in_threadpool(visit_of, request, office)
        tongue = tongue_of(
            request.headers.get("accept-language", "")[:200],
            request.cookies.get("language", ""),
        )
        asked = Asked(office, request, visit, showing, tongue)
        if not may_open(visit.person if visit else None, page.may):
            return _turned_away(asked)
        form = FormData()
        try:
            with _turn(page, office, request):
                if page.method != "GET":
                    form = await _form_of(request, page.longest)
                    _check_proof(asked, form, visit)
                asked = Asked(office, request, visit, showing, tongue, form)
                return await run_in_threadpool(_answered, page, asked)
        except NoTurnError as error:
            return _refused(asked, str(error), TOO_MANY)
        except TooLargeError:
            return _refused(
                asked,
                f"what was sent is larger than the {page.longest // 1024} KiB that this "
                "page takes; send less, or in parts",
                TOO_LARGE,
            )
        except HTTPException as error:
            return _refused(asked, error.detail, error.status_code)
        finally:
            await form.close()

    return answer


def _turn(page: Page, office: Office, request: Request) -> AbstractContextManager[None]:
    if page.is_heavy:
        return office.turns.turn_of(address_of(request))
    return nullcontext()


def _answered(page: Page, asked: Asked) -> Response:
    try:
        return page.answer(asked)
    except LedgerError as error:
        return _refused(asked, str(error), status_of(error))
    except Exception:  # noqa: BLE001 - a bug becomes a page, its traceback goes to the log
        _log.exception("%s %s", page.method, asked.request.url.path)
        return _refused(
            asked,
            "something went wrong on our side, and nothing was recorded; try again, and "
            "tell whoever runs this server if it stays",
            BUG,
        )


def status_of(error: LedgerError) -> int:
    """Return the status with which an error is answered."""
    return next(status for kind, status in STATUSES.items() if isinstance(error, kind))


def _turned_away(asked: Asked) -> Response:
    if asked.visit is None and asked.request.method == "GET":
        there = asked.request.url.path
        if asked.request.url.query:
            there += f"?{asked.request.url.query}"
        address = asked.request.url_for("sign-in").include_query_params(then=there)
        return RedirectResponse(
            f"{address.path}?{address.query}", status_code=SEE_OTHER
        )
    return _refused(
        asked,
        "this page is not for your role; sign in as somebody who may, or ask the "
        "administrator",
        FORBIDDEN,
    )


def _check_proof(asked: Asked, form: FormData, visit: Visit | None) -> None:
    given = form.get(PROOF) or asked.request.headers.get("x-proof", "")
    if not is_from_here(asked.request) or not is_proved(visit, str(given)):
        raise HTTPException(
            FORBIDDEN,
            "this form did not come from a page of your present visit; go back, load "
            "the page again and send it once more",
        )


def _refused(asked: Asked, sentence: str, status: int) -> Response:
    return asked.page("refused.html", status=status, sentence=sentence)


async def _form_of(request: Request, longest: int) -> FormData:
    counted = Request(request.scope, bounded(request.receive, longest))
    return await counted.form(
        max_files=_MOST_FILES,
        max_fields=_MOST_FIELDS,
        # A file goes to disk; what is typed stays in memory.
        max_part_size=min(longest, _LONGEST_TYPED),
    )
