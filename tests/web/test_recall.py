"""Recalls on the pages: the list, who sees contacts, the hold in one step, its release."""

import csv
import io
import re
from datetime import date

import pytest

from ledger.desk.record import record
from ledger.trade.role import Role
from ledger.web.office import Office
from tests.web.conftest import Visit, Visitor, visit_as

CONTACT = {"person": "Ottoline Brack", "phone": "+44 20 0000 0000"}
LOT = "DO-26-01"


def not_on_hold(someone: Visitor, of: str = LOT) -> set[str]:
    """Return the lots on hand that may move, as the list for programs says it."""
    rows = someone.get(f"/recall?of={of}&as=json&table=0").json()
    return {row["lot"] for row in rows if row["hold"] == "none"}


def test_the_page_defers_to_the_authority_before_anything_else(reader: Visit) -> None:
    someone = reader(Role.COMPLIANCE)

    for path in ("/recall", f"/recall?of={LOT}"):
        shown = someone.get(path).text
        law = shown.index("tell the competent food authority at once")
        assert law < shown.index('<form class="bar"')


def test_the_list_says_where_it_is_and_how_much_was_found_again(reader: Visit) -> None:
    shown = reader(Role.FLOOR).get(f"/recall?of={LOT}").text

    assert "Found again" in shown
    assert "100.00 %" in shown
    for lot in not_on_hold(reader(Role.FLOOR)):
        assert lot in shown
    assert "bean-store" in shown
    assert "cust-01" in shown


def with_contact(office: Office) -> None:
    """Record a customer with a contact, and a sale of the lot to it."""
    with office.writing("demo") as writing:
        record(
            writing,
            "party.registered",
            date(2026, 10, 1),
            {
                "party": "cust-99",
                "roles": ["customer"],
                "country": "GB",
                "legal_name": "Brack & Daughter",
                "contacts": [CONTACT],
            },
        )
        record(
            writing,
            "sale.dispatched",
            date(2026, 10, 2),
            {
                "sale": "SA-9001",
                "document": "INV-9001",
                "customer": "cust-99",
                "lines": [{"lot": LOT, "mass_kg": "5"}],
            },
        )


@pytest.mark.parametrize(
    ("role", "sees"),
    [(Role.COMPLIANCE, True), (Role.BUYER, False), (Role.FLOOR, False)],
)
def test_only_the_compliance_officer_sees_names_and_contacts(
    office: Office, role: Role, *, sees: bool
) -> None:
    with_contact(office)
    someone = visit_as(office, role)

    shapes = ("", "&as=csv&table=1", "&as=json&table=1")
    for text in (someone.get(f"/recall?of={LOT}{shape}").text for shape in shapes):
        assert "cust-99" in text
        assert (CONTACT["phone"] in text) == sees
        assert ("& Daughter" in text or "&amp; Daughter" in text) == sees


def test_the_list_of_calls_opens_in_a_spreadsheet(reader: Visit) -> None:
    answer = reader(Role.COMPLIANCE).get(f"/recall?of={LOT}&as=csv&table=1")

    rows = list(csv.DictReader(io.StringIO(answer.text)))
    assert {"customer", "phone", "lot", "with_customer_kg"} <= set(rows[0])
    assert {row["customer"] for row in rows} >= {"cust-01", "cust-13"}


def test_all_of_it_is_a_pdf(reader: Visit) -> None:
    answer = reader(Role.COMPLIANCE).get(f"/recall?of={LOT}&as=pdf")

    assert answer.headers["content-type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF-")


def test_one_hold_is_placed_on_all_that_is_on_hand_and_released(
    visitor: Visit,
) -> None:
    someone = visitor(Role.COMPLIANCE)
    free = not_on_hold(someone)
    assert len(free) > 1

    placed = someone.submit("/recall/hold", of=LOT, hold="RC-1", reason="metal")
    assert placed.headers["location"] == f"/recall?of={LOT}"
    held = someone.get(f"/recall?of={LOT}").text
    assert f"Hold RC-1 is placed. Lots that may not move: {len(free)}." in held
    assert not not_on_hold(someone)
    assert 'action="/recall/hold"' not in held

    released = someone.submit(
        "/recall/release", of=LOT, hold="RC-1", reason="the laboratory found nothing"
    )
    assert released.status_code == 303
    assert not_on_hold(someone) == free


def test_a_hold_without_a_reason_is_refused_and_nothing_typed_is_lost(
    visitor: Visit,
) -> None:
    someone = visitor(Role.FLOOR)

    refused = someone.submit("/recall/hold", of=LOT, hold="RC-7", reason="")

    assert refused.status_code == 422
    assert re.search(r'name="hold"[^>]*value="RC-7"', refused.text)
    assert "reason" in refused.text
    assert f"/recall?of={LOT}&amp;as=csv" in refused.text
    assert not_on_hold(someone)


def test_a_name_that_a_hold_had_before_is_refused(visitor: Visit) -> None:
    someone = visitor(Role.FLOOR)
    someone.submit("/recall/hold", of=LOT, hold="RC-1", reason="metal")

    again = someone.submit("/recall/hold", of=LOT, hold="RC-1", reason="metal")

    assert again.status_code == 409
    assert "RC-1" in again.text


def test_the_floor_may_lock_away_but_not_release(visitor: Visit) -> None:
    someone = visitor(Role.FLOOR)
    someone.submit("/recall/hold", of=LOT, hold="RC-1", reason="metal")

    assert "Release it" not in someone.get(f"/recall?of={LOT}").text
    answer = someone.submit("/recall/release", of=LOT, hold="RC-1", reason="fine")
    assert answer.status_code == 403
    assert not not_on_hold(someone)


def test_what_is_not_recorded_is_asked_for_again(reader: Visit) -> None:
    answer = reader(Role.COMPLIANCE).get("/recall?of=nothing-like-it")

    assert answer.status_code == 404
    assert "is no lot, batch, sale, shipment" in answer.text
