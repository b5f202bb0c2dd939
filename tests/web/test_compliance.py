"""Could I pass an audit today: the answer changes with what is recorded."""

import re
from datetime import date
from html import unescape
from typing import Any

import pytest

from ledger import wiring
from ledger.books.effect import Book
from ledger.desk.checkpoint import sign_checkpoint
from ledger.desk.record import record
from ledger.trade.role import Role
from ledger.web.office import Office
from tests.web.conftest import OpenPage, Visit, Visitor, visit_as

DAY = "2026-09-30"
PAGE = f"/compliance?as_of={DAY}"
PAYMENT = {
    "payment": "P-900",
    "contract": "K-10",
    "payee": "quirimayo",
    "towards": "premium",
    "money": {"amount": "60.00", "currency": "USD"},
    "document": "bank 1",
    "shipment": "SH-11",
}
SUSPENSION = {
    "certificate": "pe-2024",
    "from_on": "2025-06-01",
    "reason": "records of members could not be shown",
}


def put(office: Office, kind: str, body: dict[str, Any], on: str = DAY) -> None:
    with office.writing("compliance-1") as writing:
        record(writing, kind, date.fromisoformat(on), body)


def answer(visit: Visitor) -> str:
    """What the page answers, before its cards."""
    page = unescape(visit.get(PAGE).text)
    told = re.search(r'<section class="answer.*?</section>', page, re.DOTALL)
    assert told is not None
    return re.sub(r"\s+", " ", re.sub("<[^>]+>", " ", told.group()))


def card(visit: Visitor, title: str) -> str:
    """What a card says, and where it leads."""
    page = unescape(visit.get(PAGE).text)
    found = re.search(
        rf'<section class="card">\s*<h2><a href="[^"]*">{title}.*?</section>',
        page,
        re.DOTALL,
    )
    assert found is not None
    return found.group()


@pytest.fixture
def officer(office: Office) -> Visitor:
    return visit_as(office, Role.COMPLIANCE)


def test_the_first_page_of_the_compliance_officer_is_the_answer(reader: Visit) -> None:
    opened = reader(Role.COMPLIANCE).get("/")

    assert opened.url.path == "/compliance"
    assert "<h1>Could I pass an audit today?</h1>" in opened.text


def test_it_is_no_while_a_grower_waits_for_money(reader: Visit) -> None:
    visit = reader(Role.COMPLIANCE)

    assert "No, because: Payments to growers that are overdue: 1." in answer(visit)
    due = card(visit, "Dues late or short")
    assert "stands against it" in due
    assert (
        '<a href="/dues/K-10?as_of=2026-09-30">K-10: 60.00 USD of premium to quirimayo'
        in due
    )


def test_it_is_yes_with_something_to_explain_once_that_is_paid(
    office: Office, officer: Visitor
) -> None:
    put(office, "payment.made", PAYMENT)

    told = answer(officer)
    assert "Yes, but be ready to explain:" in told
    assert "Dues that were paid late since 2025-10-01: 1." in told
    assert "to explain" in card(officer, "Dues late or short")


def test_the_day_an_account_runs_out_stands_on_its_card_and_the_assumption_below(
    reader: Visit,
) -> None:
    visit = reader(Role.COMPLIANCE)

    accounts = card(visit, "Accounts")
    assert "389.329 kg left, runs out on 2026-10-20" in accounts
    assert "if every day from now on drew what a day drew on average" in unescape(
        visit.get(PAGE).text
    )


def test_a_suspended_certificate_opens_a_breach_and_both_are_told(
    office: Office, officer: Visitor
) -> None:
    put(office, "certificate.suspended", SUSPENSION)

    told = answer(officer)
    assert "certified receipts cover: 1." in told
    assert "Certificate pe-2024 of quirimayo is suspended from 2025-06-01." in told
    assert "kg short since" in card(officer, "Open breaches")
    assert "Certificate pe-2024 of quirimayo: suspended" in card(
        officer, "Certificates"
    )
    page = unescape(officer.get(f"/breaches?as_of={DAY}").text)
    assert "Something is in breach." in page
    assert "To make it good, receive" in page
    assert 'href="/lots/' in page
    assert 'href="/sales/' in page


def test_a_lot_on_hold_is_told(office: Office, officer: Visitor) -> None:
    with office.books() as books:
        lot = next(
            one.key
            for one in books.shelf.tallies(Book.STOCK)
            if books.shelf.run(one).closing_g
        )
    put(office, "hold.placed", {"hold": "H-900", "lots": [lot], "reason": "smell"}, DAY)

    assert f"{lot}: " in card(officer, "Lots on hold")
    assert "held by H-900" in card(officer, "Lots on hold")


def test_the_checkpoint_tells_when_it_was_signed_and_what_came_since(
    office: Office, officer: Visitor
) -> None:
    assert "No checkpoint of the record is signed yet." in card(officer, "Checkpoint")
    with office.writing("demo") as writing:
        sign_checkpoint(
            writing,
            office.place.checkpoints_path,
            wiring.private_key(office.place.key_path),
            on=office.today(),
        )
    put(office, "payment.made", PAYMENT)

    assert "Signed over" in card(officer, "Checkpoint")
    told = answer(officer)
    assert "Entries recorded since the last signed checkpoint: 1." in told
    assert "No signed checkpoint was seen by a witness" in told


def test_it_is_for_the_compliance_officer_only(reader: Visit) -> None:
    for role in (Role.BUYER, Role.FLOOR, Role.CERTIFIER, Role.ADMINISTRATOR):
        assert reader(role).get("/compliance").status_code == 403
    assert reader(None).get("/compliance", follow_redirects=False).status_code == 303


def test_without_script_and_by_keyboard_the_answer_leads_to_the_arithmetic(
    open_page: OpenPage,
) -> None:
    """From the answer to the entry of a payment, with the keyboard alone."""
    page = open_page(Role.COMPLIANCE, PAGE, java_script_enabled=False)

    page.locator(".answer a").first.focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/dues?as_of=2026-09-30")
    page.get_by_role("link", name="K-10").first.focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/dues/K-10?**")
    page.get_by_role("link", name="Entry 524").first.focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/entries/524")
