"""The page on the API, made from the calls themselves."""

import json
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final

from ledger.web.api.call import JSON, Call
from ledger.web.api.calls import CALLS
from ledger.web.api.described import described
from ledger.web.api.entry_model import ADDRESS
from ledger.web.api.once import HEADER
from ledger.web.api.problem import TITLES, TYPES

_HEAD: Final = f"""\
# API

Made from the calls themselves by `make docs`.

What the pages and commands do, for programs: JSON under `{ADDRESS}`.
`{ADDRESS}/openapi.json` describes every call and schema as OpenAPI 3.1.

## Asking

- **Token.** A person makes one on the page `/tokens`, with what it allows (read, record, pack, sign) and when it ends, and sees it once.
  Send it as `Authorization: Bearer …`. It never allows more than the roles of its person do at that moment. Cookies are not looked at.
- **{HEADER}.** Every request that changes something needs a name of its own in this header, a fresh random one in quotes.
  Sent again with the same name it is not carried out again, and the first answer comes back. The name with another request is refused (422).
  A request that was refused changed nothing, so it is judged anew. Names are kept as long as the ledger.
- **Pages.** A list that goes on has the member `next`; give it as `after` for the next page, as it is.
- **Entity tags.** Lists carry an `ETag` that changes with the record, the day and the reader. Send it as `If-None-Match` to hear 304 where nothing changed.
- **Figures.** Masses are text in kilograms with three decimals, amounts are text in their currency, so that no reader makes floats of them.
- **How fast.** Whoever asks too fast hears 429 and, in `Retry-After`, how many seconds to wait.

## What goes wrong

Every refusal is a problem (RFC 9457, `application/problem+json`). `detail` says in one sentence what is wrong and the way out; `faults` says the same field by field where that is known. `type` is one of these and stays so:

| type | status | title |
|---|---|---|
"""


def api_page() -> str:
    """Return the page on the API as it should be."""
    document = described(CALLS)
    return _HEAD + "".join(f"{line}\n" for line in _lines(document))


def _lines(document: Mapping[str, Any]) -> Iterator[str]:
    for sort, (status, title) in TITLES.items():
        yield f"| `{TYPES}{sort}` | {status} | {title} |"
    group = ""
    for call in CALLS:
        if call.group != group:
            group = call.group
            yield f"\n## {group}"
        yield from _of_call(call, document)


def _of_call(call: Call, document: Mapping[str, Any]) -> Iterator[str]:
    path = call.path.replace(":path", "")
    told = document["paths"][path][call.method.lower()]
    yield f"\n### {call.method} {path}\n"
    yield told["description"]
    parameters = [one for one in told.get("parameters", ()) if one["in"] != "header"]
    if parameters:
        yield "\n| parameter | what it says |\n|---|---|"
        yield from map(_of_parameter, parameters)
    yield f"\nAnswer: {call.status}, {_answer(call)}."
    yield f"\n```console\n{_command(call, path)}\n```"


def _of_parameter(parameter: Mapping[str, Any]) -> str:
    needed = " (needed)" if parameter["required"] else ""
    return f"| `{parameter['name']}`{needed} | {parameter.get('description', '')} |"


def _answer(call: Call) -> str:
    return (
        f"a file, `{call.file_type}`"
        if call.gives is None
        else (f"`{call.gives.__name__}`")
    )


def _command(call: Call, path: str) -> str:
    query = {key: value for key, value in call.example.items() if key != "body"}
    for name in tuple(query):
        if f"{{{name}}}" in path:
            path = path.replace(f"{{{name}}}", _encoded(query.pop(name)))
    asked = "&".join(f"{name}={_encoded(value)}" for name, value in query.items())
    words = ['curl -H "Authorization: Bearer $TOKEN"']
    if call.once:
        words.append(f"-H '{HEADER}: \"8d5c1b7e-2f0a\"'")
    if call.method == "POST" and not call.takes:
        words.append("-X POST")
    words += _body(call)
    if call.gives is None:
        words.append("-O -J")
    address = f"$SERVER{ADDRESS}{path}" + (f"?{asked}" if asked else "")
    return " \\\n  ".join([*words, f'"{address}"'])


def _body(call: Call) -> Iterable[str]:
    if not call.takes:
        return ()
    body = call.example["body"]
    sent = json.dumps(body) if call.takes == (JSON,) else "@moved.yaml"
    return f"-H 'Content-Type: {call.takes[0]}'", f"--data-binary '{sent}'"


def _encoded(value: object) -> str:
    return str(value).replace(" ", "%20")
