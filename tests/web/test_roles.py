"""Every page, asked by everybody and by nobody: let in, or turned away at the door.

The table is written by hand and says who may open what; a page that is not in it fails.
It follows the OWASP Authorization Cheat Sheet ("Deny by default", "Validate the
permissions on every request", "Create unit and integration test cases for authorization
logic") and ASVS 5.0, 8.2.1. The calls of programs are walked in `test_api_gate`.
"""

from collections.abc import Iterator
from fnmatch import fnmatchcase

import pytest
from starlette.responses import PlainTextResponse
from starlette.routing import Mount, Route

from ledger import wiring
from ledger.desk.recordable import may_record
from ledger.desk.signing_in import begin_visit
from ledger.trade.kinds import KINDS
from ledger.trade.role import Role
from ledger.web import door
from ledger.web.app import make_app
from ledger.web.office import Office
from ledger.web.page import Page
from ledger.web.pages import PAGES
from ledger.web.visit import COOKIE
from tests.web.conftest import PERSON_OF, Visit, Visitor

EVERYONE = "everyone"
LETTERS = {
    "b": Role.BUYER,
    "f": Role.FLOOR,
    "c": Role.COMPLIANCE,
    "x": Role.CERTIFIER,
    "a": Role.ADMINISTRATOR,
}
# Method, who, addresses. The first line that fits counts.
TABLE = """
*    everyone /sign-in
*    everyone /welcome/*
*    everyone /language
*    everyone /check-pack
*    everyone /check-pack/findings
GET  everyone /look
*    bfcxa    /
*    bfcxa    /me
*    bfcxa    /me/*
POST bfcxa    /sign-out

*    a        /people
*    a        /people/*
*    a        /house-rules

*    bc       /buying
*    bc       /sign-contract*
*    bc       /fix-price*
*    bc       /record-*
GET  bcx      /contracts/*

*    fc       /floor
*    fc       /batches/new*
*    fc       /move-lot*
*    fc       /count-lot*
*    fc       /write-off-lot*
*    fc       /place-hold*
POST fc       /recall/hold
*    c        /release-hold*
POST c        /recall/release

*    bfc      /upload*
*    bfc      /labels*
GET  bfc      /stock
GET  bfc      /holds
GET  bfc      /recall
POST bfc      /papers
GET  bfcx     /papers*
GET  bfcx     /shipments*
GET  bfcx     /batches*
GET  bfcx     /trace
GET  bfcx     /lots/*
GET  bfcx     /sales/*
GET  bfcx     /entries*
*    bfcx     /tokens*

GET  cx       /balance*
GET  cx       /dues*
GET  cx       /statements*
GET  cx       /fees
GET  cx       /breaches
GET  cx       /volumes
GET  cx       /yields*
GET  cx       /reconciliation
GET  cx       /flow
GET  cx       /samples*
GET  cx       /findings
*    x        /findings/*
*    x        /certifier*

GET  c        /compliance
*    c        /correct/*
*    c        /approve*
*    c        /periods*
*    c        /packs*
*    c        /checkpoints*
"""
ROWS = [line.split() for line in TABLE.splitlines() if line]
LET_IN = "let in"


def who_may(method: str, path: str) -> str:
    return next(
        (
            who
            for wanted, who, pattern in ROWS
            if fnmatchcase(method, wanted) and fnmatchcase(path, pattern)
        ),
        "nobody says",
    )


@pytest.fixture(scope="module")
def visitors(read_office: Office) -> Iterator[dict[str, Visitor]]:
    """Somebody with each role, and nobody; a page tells only that it was reached."""
    app = make_app(read_office)
    found = {letter: Visitor(app, base_url="http://localhost") for letter in LETTERS}
    with read_office.writing("demo") as writing:
        for letter, visitor in found.items():
            visitor.secret = begin_visit(
                writing, PERSON_OF[LETTERS[letter]], new_secret=wiring.new_secret
            )
            visitor.cookies.set(COOKIE, visitor.secret)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(door, "_answered", lambda *_: PlainTextResponse(LET_IN))
        yield {**found, "": Visitor(app, base_url="http://localhost")}


@pytest.mark.parametrize("page", PAGES, ids=lambda page: f"{page.method} {page.path}")
def test_only_who_is_in_the_table_is_let_in(
    visitors: dict[str, Visitor], page: Page
) -> None:
    who = who_may(page.method, page.path)
    assert who != "nobody says", f"say who may {page.method} {page.path}"
    path = page.path.replace(":path", "").replace("{", "").replace("}", "")

    for letter, visitor in visitors.items():
        asked = (
            visitor.get(path, follow_redirects=False)
            if page.method == "GET"
            else visitor.submit(path)
        )
        if who == EVERYONE or (letter and letter in who):
            assert (asked.status_code, asked.text) == (200, LET_IN), letter
        elif letter or page.method != "GET":
            assert asked.status_code == 403, letter
            assert "not for your role" in asked.text
        else:
            assert asked.status_code == 303
            assert asked.headers["location"].startswith("/sign-in?then=")


@pytest.mark.parametrize(
    "page",
    [page for page in PAGES if page.method != "GET"],
    ids=lambda page: page.path,
)
def test_no_form_is_taken_without_its_proof_or_from_elsewhere(
    visitors: dict[str, Visitor], page: Page
) -> None:
    """OWASP Cross-Site Request Forgery Prevention Cheat Sheet."""
    path = page.path.replace(":path", "").replace("{", "").replace("}", "")
    who = who_may(page.method, page.path)
    visitor = visitors["c" if who == EVERYONE else who[0]]
    nobody = visitors[""] if who == EVERYONE else visitor

    for asking, fields, headers in (
        (visitor, {}, {}),
        (visitor, {"proof": "0" * 64}, {}),
        (nobody, {"proof": nobody.proof}, {"sec-fetch-site": "cross-site"}),
        (nobody, {"proof": nobody.proof}, {"sec-fetch-site": "same-site"}),
        (nobody, {"proof": nobody.proof}, {"origin": "https://else.example"}),
        (nobody, {"proof": nobody.proof}, {"origin": "null"}),
    ):
        asked = asking.post(path, data=fields, headers=headers, follow_redirects=False)
        assert asked.status_code == 403, headers
        assert "did not come from a page of your present visit" in asked.text


def test_every_route_has_a_door(read_office: Office) -> None:
    app = make_app(read_office)
    pages = {(page.method, page.path) for page in PAGES}
    routes = set()
    for route in app.routes:
        if isinstance(route, Mount):
            assert route.path in {"/static", "/api/v1"}
            continue
        assert isinstance(route, Route)
        routes |= {
            (method, route.path) for method in route.methods or () if method != "HEAD"
        }

    assert routes == pages


def test_another_method_leads_nowhere(reader: Visit) -> None:
    visitor = reader(Role.COMPLIANCE)
    for method in ("PUT", "DELETE", "PATCH", "TRACE", "OPTIONS"):
        assert visitor.request(method, "/balance").status_code in {404, 405}


KEEPERS = {
    "finding.noted": "x",
    "finding.closed": "x",
    "access.granted": "a",
    "access.ended": "a",
    "hold.released": "c",
    "correction": "c",
    **dict.fromkeys(
        (
            "ledger.opened",
            "terms.published",
            "limits.published",
            "period.closed",
            "checkpoint.signed",
            "disclosure.erased",
            "key.rotated",
            "key.revoked",
        ),
        "c",
    ),
}


@pytest.mark.parametrize("kind", KINDS)
def test_a_kind_of_entry_is_for_some_roles_alone(kind: str) -> None:
    may = "".join(
        letter for letter, role in LETTERS.items() if may_record({role}, kind)
    )

    assert may == KEEPERS.get(kind, "bfc")
    assert not may_record((), kind)
