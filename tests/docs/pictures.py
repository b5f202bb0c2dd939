"""The pictures of the docs, taken from the pages of the invented scenario.

Run `make pictures` (`python -m tests.docs.pictures`) to take them again. Days on them are
those of the scenario, so that they change only where a page does.
"""

from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

from playwright.sync_api import Browser, Page, ViewportSize

from ledger.trade.role import Role
from ledger.web.office import Office
from ledger.web.visit import COOKIE
from tests.audit.browser import chromium
from tests.journeys.conftest import SCENARIO, run_command
from tests.web.conftest import open_copy, serve, visit_as
from tests.web.test_buying import RECEIPT

ROOT: Final = Path(__file__).parents[2]
FOLDER: Final = ROOT / "docs" / "pictures"
WIDE: Final = ViewportSize(width=1200, height=900)
PHONE: Final = ViewportSize(width=390, height=780)


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture to take.

    Attributes:
        name: Name of its file.
        role: Who opens the page.
        path: The page.
        size: Size of the window.
        is_dark: Whether the reader likes it dark.
    """

    name: str
    role: Role
    path: str
    size: ViewportSize
    is_dark: bool = False


PICTURES: Final = (
    Picture("audit-today", Role.COMPLIANCE, "/compliance?as_of=2026-09-30", WIDE),
    Picture("shipment", Role.BUYER, "/record-receipt", WIDE),
    Picture("trace", Role.COMPLIANCE, "/trace?of=SA-0122&until=2026-09-30", WIDE),
    Picture("floor", Role.FLOOR, "/floor", PHONE),
    Picture("account", Role.COMPLIANCE, "/balance/{account}", PHONE, is_dark=True),
)
ACCOUNT: Final = (
    "osierfold%2C%20cocoa%2C%20ropewalk%2C%20organic?since=2025-10-01&as_of=2026-09-30"
)


def take(picture: Picture, office: Office, address: str, browser: Browser) -> None:
    """Open the page and keep what it looks like."""
    context = browser.new_context(
        base_url=address,
        viewport=picture.size,
        locale="en-GB",
        color_scheme="dark" if picture.is_dark else "light",
        reduced_motion="reduce",
    )
    secret = visit_as(office, picture.role).secret or ""
    context.add_cookies([{"name": COOKIE, "value": secret, "url": address}])
    page = context.new_page()
    page.goto(picture.path.format(account=ACCOUNT))
    if picture.name == "shipment":
        _fill_in(page)
    page.screenshot(path=FOLDER / f"{picture.name}.png")
    context.close()


def _fill_in(page: Page) -> None:
    for name, value in RECEIPT.items():
        field = page.locator(f"[name='{name}']")
        if field.evaluate("field => field.tagName") == "SELECT":
            field.select_option(value)
        else:
            field.fill(value)
    told = page.locator("[data-foresight]")
    told.get_by_text("It would be recorded").wait_for()
    page.locator("h1").click()
    told.locator("xpath=self::*[not(@aria-busy='true')]").wait_for()
    page.wait_for_timeout(1_000)
    page.evaluate("scrollTo(0, 0)")


def main() -> None:
    """Take every picture."""
    FOLDER.mkdir(exist_ok=True)
    with TemporaryDirectory() as kept, ExitStack() as stack:
        recorded, copied = Path(kept) / "recorded", Path(kept) / "copied"
        recorded.mkdir()
        copied.mkdir()
        ledger = recorded / "ledger.db"
        run_command(("record", SCENARIO, "--ledger", ledger, "--by", "demo", "--quiet"))
        office = open_copy(ledger, copied, stack)
        address = serve(office, stack)
        browser = stack.enter_context(chromium())
        for picture in PICTURES:
            take(picture, office, address, browser)


if __name__ == "__main__":
    main()
