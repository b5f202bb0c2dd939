"""The description of every call, as OpenAPI 3.1 has it: made from the calls themselves."""

from collections.abc import Iterable, Mapping
from http import HTTPStatus
from typing import Any, Final

from fastapi import FastAPI
from pydantic import BaseModel
from pydantic.json_schema import JsonSchemaMode, models_json_schema

from ledger.desk.folder import BY_COMMAND
from ledger.trade.kinds import KINDS
from ledger.web.api.call import JSON, Call
from ledger.web.api.cursor import MOST
from ledger.web.api.entry_model import ADDRESS, NewEntry
from ledger.web.api.once import HEADER, KEY
from ledger.web.api.problem import MEDIA_TYPE, Problem

TITLE: Final = "evenweight"
VERSION: Final = "1"
_REF: Final = "#/components/schemas/{model}"
_ALWAYS: Final = (401, 403, 404, 409, 413, 422, 429, 500)
_ONCE: Final = (400,)
_BODY: Final = (415,)
_SAYS: Final[Mapping[int, str]] = {
    400: "The request has no name, or cannot be read",
    401: "No token that holds came with the request",
    403: "The person or the token may not do this",
    404: "Nothing of that name is recorded, or is there to be seen",
    409: "The books refuse it, or somebody else got there first",
    413: "The body is too large",
    415: "The body is of another media type",
    422: "The request cannot be read as what it should be",
    429: "The token asks too often",
    500: "Something went wrong on our side, and nothing was recorded",
}
_BY_KIND: Final = {
    kind: model for kind, model in KINDS.items() if kind not in BY_COMMAND
}
"""Kinds that a program may record."""
_INTRODUCTION: Final = f"""\
What the pages and commands of evenweight do, for programs.

A program asks with a token that its person makes on the page /tokens. Every request that
changes something needs a name of its own in the header {HEADER}; sent twice, it is
carried out once. What goes wrong comes as problem details (RFC 9457). Long lists come in
pages of up to {MOST} rows: the member next of one page is the parameter after of the
next. Lists carry an entity tag that changes with the record. Masses and amounts are text,
so that no reader makes floats of them.
"""


def described_route(call: Call) -> dict[str, Any]:
    """Return what the framework is told of a call."""
    says = (call.answer.__doc__ or "").strip()
    return {
        "methods": [call.method],
        "response_model": call.gives,
        "status_code": call.status,
        "name": call.name,
        "operation_id": call.name,
        "summary": says.partition("\n")[0],
        "description": _description(call, says),
        "response_description": _response_description(call),
        "tags": [call.group],
        "responses": {
            status: _problem_response(status) for status in _problems_of(call)
        }
        | ({304: {"description": "Nothing changed since"}} if call.follows_day else {}),
        "openapi_extra": _extra(call),
    }


def described(calls: Iterable[Call]) -> dict[str, Any]:
    """Return the whole description; it follows from the calls alone."""
    calls, api = tuple(calls), FastAPI(title=TITLE, version=VERSION)
    for call in calls:
        api.router.add_api_route(call.path, call.answer, **described_route(call))
    document = api.openapi()
    document["info"]["description"] = _INTRODUCTION
    document["servers"] = [{"url": ADDRESS}]
    schemas = document.setdefault("components", {}).setdefault("schemas", {})
    for name, schema in _schemas_of([Problem], "serialization").items():
        schemas.setdefault(name, schema)
    kinds = _schemas_of_kinds()
    if twice := schemas.keys() & kinds.keys():
        raise ValueError(f"these names stand for two schemas each: {sorted(twice)}")
    schemas.update(kinds)
    schemas[NewEntry.__name__] = _any_kind()
    document["components"]["securitySchemes"] = {
        "token": {
            "type": "http",
            "scheme": "bearer",
            "description": "A token from the page /tokens",
        }
    }
    groups = dict.fromkeys(call.group for call in calls)
    document["tags"] = [{"name": group} for group in groups]
    return document


def _description(call: Call, says: str) -> str:
    roles = ", ".join(sorted(call.may))
    return (
        "\n".join(line.strip() for line in says.splitlines())
        + f"\n\nFor {roles}; the token must allow to {call.scope}."
    )


def _response_description(call: Call) -> str:
    return "A file" if call.gives is None else HTTPStatus(call.status).phrase


def _problems_of(call: Call) -> list[int]:
    return sorted(
        (*_ALWAYS, *(_ONCE if call.once else ()), *(_BODY if call.takes else ()))
    )


def _problem_response(status: int) -> dict[str, Any]:
    described: dict[str, Any] = {
        "description": _SAYS[status],
        "content": {MEDIA_TYPE: {"schema": {"$ref": _REF.format(model="Problem")}}},
    }
    text = {"schema": {"type": "string"}}
    if status == HTTPStatus.UNAUTHORIZED:
        described["headers"] = {"WWW-Authenticate": text}
    elif status == HTTPStatus.TOO_MANY_REQUESTS:
        described["headers"] = {"Retry-After": {"schema": {"type": "integer"}}}
    return described


def _extra(call: Call) -> dict[str, Any]:
    extra: dict[str, Any] = {"security": [{"token": [call.scope.value]}]}
    headers = []
    if call.once:
        headers.append(_key_parameter())
    if call.follows_day:
        headers.append(_tag_parameter())
    if headers:
        extra["parameters"] = headers
    if call.takes:
        extra["requestBody"] = {
            "required": True,
            "content": {
                media_type: _body(call, number)
                for number, media_type in enumerate(call.takes)
            },
        }
    if call.gives is None:
        extra["responses"] = {
            str(call.status): {"content": {call.file_type: {"schema": {}}}}
        }
    return extra


def _body(call: Call, number: int) -> dict[str, Any]:
    example = {} if number else {"example": call.example["body"]}
    if call.takes == (JSON,):
        return example
    return {"schema": {"type": "string"}, **example}


def _key_parameter() -> dict[str, Any]:
    return {
        "name": HEADER,
        "in": "header",
        "required": True,
        "description": "Name of this request, a fresh random one for each; kept as long "
        "as the ledger",
        "schema": {"type": "string", "pattern": KEY.pattern},
        "example": '"8d5c1b7e-2f0a-4f7d-9a51-0c6f2f3f9d10"',
    }


def _tag_parameter() -> dict[str, Any]:
    return {
        "name": "If-None-Match",
        "in": "header",
        "required": False,
        "description": "Entity tag of an answer that is at hand; where nothing changed "
        "since, the answer is 304 and empty",
        "schema": {"type": "string"},
    }


def _schemas_of(
    models: Iterable[type[BaseModel]], mode: JsonSchemaMode
) -> dict[str, Any]:
    _, found = models_json_schema(
        [(model, mode) for model in models], ref_template=_REF
    )
    schemas: dict[str, Any] = found["$defs"]
    return schemas


def _schemas_of_kinds() -> dict[str, Any]:
    """Return the schemas of all bodies, and of an entry of each kind."""
    schemas = _schemas_of(_BY_KIND.values(), "validation")
    for kind, model in _BY_KIND.items():
        schemas[f"New{model.__name__}"] = {
            "title": f"New{model.__name__}",
            "description": f"An entry of kind {kind} to record.",
            "type": "object",
            "additionalProperties": False,
            "required": ["kind", "occurred_on", "body"],
            "properties": {
                "kind": {"const": kind, "type": "string"},
                "occurred_on": {"type": "string", "format": "date"},
                "body": {"$ref": _REF.format(model=model.__name__)},
            },
        }
    return schemas


def _any_kind() -> dict[str, Any]:
    names = {
        kind: _REF.format(model=f"New{model.__name__}")
        for kind, model in _BY_KIND.items()
    }
    return {
        "title": NewEntry.__name__,
        "description": NewEntry.__doc__,
        "oneOf": [{"$ref": name} for name in names.values()],
        "discriminator": {"propertyName": "kind", "mapping": names},
    }
