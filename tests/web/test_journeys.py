"""Each person's main job in a browser, from signing in to the result, on the scenario.

What the pages look like on the way is kept under build/screenshots.
"""

from contextlib import suppress
from pathlib import Path
from typing import Final

import pytest
from playwright.sync_api import Browser, Error, Page, ViewportSize, expect

from ledger.desk.people import choose_password
from ledger.trade.role import Role
from ledger.web.office import Office
from tests.web.conftest import PERSON_OF
from tests.web.test_buying import RECEIPT

PASSWORD: Final = "seven brass anvils humming"
PICTURES: Final = Path(__file__).parents[2] / "build" / "screenshots"
LONGEST_MS: Final = 120_000
PHONE: Final = ViewportSize(width=390, height=844)


@pytest.fixture
def welcomed(office: Office) -> Office:
    """The scenario's ledger; everybody has chosen a password."""
    with office.writing("demo") as writing:
        for name in PERSON_OF.values():
            choose_password(writing, name, PASSWORD)
    return office


def sign_in(page: Page, role: Role) -> None:
    page.goto("/")
    page.get_by_label("Name").fill(PERSON_OF[role])
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(lambda url: "/sign-in" not in url)


def keep(page: Page, name: str) -> None:
    PICTURES.mkdir(parents=True, exist_ok=True)
    # A busy machine may refuse the picture of a long page: no verdict rests on it.
    for full_page in (True, False):
        with suppress(Error):
            page.screenshot(path=PICTURES / f"{name}.png", full_page=full_page)
            return


def menu(page: Page, name: str) -> None:
    page.get_by_role("navigation").get_by_role("link", name=name, exact=True).click()


@pytest.mark.usefixtures("welcomed")
def test_the_buyer_logs_a_shipment(address: str, browser: Browser) -> None:
    page = browser.new_page(base_url=address)
    sign_in(page, Role.BUYER)
    keep(page, "buyer-contracts")

    page.get_by_role("link", name="Log a shipment received").click()
    for name, value in RECEIPT.items():
        field = page.locator(f"[name='{name}']")
        if name in {"contract", "lots.0.decision"}:
            field.select_option(value)
        else:
            field.fill(value)
    told = page.locator("[data-foresight]")
    told.get_by_text("is on hand with 619.698 kg").wait_for()
    keep(page, "buyer-shipment")
    page.get_by_role("button", name="Record").click()

    expect(page.get_by_role("status")).to_contain_text("Recorded as entry")
    assert page.url.endswith("/shipments/SH-20")
    keep(page, "buyer-recorded")
    page.context.close()


@pytest.mark.usefixtures("welcomed")
def test_the_compliance_officer_answers_an_auditor(
    address: str, browser: Browser, tmp_path: Path
) -> None:
    page = browser.new_page(base_url=address)
    sign_in(page, Role.COMPLIANCE)
    expect(page.get_by_role("heading", level=1)).to_contain_text("audit")
    keep(page, "officer-today")

    menu(page, "Mass balance")
    page.get_by_role("link", name="osierfold, cocoa, ropewalk, organic").first.click()
    keep(page, "officer-account")
    menu(page, "Trace")
    page.locator("[name='of']").fill("SA-0122")
    page.get_by_role("button", name="Trace").click()
    expect(page.get_by_text("PE-25-02").first).to_be_visible()
    keep(page, "officer-trace")
    pack = make_pack(page, tmp_path / "pack.zip")

    menu(page, "Check a pack")
    page.locator("input[type=file]").set_input_files(pack)
    page.get_by_role("button", name="Check").click()
    proved = page.get_by_role("heading", name="Proved")
    expect(proved).to_be_visible(timeout=LONGEST_MS)
    keep(page, "officer-checked")
    page.context.close()


def make_pack(page: Page, path: Path) -> Path:
    menu(page, "Packs")
    page.get_by_role("button", name="What will its reader see?").click()
    keep(page, "officer-preview")
    page.get_by_role("button", name="Make this pack").click()
    ready = page.get_by_role("link", name="Download the pack")
    ready.wait_for(timeout=LONGEST_MS)
    with page.expect_download() as downloaded:
        ready.click()
    downloaded.value.save_as(path)
    return path


@pytest.mark.usefixtures("welcomed")
def test_the_certifier_samples_on_a_phone(address: str, browser: Browser) -> None:
    page = browser.new_page(base_url=address, viewport=PHONE)
    sign_in(page, Role.CERTIFIER)
    keep(page, "certifier-desk")

    page.get_by_text("Pages", exact=True).click()
    menu(page, "Samples")
    page.get_by_label("Seed").fill("3 1 4 1 5")
    page.get_by_role("button", name="Draw").click()
    sale = page.locator("td a[href^='/samples/']").first
    sale.wait_for()
    keep(page, "certifier-samples")
    sale.click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("SA-")
    keep(page, "certifier-trail")
    page.context.close()
