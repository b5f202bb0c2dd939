"""Every request that changes something is carried out once, however often it is sent.

The caller names it in the header Idempotency-Key (IETF, draft "The Idempotency-Key HTTP
Header Field"). The answer is written in the same transaction as what it tells of: either
both are there, or neither. A request that was refused changed nothing, so it is judged
anew when it is sent again. Names are kept as long as the ledger.
"""

import re
from collections.abc import Callable
from typing import Final

from pydantic import BaseModel
from starlette.responses import Response

from ledger.desk.writing import Writing
from ledger.store.answered import Answered, find_answered, keep_answered
from ledger.web.api.call import JSON
from ledger.web.api.caller import Caller
from ledger.web.api.problem import ProblemError, Sort

HEADER: Final = "Idempotency-Key"
_LONGEST: Final = 200
# A string of structured fields (RFC 9651, 3.3.3), or the same characters bare.
KEY: Final = re.compile(
    rf'^(?:"((?:[ !#-\[\]-~]|\\["\\]){{1,{_LONGEST}}})"|([!#-\[\]-~]{{1,{_LONGEST}}}))$'
)

Work = Callable[[Writing], BaseModel]
"""Changes something within a transaction, and tells what."""


def key_in(header: str | None) -> str:
    """Return what a header names the request.

    Raises:
        ProblemError: It is missing, or not a name.
    """
    found = KEY.fullmatch((header or "").strip())
    if found is None:
        raise ProblemError(
            Sort.KEY_MISSING,
            f"the header {HEADER} must name this request, so that it is carried out once "
            f"however often it is sent; give it a fresh random name of at most {_LONGEST} "
            'characters, such as "8d5c1b7e-2f0a-4f7d-9a51-0c6f2f3f9d10"',
        )
    quoted, bare = found.groups()
    return bare if quoted is None else re.sub(r'\\(["\\])', r"\1", quoted)


def once(caller: Caller, work: Work, *, status: int = 201) -> Response:
    """Do something in the caller's name, unless it was done before; return the answer.

    Args:
        caller: Who asks, with the name of the request.
        work: What to do; where it raises, nothing is done and nothing is kept.
        status: Status of the answer.

    Raises:
        ProblemError: The name was given to another request before.
    """
    with caller.writing() as writing:
        before = done_before(caller, writing)
        if before is not None:
            return before
        answer = work(writing).model_dump_json()
        keep_answered(
            writing.rows,
            caller.person.name,
            caller.key,
            Answered(caller.asked, status, answer),
            at=writing.now(),
        )
    return Response(answer, status_code=status, media_type=JSON)


def done_before(caller: Caller, writing: Writing) -> Response | None:
    """Return the answer that was given to the same request before, if any.

    Raises:
        ProblemError: The name was given to another request before.
    """
    found = find_answered(writing.rows, caller.person.name, caller.key)
    if found is None:
        return None
    if found.asked != caller.asked:
        raise ProblemError(
            Sort.KEY_REUSED,
            f"the {HEADER} {caller.key!r} was given to another request before; send "
            "that one again as it was, or give this one a name of its own",
        )
    return Response(found.answer, status_code=found.status, media_type=JSON)
