"""What is recorded, typed or asked stays text, wherever it comes out again."""

import re
from collections.abc import Iterator
from contextlib import ExitStack
from html import unescape
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from ledger.trade.role import Role
from ledger.web.office import Office
from ledger.web.visit import COOKIE
from tests.web.conftest import Visit, serve
from tests.web.crawl import crawl
from tests.web.hostile import EVIL, FORMULA, hostile_office, visit_hostile


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    with hostile_office(tmp_path_factory.mktemp("hostile"), EVIL) as office:
        yield office


def test_the_ledger_is_hostile_indeed(hostile: Office) -> None:
    with hostile.rows() as rows:
        raws = [bytes(raw) for (raw,) in rows("SELECT raw FROM entry")]
        texts = [text for (text,) in rows("SELECT text FROM disclosure")]

    assert sum(b"onerror" in raw for raw in raws) >= 12
    assert texts


@pytest.mark.parametrize("role", Role)
def test_no_text_becomes_a_part_of_a_page(hostile: Office, role: Role) -> None:
    """OWASP Cross Site Scripting Prevention Cheat Sheet; template injection: OWASP Web
    Security Testing Guide, 4.7.18."""
    seen = 0
    for address, answer in crawl(visit_hostile(hostile, role), per_route=2):
        assert answer.status_code < 500, address
        if "html" in answer.headers["content-type"] and address != "/look":
            assert "<img src=x" not in answer.text, address
            assert "<script>alert" not in answer.text, address
            assert "49${" not in unescape(answer.text), address
            seen += "onerror=alert(1)" in unescape(answer.text)
    assert seen


def test_no_browser_runs_what_is_recorded(hostile: Office, browser: Browser) -> None:
    """The pages in Chromium: no dialog opens, and nothing breaks the policy."""
    secret = visit_hostile(hostile, Role.COMPLIANCE).secret or ""
    told: list[str] = []
    with ExitStack() as stack:
        address = serve(hostile, stack)
        context = stack.enter_context(browser.new_context(base_url=address))
        context.add_cookies([{"name": COOKIE, "value": secret, "url": address}])
        page = context.new_page()
        page.on("dialog", lambda one: told.append(one.message))
        page.on("console", lambda one: told.append(one.text))
        page.on("pageerror", lambda one: told.append(str(one)))
        for path in (
            "/compliance",
            "/entries",
            "/entries/1",
            "/entries/3",
            "/trace?of=sale:S-0",
            "/dues",
            "/papers",
            "/findings",
            "/samples?seed=1",
            "/samples/S-0",
            "/shipments",
            "/upload",
            "/recall?of=sale:S-0",
        ):
            page.goto(path)
            assert page.title(), path
    assert told == []


ASKED = (
    "/trace?of=",
    "/recall?of=",
    "/samples?seed=",
    "/samples?rule=",
    "/entries?kind=",
    "/entries?by=",
    "/balance?as_of=",
    "/balance?recorded_by=",
    "/balance?as=",
    "/sign-in?then=",
    "/balance/",
    "/contracts/",
    "/statements/",
    "/papers/",
    "/entries/",
    "/samples/",
)


@pytest.mark.parametrize("path", ASKED)
def test_names_in_addresses_and_questions_stay_text(reader: Visit, path: str) -> None:
    """OWASP SQL Injection Prevention Cheat Sheet; reflected scripts, as above."""
    officer = reader(Role.COMPLIANCE)
    at, _, name = path.partition("?")
    for word in ("' OR '1'='1", "x'; DROP TABLE entry; --", EVIL, "\0", "{{7*7}}"):
        answer = (
            officer.get(at, params={name.rstrip("="): word})
            if name
            else officer.get(at + re.sub("[^a-z]", _escaped, word))
        )
        assert answer.status_code < 500, word
        assert "<img src=x" not in answer.text
        assert "<script>alert" not in answer.text
        assert ">49<" not in answer.text


def _escaped(found: re.Match[str]) -> str:
    return "".join(f"%{byte:02X}" for byte in found.group().encode())


def test_no_download_holds_a_formula(tmp_path: Path) -> None:
    """OWASP, "CSV Injection"; ASVS 5.0, 1.2.10. Workbooks: `test_xlsx`."""
    with hostile_office(tmp_path, FORMULA) as office:
        sheets = [
            answer.text
            for _, answer in crawl(visit_hostile(office, Role.COMPLIANCE), per_route=2)
            if "csv" in answer.headers["content-type"]
        ]
    assert len(sheets) >= 3
    assert any("'=HYPERLINK" in sheet for sheet in sheets)
    for sheet in sheets:
        assert not re.search(r'(^|[,"\n])=HYPERLINK', sheet)
