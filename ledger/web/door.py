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
from ledger.reports.phrases import told
from ledger.reports.tongue import tongue_of
from ledger.web.access import may_open
from ledger.web.asked import Asked
from ledger.web.bounded import TooLargeError, bounded
from ledger.web.office import Office
from ledger.web.once import SEE_OTHER, key_of
from ledger.web.page import Page
from ledger.web.showing import Showing
from ledger.web.turns import NoTurnError, address_of
from ledger.web.visit import (
    PROOF,
    is_from_here,
    is_proved,
    is_surely_from_here,
    visit_of,
)

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
_LEFT_OVER: Final = 64 * 1024
"""Bytes of a form that somebody without a visit may send to have it shown again."""
_SECRET: Final = frozenset({"present", "password", "again", "code"})
"""Fields that are never shown again."""

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
        may = may_open(visit.person if visit else None, page.may)
        if not may and not _may_be_left_over(asked):
            return _turned_away(asked)
        form = FormData()
        try:
            with _turn(page, office, request):
                if page.method != "GET":
                    form = await _form_of(request, page.longest if may else _LEFT_OVER)
                asked = Asked(office, request, visit, showing, tongue, form)
                return await run_in_threadpool(_let_in, page, asked, may=may)
        except NoTurnError as error:
            return _refused(asked, str(error), TOO_MANY)
        except TooLargeError:
            return _refused(
                asked,
                told(
                    tongue.says(
                        "what was sent is larger than the {1} KiB that this page takes; "
                        "send less, or in parts"
                    ),
                    str(page.longest // 1024),
                ),
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


def _let_in(page: Page, asked: Asked, *, may: bool) -> Response:
    if not may:
        return _left_over(asked, _turned_away)
    if page.method != "GET" and not _is_ours(asked):
        return _left_over(asked, _unproved)
    return _answered(page, asked)


def _answered(page: Page, asked: Asked) -> Response:
    key = key_of(asked.request.url.path, asked.text(PROOF), asked.form)
    try:
        if key is None:
            return page.answer(asked)
        return asked.office.once.answer(key, lambda: page.answer(asked))
    except LedgerError as error:
        return _refused(asked, str(error), status_of(error))
    except Exception:  # noqa: BLE001 - a bug becomes a page, its traceback goes to the log
        _log.exception("%s %s", page.method, asked.request.url.path)
        return _refused(
            asked,
            asked.tongue.says(
                "something went wrong on our side, and nothing was recorded; try again, "
                "and tell whoever runs this server if it stays"
            ),
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
    says = asked.tongue.says
    return _refused(
        asked,
        says(
            "this page is not for your role; sign in as somebody who may, or ask the "
            "administrator"
        ),
        FORBIDDEN,
    )


def _is_ours(asked: Asked) -> bool:
    given = asked.form.get(PROOF) or asked.request.headers.get("x-proof", "")
    return is_from_here(asked.request) and is_proved(asked.visit, str(given))


def _unproved(asked: Asked) -> Response:
    says = asked.tongue.says
    return _refused(
        asked,
        says(
            "this form did not come from a page of your present visit; go back, load "
            "the page again and send it once more"
        ),
        FORBIDDEN,
    )


def _may_be_left_over(asked: Asked) -> bool:
    """Tell whether a form may have been opened in a visit that has ended since."""
    request = asked.request
    return (
        asked.visit is None
        and request.method == "POST"
        and is_surely_from_here(request)
    )


def _left_over(asked: Asked, otherwise: Callable[[Asked], Response]) -> Response:
    """Answer a form of a visit that has ended with what was typed, to be sent again.

    Nobody else can have it sent: the browser says that it came from a page of ours, and
    it does nothing before somebody presses the button. Files and passwords are not kept.
    """
    fields = [one for one in asked.form.multi_items() if one[0] != PROOF]
    typed = [(name, value) for name, value in fields if isinstance(value, str)]
    is_lost = len(typed) < len(fields) or not _SECRET.isdisjoint(dict(typed))
    if is_lost or not is_surely_from_here(asked.request):
        return otherwise(asked)
    says = asked.tongue.says
    return asked.page(
        "send_again.html",
        status=FORBIDDEN,
        there=asked.request.url.path,
        typed=typed,
        sentence=says(
            "your visit has ended, so this is not recorded; sign in in another tab, then "
            "come back here and send it"
        )
        if asked.visit is None
        else says(
            "this was typed in a visit that has ended; send it if it still holds"
        ),
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
