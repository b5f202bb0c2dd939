"""Programs that ask with a token, over a client in memory."""

from collections.abc import Iterable, Mapping
from datetime import timedelta
from itertools import count
from typing import Any, Final

from httpx2 import Response
from starlette.testclient import TestClient

from ledger import wiring
from ledger.desk.tokens import make_token
from ledger.trade.role import Role
from ledger.trade.scope import Scope
from ledger.web.api.call import JSON, Call
from ledger.web.api.pace import Pace, Paces
from ledger.web.app import make_app
from ledger.web.office import Office
from tests.web.conftest import PERSON_OF

BASE: Final = "http://localhost/api/v1"
EVERY_SCOPE: Final = tuple(Scope)
_names = count()


class Program(TestClient):
    """A program, with a token of somebody's or with none."""

    def make(
        self, call: Call, *, key: str | None = None, **instead: object
    ) -> Response:
        """Make a call as its example has it, with other parts in place of some."""
        return self.request(
            call.method, **request_of(call, {**call.example, **instead}, key=key)
        )

    def record(
        self, kind: str, on: str, body: Mapping[str, Any], *, key: str | None = None
    ) -> Response:
        """Record an entry under a name of its own, or under one that is given."""
        return self.post(
            "/entries",
            json={"kind": kind, "occurred_on": on, "body": body},
            headers={"Idempotency-Key": key or fresh_key()},
        )


def fresh_key() -> str:
    """Return a name that no request had before."""
    return f'"request-{next(_names)}"'


def request_of(
    call: Call, example: Mapping[str, Any], *, key: str | None = None
) -> dict[str, Any]:
    """Return what a client must be told to make a call as an example has it."""
    path, query = call.path.replace(":path", ""), dict(example)
    body = query.pop("body", None)
    for name in tuple(query):
        if f"{{{name}}}" in path:
            path = path.replace(f"{{{name}}}", str(query.pop(name)))
    headers = {"Idempotency-Key": key or fresh_key()} if call.once else {}
    asked: dict[str, Any] = {"url": path, "params": query, "headers": headers}
    if call.takes == (JSON,):
        asked["json"] = body
    elif call.takes:
        asked["content"] = body
        headers["Content-Type"] = call.takes[0]
    return asked


def token_for(office: Office, role: Role, scopes: Iterable[Scope] = EVERY_SCOPE) -> str:
    """Make a token for whoever has a role."""
    with office.writing("demo") as writing:
        secret, _ = make_token(
            writing,
            PERSON_OF[role],
            label="a test",
            scopes=set(scopes),
            days=timedelta(days=1).days,
            new_secret=wiring.new_secret,
        )
    return secret


def program(
    office: Office,
    role: Role | None,
    scopes: Iterable[Scope] = EVERY_SCOPE,
    *,
    paces: Paces | None = None,
) -> Program:
    """Return a program with a token of whoever has a role, or with none."""
    at_ease = Pace(office.now, most=100_000)
    asking = Program(
        make_app(office, paces=paces or Paces(at_ease, at_ease)), base_url=BASE
    )
    if role is not None:
        secret = token_for(office, role, scopes)
        asking.headers["Authorization"] = f"Bearer {secret}"
    return asking
