"""Links lead only to pages that their reader may open."""

import re
from html import unescape

import pytest

from ledger.trade.role import Role
from tests.web.conftest import Visit


@pytest.mark.parametrize(
    ("role", "path"),
    [
        (Role.BUYER, "/buying"),
        (Role.BUYER, "/contracts/K-05"),
        (Role.FLOOR, "/shipments/SH-13"),
        (Role.FLOOR, "/entries/671"),
        (Role.FLOOR, "/trace?of=shipment:SH-13"),
    ],
)
def test_a_page_leads_nobody_to_a_page_that_is_not_for_them(
    reader: Visit, role: Role, path: str
) -> None:
    visit = reader(role)
    page = visit.get(path)
    main = page.text.partition("<main")[2]
    links = {unescape(one) for one in re.findall(r'href="(/[^"]*)"', main)}

    assert page.status_code == 200
    assert len(links) > 1
    for link in links:
        assert visit.get(link).status_code != 403, link


def test_who_may_open_a_page_is_led_there(reader: Visit) -> None:
    page = reader(Role.COMPLIANCE).get("/contracts/K-05").text

    assert 'href="/statements/quirimayo"' in page
    assert 'href="/dues/K-05?as_of=' in page
    assert 'href="/contracts/K-12"' in reader(Role.BUYER).get("/shipments/SH-13").text
