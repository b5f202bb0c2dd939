"""The page that packs enclose, as a person uses it: choose, wait, read, look further."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from ledger.audit.enclosed import enclosed
from ledger.audit.layout import PAGE
from tests.audit.browser import chromium
from tests.audit.forging import bag_again, edited

_NOTE_PROGRESS = """
window.told = [];
addEventListener("DOMContentLoaded", () => {
  const told = document.getElementById("progress-text");
  const note = new MutationObserver(() => window.told.push(told.textContent));
  note.observe(told, { childList: true });
});
"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as opened:
        yield opened


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("page") / PAGE
    path.write_bytes(enclosed()[PAGE])
    return path


def opened(browser: Browser, file: Path, *, width: int = 1280) -> Page:
    page = browser.new_page(viewport={"width": width, "height": 900})
    page.add_init_script(_NOTE_PROGRESS)
    page.goto(file.as_uri())
    return page


def choose(page: Page, field: str, pack: Path) -> str:
    """Choose a pack, and return the verdict."""
    page.set_input_files(field, pack)
    page.wait_for_selector("body[data-state=done]")
    return page.inner_text("#verdict")


def test_a_zip_is_checked_and_looked_into(
    browser: Browser, file: Path, small_zip: Path
) -> None:
    page = opened(browser, file)

    assert choose(page, "#zip", small_zip) == "All that was checked holds."
    assert page.evaluate("window.told")[0] == "Opening the pack, 0 %"
    assert not page.is_visible("#progress")
    assert page.locator("#proved li").count() > 2
    assert page.locator("#figures table").count() == 4
    page.fill("#trace-name", "S-0")
    page.press("#trace-name", "Enter")
    assert "What was bought for 10.000 kg of lot L-2" in page.inner_text("#trace")
    assert "100.0000 %" in page.inner_text("#trace")
    page.fill("#entry-number", "10")
    page.press("#entry-number", "Enter")
    assert "contract.signed" in page.inner_text("#entry .chosen")
    page.close()


def test_a_folder_that_was_changed_is_told_where(
    browser: Browser, file: Path, pack: Path
) -> None:
    edited(pack, "data/figures/stock.csv", lambda raw: raw.replace(b"330", b"331"))
    bag_again(pack)
    page = opened(browser, file)

    assert choose(page, "#folder", pack) == "Does not hold: stock."
    assert "331.000" in page.inner_text("#problems")
    page.close()


def test_what_is_no_pack_is_said_in_a_sentence(
    browser: Browser, file: Path, tmp_path: Path
) -> None:
    (tmp_path / "not.zip").write_bytes(b"not a zip")
    page = opened(browser, file)
    page.set_input_files("#zip", tmp_path / "not.zip")
    page.wait_for_selector("body[data-state=done]")

    assert page.inner_text("#trouble").startswith("The pack cannot be read: ")
    assert not page.is_visible("#verdict")
    page.close()


def test_on_a_telephone_nothing_runs_over_the_edge(
    browser: Browser, file: Path, small_zip: Path
) -> None:
    page = opened(browser, file, width=390)
    choose(page, "#zip", small_zip)

    assert page.evaluate("document.documentElement.scrollWidth") == 390
    page.close()
