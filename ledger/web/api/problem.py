"""What went wrong, as a program reads it: problem details (RFC 9457).

The type is a tag URI (RFC 4151): it names the sort of problem and leads nowhere, so that
it stays the same wherever the ledger is served.
"""

from collections.abc import Mapping
from enum import StrEnum
from http import HTTPStatus
from typing import Annotated, Final

from fastapi.exceptions import RequestValidationError
from pydantic import BaseModel, ConfigDict, Field
from starlette.responses import Response

from ledger.books.finding import EntryRefusedError
from ledger.errors import (
    ConflictError,
    InputError,
    LedgerError,
    NotFoundError,
    RefusedError,
    SealError,
)
from ledger.trade.sentence import BodyError

MEDIA_TYPE: Final = "application/problem+json"
TYPES: Final = "tag:evenweight,2026:problem:"


class Sort(StrEnum):
    """Sorts of problems; what each is called is a promise to programs."""

    INPUT = "input"
    REFUSED = "refused"
    NOT_FOUND = "not-found"
    CONFLICT = "conflict"
    SEAL = "seal"
    NO_TOKEN = "no-token"  # noqa: S105 - the name of a problem
    NOT_ALLOWED = "not-allowed"
    NO_ADDRESS = "no-address"
    NO_METHOD = "no-method"
    KEY_MISSING = "key-missing"
    KEY_REUSED = "key-reused"
    TOO_LARGE = "too-large"
    MEDIA_TYPE = "media-type"
    TOO_MANY = "too-many"
    BUG = "bug"


TITLES: Final[Mapping[Sort, tuple[int, str]]] = {
    Sort.INPUT: (422, "What was sent cannot be read as what it should be"),
    Sort.REFUSED: (409, "The books refuse it"),
    Sort.NOT_FOUND: (404, "Nothing of that name is recorded"),
    Sort.CONFLICT: (409, "Somebody else got there first"),
    Sort.SEAL: (409, "Something does not hold together"),
    Sort.NO_TOKEN: (401, "No token that holds"),
    Sort.NOT_ALLOWED: (403, "Not allowed"),
    Sort.NO_ADDRESS: (404, "No such address"),
    Sort.NO_METHOD: (405, "Not to be asked in this way"),
    Sort.KEY_MISSING: (400, "No idempotency key"),
    Sort.KEY_REUSED: (422, "The idempotency key names another request"),
    Sort.TOO_LARGE: (413, "Too large"),
    Sort.MEDIA_TYPE: (415, "Sent as something else"),
    Sort.TOO_MANY: (429, "Asked too often"),
    Sort.BUG: (500, "Something went wrong on our side"),
}
_SORTS: Final[Mapping[type[LedgerError], Sort]] = {
    InputError: Sort.INPUT,
    RefusedError: Sort.REFUSED,
    NotFoundError: Sort.NOT_FOUND,
    ConflictError: Sort.CONFLICT,
    SealError: Sort.SEAL,
}


class Fault(BaseModel):
    """One thing that is wrong, where it can be told apart from others."""

    model_config = ConfigDict(extra="forbid")

    field: Annotated[str, Field(description="Path of the field, dotted; empty for all")]
    message: Annotated[str, Field(description="What is wrong, and the way out")]
    rule: Annotated[
        str | None,
        Field(description="Stable name of the rule of the books that says no"),
    ] = None


class Problem(BaseModel):
    """What went wrong (RFC 9457)."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={
            "examples": [
                {
                    "type": f"{TYPES}not-found",
                    "title": "Nothing of that name is recorded",
                    "status": 404,
                    "detail": "contract C-99 is not signed; check the number",
                    "faults": [],
                }
            ]
        },
    )

    type: Annotated[
        str, Field(description="Sort of problem", pattern=f"^{TYPES}[a-z-]+$")
    ]
    title: Annotated[str, Field(description="What the sort is, always the same")]
    status: Annotated[int, Field(description="Status of the answer", ge=400, le=599)]
    detail: Annotated[
        str, Field(description="What happened here, and the way out, in one sentence")
    ]
    faults: Annotated[
        list[Fault], Field(description="What is wrong, field by field, where known")
    ] = []


class ProblemError(Exception):
    """Ends a request with a problem.

    Attributes:
        problem: The problem.
        headers: What the answer says beside it.
    """

    def __init__(
        self, sort: Sort, detail: str, headers: Mapping[str, str] | None = None
    ) -> None:
        self.problem = problem(sort, detail)
        self.headers = dict(headers or {})
        super().__init__(detail)


def problem(sort: Sort, detail: str, faults: list[Fault] | None = None) -> Problem:
    """Return a problem of a sort."""
    status, title = TITLES[sort]
    return Problem(
        type=f"{TYPES}{sort}",
        title=title,
        status=status,
        detail=detail,
        faults=faults or [],
    )


def answer_with(found: Problem, headers: Mapping[str, str] | None = None) -> Response:
    """Return the answer that tells a problem."""
    return Response(
        found.model_dump_json(exclude_none=True),
        status_code=found.status,
        media_type=MEDIA_TYPE,
        headers=dict(headers or {}),
    )


def problem_of(error: LedgerError) -> Problem:
    """Return what an error of the ledger is to a program."""
    sort = next(sort for kind, sort in _SORTS.items() if isinstance(error, kind))
    faults: list[Fault] = []
    if isinstance(error, EntryRefusedError):
        faults = [
            Fault(field=one.field, message=one.message, rule=one.rule)
            for one in error.findings
        ]
    elif isinstance(error, BodyError):
        faults = [Fault(field=one.path, message=one.sentence) for one in error.problems]
    return problem(sort, str(error), faults)


def problem_of_request(error: RequestValidationError) -> Problem:
    """Return what is wrong with a request that does not follow its schema."""
    faults = [
        Fault(
            field=".".join(map(str, one["loc"][1:])),
            message=str(one["msg"]).removeprefix("Value error, "),
        )
        for one in error.errors()
    ]
    sentences = [
        f"{one.field or 'the body'}: {one.message}" if one.field else one.message
        for one in faults
    ]
    return problem(Sort.INPUT, "; ".join(sentences), faults)


def problem_of_status(status: int) -> Problem:
    """Return the problem that a status stands for where nothing else is known."""
    if status == HTTPStatus.NOT_FOUND:
        return problem(
            Sort.NO_ADDRESS,
            "there is nothing at this address; those that there are stand in "
            "/api/v1/openapi.json",
        )
    if status == HTTPStatus.METHOD_NOT_ALLOWED:
        return problem(
            Sort.NO_METHOD,
            "this address is not asked in this way; the header Allow says in which",
        )
    return problem(Sort.INPUT, "the request cannot be read; check its form")
