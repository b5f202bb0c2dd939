"""What somebody may try against the pages: each named by the OWASP list that names it.

Hostile texts are in `test_hostile`; zip bombs and paths in packs in `test_check_pack`, in
workbooks in `test_grid`, in papers in `test_papers`; forged forms in `test_roles`;
guessing in `test_accounts`.
"""

import re
import socket
from contextlib import ExitStack
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from starlette.requests import Request
from starlette.testclient import TestClient

from ledger.cli.serving import _ANYWHERE, _Listening
from ledger.errors import InputError
from ledger.trade.role import Role
from ledger.web import headers
from ledger.web.app import make_app
from ledger.web.headers import ALWAYS
from ledger.web.office import Office
from ledger.web.page import Page
from ledger.web.pages import PAGES
from ledger.web.report import download
from ledger.web.visit import is_from_here
from tests.web.conftest import Visit, serve

# --- Headers on every answer ---

ANSWERS = {
    "/sign-in": 200,
    "/balance": 200,
    "/nowhere": 404,
    "/entries/x": 422,
    "/entries/99999999": 404,
    "/static/style.css": 200,
    "/static/none.css": 404,
    "/api/v1/entries": 401,
    "/api/v1/nowhere": 404,
    "/balance?as=csv": 200,
}


@pytest.mark.parametrize(("path", "status"), ANSWERS.items())
def test_every_answer_has_the_headers(reader: Visit, path: str, status: int) -> None:
    """OWASP HTTP Security Response Headers Cheat Sheet; CSP Cheat Sheet (no inline)."""
    answer = reader(Role.COMPLIANCE).get(path)

    assert answer.status_code == status
    for name, value in ALWAYS.items():
        assert answer.headers[name] == value, name
    policy = answer.headers["content-security-policy"]
    assert "unsafe" not in policy
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "server" not in answer.headers
    if not path.startswith("/static/"):
        assert re.search("no-store|no-cache", answer.headers["cache-control"])


def test_who_must_not_is_told_with_the_headers_too(reader: Visit) -> None:
    for answer in (
        reader(Role.BUYER).get("/people"),
        reader(None).post("/balance"),
        reader(None).get("/balance", follow_redirects=False),
    ):
        assert answer.headers["content-security-policy"] == headers.POLICY


def test_a_bug_tells_nothing_and_has_the_headers(read_office: Office) -> None:
    """OWASP Error Handling Cheat Sheet: no traceback, no name of a file or library."""

    def broken(_asked: object) -> Any:  # noqa: ANN401
        raise RuntimeError("secret of the house")

    page = Page("GET", "/broken", broken, frozenset({"everyone"}))
    app = make_app(read_office, [*PAGES, page])
    answer = TestClient(app, base_url="http://localhost").get("/broken")

    assert answer.status_code == 500
    assert answer.headers["content-security-policy"] == headers.POLICY
    for word in ("secret", "RuntimeError", "Traceback", ".py"):
        assert word not in answer.text


def test_what_breaks_outside_of_every_page_is_answered_safely(
    read_office: Office, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ledger.web.door.tongue_of", None)
    client = TestClient(
        make_app(read_office),
        base_url="http://localhost",
        raise_server_exceptions=False,
    )
    answer = client.get("/sign-in")

    assert answer.status_code == 500
    assert answer.headers["content-security-policy"] == headers.POLICY
    assert "NoneType" not in answer.text


def test_over_tls_the_browser_is_told_to_stay_there(read_office: Office) -> None:
    """RFC 6797; OWASP HTTP Strict Transport Security Cheat Sheet."""
    app = make_app(read_office)
    for scheme in ("http", "https"):
        told = TestClient(app, base_url=f"{scheme}://localhost").get("/sign-in").headers
        assert ("strict-transport-security" in told) == (scheme == "https")


# --- Names of the server ---


@pytest.mark.parametrize(
    ("host", "status"),
    [
        ("localhost", 200),
        ("LOCALHOST:8080", 200),
        ("127.0.0.1:8080", 200),
        ("[::1]:8080", 200),
        ("pages.example", 200),
        ("else.example", 400),
        ("localhost.else.example", 400),
        ("localhost@else.example", 400),
        ("", 400),
    ],
)
def test_only_names_of_its_own_are_answered(
    read_office: Office, host: str, status: int
) -> None:
    """DNS rebinding: OWASP Web Security Testing Guide, 4.7.17, Host header injection."""
    app = make_app(
        read_office, names=("localhost", "127.0.0.1", "[::1]", "pages.example")
    )
    for path in ("/sign-in", "/static/style.css"):
        answer = TestClient(app).get(path, headers={"host": host})
        assert answer.status_code == status
        assert answer.headers["x-frame-options"] == "DENY"


def listening(host: str, *names: str, proxy: str | None = None) -> _Listening:
    return _Listening(host, 8080, names, None, None, proxy)


def test_a_server_is_told_its_names() -> None:
    own = ("localhost", "127.0.0.1", "[::1]")
    assert listening("127.0.0.1").allowed == own
    assert listening("192.0.2.7").allowed == (*own, "192.0.2.7")
    assert listening(_ANYWHERE[0], "pages.example").allowed == (*own, "pages.example")
    for anywhere in _ANYWHERE:
        with pytest.raises(InputError, match="--name"):
            listening(anywhere).check()
        listening(anywhere, "pages.example").check()


def test_links_lead_to_where_a_browser_finds_the_pages() -> None:
    assert listening("127.0.0.1").address == "http://127.0.0.1:8080"
    assert listening(_ANYWHERE[0], "a.example").address == "http://a.example:8080"
    behind = listening("127.0.0.1", "a.example", proxy="127.0.0.1")
    assert behind.address == "https://a.example"
    alone = _Listening("127.0.0.1", 8443, (), Path("c"), Path("k"), None)
    assert alone.address == "https://127.0.0.1:8443"


def test_a_form_is_ours_behind_a_proxy_too() -> None:
    """The proxy hands the name on that the browser used, and that it used TLS."""
    said = [(b"host", b"a.example"), (b"origin", b"https://a.example")]
    scope = {"type": "http", "path": "/", "query_string": b"", "headers": said}
    assert is_from_here(Request({**scope, "scheme": "https"}))
    assert not is_from_here(Request({**scope, "scheme": "http"}))


# --- Where a reader is sent, and what a file is called ---


@pytest.mark.parametrize(
    "then",
    [
        "https://else.example/",
        "//else.example",
        "/\\else.example",
        "\\\\else.example",
        "/%09/else.example",
        "/\t/else.example",
        "/\n/else.example",
        "javascript:alert(1)",
        "",
    ],
)
def test_nobody_is_sent_elsewhere(reader: Visit, then: str) -> None:
    """OWASP Unvalidated Redirects and Forwards Cheat Sheet."""
    answer = reader(None).submit("/language", language="en", then=then)

    assert answer.status_code == 303
    to = answer.headers["location"]
    assert to.startswith("/")
    assert not re.match(r"/[\\/\s]", to)
    assert "\n" not in to


@pytest.mark.parametrize(
    "name",
    [
        'a"; filename="evil.exe',
        "a\r\nSet-Cookie: visit=x",
        "../../etc/passwd",
        "C:\\windows\\evil",
        "naïve ☃.csv",
        "",
    ],
)
def test_the_name_of_a_download_cannot_say_more(name: str) -> None:
    """Header injection: OWASP Web Security Testing Guide, 4.7.15 (HTTP splitting)."""
    told = download(b"x", f"{name}.csv", "text/csv").headers["content-disposition"]

    assert "\r" not in told
    assert "\n" not in told
    found = re.fullmatch(
        r'attachment; filename="([A-Za-z0-9 .-]+)"; filename\*=UTF-8\'\'([\w.%~-]+)',
        told,
    )
    assert found is not None
    assert not re.search(r"[/\\]", unescape(found.group(1)))


# --- More than a page takes ---


@pytest.mark.parametrize(
    "page", [page for page in PAGES if page.method == "POST"], ids=lambda one: one.path
)
def test_no_page_takes_more_than_it_says(page: Page) -> None:
    """OWASP Denial of Service Cheat Sheet, "Limit the size": the largest are uploads."""
    most = 80 * 2**20 if page.is_heavy or page.path in {"/papers", "/upload"} else 2**20
    assert page.longest <= most or "upload" in page.path


def test_a_body_that_is_too_long_is_refused_wherever_it_goes(reader: Visit) -> None:
    visitor = reader(Role.COMPLIANCE)
    long = "x" * (2**20)
    for path in ("/sign-in", "/correct/1", "/me/password", "/language"):
        answer = visitor.post(path, data={"proof": visitor.proof, "name": long})
        assert answer.status_code == 413, path


def test_too_many_fields_and_broken_forms_are_refused(reader: Visit) -> None:
    visitor = reader(Role.COMPLIANCE)
    many = {f"f{n}": "x" for n in range(5_001)}
    assert visitor.post("/language", data=many).status_code == 400
    broken = visitor.post(
        "/language",
        content=b"--x\r\nnonsense",
        headers={"content-type": "multipart/form-data; boundary=x"},
    )
    assert broken.status_code in {400, 403}


def test_a_server_sends_no_name_and_takes_no_broken_request(
    read_office: Office,
) -> None:
    """Request smuggling: OWASP Web Security Testing Guide, 4.7.15; RFC 9112, 6.1."""
    with ExitStack() as stack:
        host, port = serve(read_office, stack).removeprefix("http://").split(":")
        for request in (
            b"Content-Length: 3\r\nContent-Length: 5\r\n\r\nabc",
            b"Content-Length: x\r\n\r\n",
        ):
            with socket.create_connection((host, int(port)), timeout=10) as line:
                line.sendall(b"GET /sign-in HTTP/1.1\r\nHost: localhost\r\n" + request)
                answered = line.recv(65_536)
            assert answered.startswith(b"HTTP/1.1 400")
