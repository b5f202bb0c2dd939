"""Every page under axe-core, light and dark, wide and narrow: WCAG 2.2, levels A and AA.

axe finds what a program can find; the journeys with the keyboard alone find more.
"""

from collections.abc import Iterator
from typing import Final

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext

from ledger.trade.role import Role
from ledger.web.office import Office
from ledger.web.pages import PAGES
from ledger.web.visit import COOKIE
from tests.web.conftest import visit_as

RULES: Final = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"],
    "resultTypes": ["violations"],
}
LARGEST_BYTES: Final = 200_000
ACCOUNT: Final = "osierfold%2C%20cocoa%2C%20ropewalk%2C%20conventional"

SHOWN: Final[dict[Role | None, tuple[str, ...]]] = {
    None: ("/sign-in", "/check-pack"),
    Role.COMPLIANCE: (
        "/compliance",
        "/balance",
        f"/balance/{ACCOUNT}",
        f"/balance/{ACCOUNT}?why=yes",
        "/dues",
        "/dues/K-05",
        "/statements",
        "/statements/quirimayo",
        "/fees?quarter=2026Q2",
        "/volumes?quarter=2026Q2",
        "/breaches",
        "/yields",
        "/yields/roast",
        "/reconciliation",
        "/flow",
        "/trace?of=SA-0122",
        "/recall?of=PE-25-04&as_of=2026-09-30",
        "/entries",
        "/entries/494",
        "/correct/494",
        "/approve",
        "/periods",
        "/packs",
        "/checkpoints",
        "/samples",
        "/findings",
        "/release-hold",
    ),
    Role.BUYER: (
        "/buying",
        "/contracts/K-05",
        "/sign-contract",
        "/fix-price",
        "/record-quotes",
        "/record-rates",
        "/record-payment",
        "/record-advance",
        "/shipments",
        "/shipments/SH-06",
        "/record-receipt",
        "/record-dispatch",
        "/upload",
        "/papers",
        "/tokens",
        "/me",
        "/me/codes",
    ),
    Role.FLOOR: (
        "/floor",
        "/batches/new",
        "/batches/new/conche",
        "/batches",
        "/batches/B22-conche",
        "/stock",
        "/holds",
        "/move-lot",
        "/count-lot",
        "/write-off-lot",
        "/place-hold",
    ),
    Role.CERTIFIER: (
        "/certifier",
        "/balance",
        "/dues",
        "/samples?seed=3+1+4+1+5&count=5",
        "/samples/SA-0268",
        "/findings/new",
    ),
    Role.ADMINISTRATOR: ("/people", "/people/new", "/people/buyer-1", "/house-rules"),
}
"""Pages, each as somebody who may open it."""

NOT_SHOWN: Final = {
    "/": "leads on",
    "/batches/new/{step}": "one step stands for all",
    "/labels": "answers with a PDF",
    "/look": "tested as a part of packs",
    "/lots/{lot:path}": "leads on to the trace",
    "/packs/{ticket}": "is there while a pack is made",
    "/packs/{ticket}/file": "is a file",
    "/papers/{sha256}": "is a file",
    "/people/{name:path}/link": "shows the person",
    "/sales/{sale:path}": "leads on to the trace",
    "/approve/{number}": "is there once something is proposed",
    "/certifier/checkpoint": "is a file",
    "/checkpoints/{size}": "is a file",
    "/upload/empty/{sort}": "is a file",
    "/welcome/{secret}": "is there while a link holds",
}
"""Pages that are not walked here, and why."""


@pytest.fixture(scope="module")
def contexts(
    read_office: Office, read_address: str, browser: Browser
) -> Iterator[dict[Role | None, BrowserContext]]:
    opened = {}
    for role in SHOWN:
        context = browser.new_context(base_url=read_address, reduced_motion="reduce")
        if role is not None:
            secret = visit_as(read_office, role).secret or ""
            context.add_cookies(
                [{"name": COOKIE, "value": secret, "url": read_address}]
            )
        opened[role] = context
    yield opened
    for context in opened.values():
        context.close()


@pytest.mark.parametrize(
    ("role", "path"), [(role, path) for role, paths in SHOWN.items() for path in paths]
)
def test_no_page_shuts_anybody_out(
    contexts: dict[Role | None, BrowserContext], role: Role | None, path: str
) -> None:
    page = contexts[role].new_page()
    answer = page.goto(path)
    assert answer is not None
    assert answer.status == 200

    found = []
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        found += Axe().run(page, options=RULES).response["violations"]
    page.set_viewport_size({"width": 390, "height": 844})
    overflow = page.evaluate(
        "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )
    headings, size = page.locator("h1").count(), len(answer.body())
    page.close()

    assert [
        (one["id"], node["html"], node["failureSummary"])
        for one in found
        for node in one["nodes"]
    ] == []
    assert overflow <= 0, "the page is wider than a telephone"
    assert headings == 1
    assert size < LARGEST_BYTES


def test_every_page_is_walked() -> None:
    walked = {path.partition("?")[0] for paths in SHOWN.values() for path in paths}

    missed = {
        page.path
        for page in PAGES
        if page.method == "GET"
        and page.path not in NOT_SHOWN
        and not page.path.startswith("/batches/new/")
        and not any(_fits(page.path, path) for path in walked)
    }
    assert missed == set()


def _fits(pattern: str, path: str) -> bool:
    fixed, brace, _ = pattern.partition("{")
    return path.startswith(fixed) and path != fixed if brace else path == pattern
