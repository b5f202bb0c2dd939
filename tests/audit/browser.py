"""A real browser, with the page of packs open as a certifier opens it: from a file."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

import pytest
from playwright.sync_api import Browser, sync_playwright

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
