"""A real browser, with the page of packs open as a certifier opens it: from a file."""

import base64
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from ledger.audit.enclosed import enclosed
from ledger.audit.layout import PAGE
from tests.audit.forging import files_of

CHROMIUM: Final = Path("/usr/bin/chromium")
_QUIET: Final = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@contextmanager
def chromium() -> Iterator[Browser]:
    """Start Chromium; without it the test is skipped, but fails where CI says so."""
    if not CHROMIUM.exists():
        wanted = f"there is no {CHROMIUM}; install it (on Debian: apt install chromium)"
        if os.getenv("CI") == "true":
            pytest.fail(wanted)
        pytest.skip(wanted)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=CHROMIUM, args=list(_QUIET)
        )
        try:
            yield browser
        finally:
            browser.close()


_CHECK = """async (given) => look.check(Object.fromEntries(Object.entries(given).map(
  ([name, text]) => [name, new Blob([Uint8Array.from(atob(text), (c) => c.charCodeAt(0))])]
)))"""


def looked_at(page: Page, pack: Path) -> dict[str, Any]:
    """Return what the page of a pack, when it is open, finds in a folder of one."""
    files = {
        name: base64.b64encode((pack / name).read_bytes()).decode()
        for name in files_of(pack)
    }
    found: dict[str, Any] = page.evaluate(_CHECK, files)
    return found


def looked_at_each(folder: Path, *packs: Path) -> list[dict[str, Any]]:
    """Return what the page, opened from a file in a folder, finds in each pack."""
    file = folder / PAGE
    file.write_bytes(enclosed()[PAGE])
    with chromium() as browser:
        page = browser.new_page()
        page.goto(file.as_uri())
        return [looked_at(page, pack) for pack in packs]
