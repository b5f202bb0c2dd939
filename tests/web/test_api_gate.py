"""The gate to every call: who, with what token, how often, and what is sent."""

import json
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from httpx2 import Response
from starlette.testclient import TestClient

from ledger.desk.people import change
from ledger.store.people import Window
from ledger.trade.role import Role
from ledger.trade.scope import Scope
from ledger.web.access import may_open
from ledger.web.api.application import make_api
from ledger.web.api.call import Call
from ledger.web.api.calls import CALLS
from ledger.web.api.gate import Gate
from ledger.web.api.pace import Pace, Paces
from ledger.web.office import Office
from ledger.web.pages import PAGES
from ledger.web.visit import COOKIE
from tests.web.conftest import PERSON_OF, visit_as
from tests.web.programs import EVERY_SCOPE, Program, program, request_of

TYPE = "tag:evenweight,2026:problem:"
BUYER = PERSON_OF[Role.BUYER]


def problem_in(answered: Response, sort: str) -> dict[str, Any]:
    """Return the problem that an answer is, which must be of a sort."""
    assert answered.headers["content-type"] == "application/problem+json"
    found: dict[str, Any] = answered.json()
    assert found["type"] == TYPE + sort, found
    assert found["status"] == answered.status_code
    assert found["detail"]
    return found


@pytest.fixture(scope="module")
def nobody(read_office: Office) -> Program:
    """A program without a token."""
    return program(read_office, None)


@pytest.fixture(scope="module")
def programs(read_office: Office) -> dict[Role, Program]:
    """A program of everybody, whose tokens allow everything."""
    return {role: program(read_office, role) for role in Role}


@pytest.fixture(scope="module")
def officer(programs: dict[Role, Program]) -> Program:
    """A program of the compliance officer."""
    return programs[Role.COMPLIANCE]


@pytest.mark.parametrize("call", CALLS, ids=lambda call: call.name)
def test_nobody_gets_through_without_a_token(nobody: Program, call: Call) -> None:
    refused = nobody.make(call)

    problem_in(refused, "no-token")
    assert refused.status_code == 401
    assert refused.headers["www-authenticate"].startswith("Bearer")


@pytest.mark.parametrize("role", Role)
@pytest.mark.parametrize("call", CALLS, ids=lambda call: call.name)
def test_only_the_roles_of_a_call_may_make_it(
    programs: dict[Role, Program], read_office: Office, call: Call, role: Role
) -> None:
    """A body that nobody can read keeps the shared ledger as it is."""
    asking, spoilt = programs[role], {"body": "spoilt"} if call.takes else {}
    with read_office.rows() as rows:
        before = rows("SELECT COUNT(*) FROM entry")
    if call.once and not call.takes:
        answered = asking.request(call.method, call.path)  # without its name
    else:
        answered = asking.make(call, **spoilt)

    if role in call.may:
        assert answered.status_code != 403
    else:
        problem_in(answered, "not-allowed")
        assert answered.status_code == 403
    with read_office.rows() as rows:
        assert rows("SELECT COUNT(*) FROM entry") == before


@pytest.mark.parametrize("scope", Scope)
def test_a_token_allows_its_scopes_and_no_more(
    read_office: Office, scope: Scope
) -> None:
    asking = program(read_office, Role.COMPLIANCE, [scope])

    for call in CALLS:
        if Role.COMPLIANCE not in call.may or call.scope is scope:
            continue
        refused = asking.make(call)
        assert scope.value not in problem_in(refused, "not-allowed")["detail"]
        assert f'scope="{call.scope}"' in refused.headers["www-authenticate"]
        assert 'error="insufficient_scope"' in refused.headers["www-authenticate"]


def test_a_call_is_for_whom_the_page_of_its_address_is() -> None:
    pages = {page.path: page.may for page in PAGES if page.method == "GET"}
    compared = [
        (call.path, call.may, pages[path])
        for call in CALLS
        if call.method == "GET" and (path := call.path) in pages
    ]

    assert len(compared) >= 8
    for path, may, of_page in compared:
        assert may == of_page, path


def test_a_token_follows_the_roles_of_its_person(office: Office) -> None:
    """What the person may do is looked up at each request, not when it was made."""
    asking = program(office, Role.COMPLIANCE)
    name = PERSON_OF[Role.COMPLIANCE]

    def now_as(*roles: Role, ended: bool = False) -> int:
        with office.writing("admin-1") as writing:
            change(writing, name, roles=set(roles), window=Window(), ended=ended)
        return int(asking.get("/balance").status_code)

    assert asking.get("/balance").status_code == 200
    assert now_as(Role.BUYER) == 403
    assert now_as(Role.COMPLIANCE) == 200
    assert now_as(Role.COMPLIANCE, ended=True) == 401


def test_no_cookie_is_taken(office: Office) -> None:
    """A visit of the pages opens nothing here, so no foreign page can ask for it."""
    visit = visit_as(office, Role.COMPLIANCE)

    refused = visit.get("/api/v1/balance")

    assert visit.cookies.get(COOKIE)
    problem_in(refused, "no-token")


@pytest.mark.parametrize(
    "header",
    ["", "Bearer", "Bearer ", "Basic eDp5", "evenweight_x", "Bearer evenweight_", "é"],
)
def test_what_is_no_token_is_refused(nobody: Program, header: str) -> None:
    refused = nobody.get("/balance", headers=[(b"Authorization", header.encode())])

    problem_in(refused, "no-token")


def test_an_address_that_is_none_and_a_method_that_is_none(
    officer: Program,
) -> None:
    unknown = officer.get("/nothing")
    broken = officer.get("/balance/two%0Alines")
    wrong = officer.delete("/balance")

    problem_in(unknown, "no-address")
    problem_in(broken, "no-address")
    problem_in(wrong, "no-method")
    assert (unknown.status_code, wrong.status_code) == (404, 405)
    assert wrong.headers["allow"] == "GET"


@pytest.mark.parametrize(
    "call", [call for call in CALLS if call.takes], ids=lambda call: call.name
)
def test_a_body_is_read_no_further_than_the_call_takes(
    officer: Program, call: Call
) -> None:
    asked = request_of(call, call.example)
    asked.pop("json", None)
    asked["headers"]["Content-Type"] = call.takes[0]
    asked["content"] = b" " * (call.longest + 1)

    refused = officer.request(call.method, **asked)

    assert "KiB" in problem_in(refused, "too-large")["detail"]
    assert refused.status_code == 413


def test_a_body_of_another_media_type_is_refused(officer: Program) -> None:
    refused = officer.post(
        "/preview/entries", content="<x/>", headers={"Content-Type": "text/xml"}
    )

    assert "application/json" in problem_in(refused, "media-type")["detail"]
    assert refused.status_code == 415


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "JSON"),
        ("{", "JSON"),
        ("[" * 30_000, ""),
        ('{"kind": "lot.moved", "kind": "lot.counted"}', "kind"),
        ('{"kind": "lot.moved", "occurred_on": "2026-09-30", "body": {"x": 1.5}}', ""),
        ("[]", ""),
        ('{"kind": "lot.moved", "occurred_on": "soon", "body": {}}', "year-month-day"),
        ('{"kind": "lot.moved", "occurred_on": "2026-09-30"}', "body"),
        (
            '{"kind": "lot.sung", "occurred_on": "2026-09-30", "body": {}}',
            "not one that a ledger records",
        ),
        (
            '{"kind": "lot.moved", "occurred_on": "2026-09-30", "body": {}, "by": "x"}',
            "by",
        ),
    ],
)
def test_a_body_that_cannot_be_read_is_told_in_a_sentence(
    officer: Program, text: str, says: str
) -> None:
    refused = officer.post(
        "/entries",
        content=text,
        headers={"Content-Type": "application/json", "Idempotency-Key": '"x"'},
    )

    assert refused.status_code == 422
    assert says in problem_in(refused, "input")["detail"]


def test_whoever_asks_too_fast_must_wait(read_office: Office) -> None:
    moments = [datetime(2026, 10, 1, tzinfo=UTC)]
    pace = Pace(lambda: moments[-1], most=3, per_second=0.5)
    asking = program(read_office, Role.COMPLIANCE, paces=Paces(pace, pace))

    answered = [asking.get("/checkpoint").status_code for _ in range(4)]
    refused = asking.get("/checkpoint")
    problem_in(refused, "too-many")
    wait = int(refused.headers["retry-after"])
    moments.append(moments[-1] + timedelta(seconds=wait))

    assert answered == [404, 404, 404, 429]
    assert asking.get("/checkpoint").status_code == 404


def test_strangers_are_slowed_down_by_their_address(read_office: Office) -> None:
    asking = program(read_office, None, paces=Paces.usual(read_office.now))

    answered = {asking.get("/balance").status_code for _ in range(40)}

    assert answered == {401, 429}


def test_a_bug_is_told_without_its_traceback(
    read_office: Office, caplog: pytest.LogCaptureFixture
) -> None:
    def broken() -> None:
        """Break."""
        raise LookupError("secret of the house")

    call = Call(
        "GET", "/broken", broken, None, frozenset({Role.COMPLIANCE}), Scope.READ, "X"
    )
    asking = program(read_office, Role.COMPLIANCE)
    api = TestClient(make_api(read_office, (call,)))

    refused = api.get("/broken", headers=dict(asking.headers))

    assert refused.status_code == 500
    assert "secret" not in json.dumps(problem_in(refused, "bug"))
    assert "secret of the house" in caplog.text


def test_every_call_passes_the_gate(read_office: Office) -> None:
    """The description aside, no address of the API is answered by anything else."""
    api = make_api(read_office)
    gated = {call.path for call in CALLS}

    for route in api.routes:
        path = getattr(route, "path", "")
        if path == "/openapi.json":
            continue
        assert path in gated
        assert type(route).__qualname__.startswith(Gate.route_to.__qualname__)
    assert may_open(None, frozenset(Role)) is False
    assert set(EVERY_SCOPE) == set(Scope)
