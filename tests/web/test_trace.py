"""Tracing on the pages: what is shown, where boxes lead, and a walk by keyboard alone."""

import re
from collections.abc import Iterator
from urllib.parse import parse_qs, urlsplit

import pytest
from playwright.sync_api import Page

from ledger.trade.role import Role
from tests.web.conftest import OpenPage, Visit

LONGEST_PAGE = 200 * 1024


def test_a_sale_is_traced_back_to_growers(reader: Visit) -> None:
    shown = reader(Role.COMPLIANCE).get("/trace?of=SA-0306").text

    assert "Trace of sale SA-0306" in shown
    assert "Purchases it came from" in shown
    for box in ("D70-33a", "vatulani", "cust-01"):
        assert box in shown
    assert "/trace?of=lot%3AD70-33a&amp;way=back" in shown


def test_a_shipment_is_traced_forward_and_so_is_its_bill_of_lading(
    reader: Visit,
) -> None:
    someone = reader(Role.FLOOR)

    # A form has a number of its own each time that it is shown.
    by_name, by_bill = (
        re.sub('name="proof" value="[^"]*"', "", someone.get(f"/trace?of={of}").text)
        for of in ("SH-04", "HIR0125-0061")
    )

    assert "Where it went" in by_name
    assert by_bill.replace("HIR0125-0061&amp;", "SH-04&amp;") == by_name


def test_who_sees_a_part_is_told_that_stock_may_have_gone_elsewhere(
    reader: Visit,
) -> None:
    whole = reader(Role.COMPLIANCE).get("/trace?of=D70-33a&way=forward").text
    part = reader(Role.CERTIFIER).get("/trace?of=D70-33a&way=forward").text

    assert "You see a part of the record" in part
    assert "On hand" not in part
    assert "You see a part of the record" not in whole
    assert "On hand" in whole


def test_a_drawing_speaks_the_language_of_its_reader(reader: Visit) -> None:
    shown = reader(Role.BUYER).get(
        "/trace?of=SA-0306", headers={"accept-language": "es"}
    )

    drawing = shown.text[shown.text.index("<svg") : shown.text.index("</svg>")]
    assert ">envolver</text>" in drawing
    assert ">wrap</text>" not in drawing


def test_the_table_is_there_for_other_programs(reader: Visit) -> None:
    rows = reader(Role.BUYER).get("/trace?of=SA-0306&as=json").json()

    assert sum(float(row["share_percent"]) for row in rows) == pytest.approx(
        100, abs=0.01
    )


@pytest.mark.parametrize("shipment", ["SH-01", "SH-02", "SH-04"])
def test_the_longest_traces_are_pages_of_less_than_200_kib(
    reader: Visit, shipment: str
) -> None:
    someone = reader(Role.COMPLIANCE)

    for rest in ("", "&from_row=50", "&way=back", "&in_full=yes"):
        answer = someone.get(f"/trace?of={shipment}{rest}")
        assert answer.status_code == 200
        assert len(answer.content) < LONGEST_PAGE


@pytest.mark.parametrize(
    ("path", "of"),
    [("/lots/D70-33a", "lot:D70-33a"), ("/sales/SA-0306", "sale:SA-0306")],
)
def test_lots_and_sales_lead_to_their_trace(reader: Visit, path: str, of: str) -> None:
    answer = reader(Role.CERTIFIER).get(path, follow_redirects=False)

    assert answer.status_code == 303
    assert parse_qs(urlsplit(answer.headers["location"]).query) == {"of": [of]}


def test_an_unknown_name_is_asked_for_again(reader: Visit) -> None:
    answer = reader(Role.COMPLIANCE).get("/trace?of=<b>nothing</b>")

    assert answer.status_code == 404
    assert "is no lot, batch, sale, shipment" in answer.text
    assert 'value="&lt;b&gt;nothing&lt;/b&gt;"' in answer.text
    assert "<b>nothing" not in answer.text
    assert "SA-0313" in answer.text


def test_a_way_that_is_none_is_refused(reader: Visit) -> None:
    answer = reader(Role.COMPLIANCE).get("/trace?of=SA-0306&way=up")

    assert answer.status_code == 422
    assert "use back or forward" in answer.text


def test_a_share_is_explained_line_by_line(reader: Visit) -> None:
    shown = reader(Role.COMPLIANCE).get("/trace?of=SA-0306&why=SB-25-01").text

    assert "How the share of lot SB-25-01 in sale SA-0306 was reached" in shown
    assert re.search(r"\[T1-33\] \* [\d.]+ / [\d.]+", shown)


def name_here(page: Page) -> str:
    """Return what the box that has the focus is called."""
    text = "document.activeElement.querySelector('text')?.textContent ?? ''"
    return str(page.evaluate(text))


def column_here(page: Page) -> int:
    return int(page.evaluate("document.activeElement.dataset.column"))


def press(page: Page, *keys: str) -> str:
    for key in keys:
        page.keyboard.press(key)
    return name_here(page)


def tab_to_drawing(page: Page) -> None:
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.closest('svg') !== null"):
            return
    pytest.fail("the drawing cannot be reached by Tab")


def all_boxes(page: Page) -> list[str]:
    return page.locator("svg a text:first-of-type").all_text_contents()


def walked_down(page: Page) -> Iterator[str]:
    """Walk from the very first box down to the last, by keys alone."""
    press(page, *["ArrowUp"] * 40)
    here = ""
    while (below := name_here(page)) != here:
        here = below
        yield here
        press(page, "ArrowDown")


def walked_to_growers(page: Page) -> Iterator[int]:
    """Walk against the mass as far as it goes, and say the columns that are come to."""
    column = column_here(page) + 1
    while column_here(page) < column:
        column = column_here(page)
        yield column
        press(page, "ArrowLeft")


def test_a_trace_is_walked_with_the_keyboard_alone(open_page: OpenPage) -> None:
    page = open_page(Role.COMPLIANCE, "/trace?of=SA-0001")
    tab_to_drawing(page)
    start = name_here(page)
    assert page.locator(".stop.here h3").text_content() == start

    columns = list(walked_to_growers(page))
    assert columns == list(reversed(range(columns[0] + 1)))
    supplier = name_here(page)
    press(page, "ArrowRight")
    assert press(page, "ArrowLeft") == supplier
    assert set(walked_down(page)) == set(all_boxes(page))
    assert press(page, "Home") == start
    before = press(page, "ArrowLeft")
    assert page.locator(".stop.here h3").text_content() == before
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.closest('.stop').id") == (
        page.locator(".stop.here").get_attribute("id")
    )
    page.keyboard.press("Shift+Tab")
    assert name_here(page) == before
    page.keyboard.press("Enter")
    page.wait_for_url(
        lambda url: parse_qs(urlsplit(url).query)["of"] == [f"lot:{before}"]
    )
    assert page.locator("h1").text_content() == f"Trace of lot {before}"


def test_without_a_script_every_box_is_a_plain_link(open_page: OpenPage) -> None:
    page = open_page(Role.COMPLIANCE, "/trace?of=SA-0001", java_script_enabled=False)

    assert page.locator(".stop").count() == page.locator("svg a").count()
    page.locator("svg a").last.click()
    assert urlsplit(page.url).fragment.startswith("stop-")
    page.locator("svg a[href*='/trace']").last.click()

    assert "Trace of lot" in (page.locator("h1").text_content() or "")
