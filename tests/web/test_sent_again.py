"""A form that is pressed twice, or outlives its visit: nothing twice, nothing lost."""

import re
from concurrent.futures import ThreadPoolExecutor
from functools import partial

import pytest
from httpx2 import Response
from starlette.responses import RedirectResponse

from ledger.store.entries import head
from ledger.trade.role import Role
from ledger.web.office import Office
from ledger.web.once import Once
from tests.web.conftest import OpenPage, Visit, Visitor, visit_as

PATH = "/write-off-lot"
SPILT = {"on": "2026-10-01", "lot": "SU-03", "mass": "1.5", "reason": "spillage"}
HERE = {"origin": "http://localhost"}


def proof_in(page: str) -> str:
    """The proof of the form that a page shows."""
    found = re.findall(r'<main.*?name="proof" value="([^"]+)"', page, re.DOTALL)
    return str(found[0])


def send(visit: Visitor, proof: str, **typed: str) -> Response:
    return visit.post(
        PATH,
        data={"proof": proof, **SPILT, **typed},
        headers=HERE,
        follow_redirects=False,
    )


def recorded(office: Office) -> int:
    with office.rows() as rows:
        return head(rows)[0]


def test_a_form_that_is_pressed_twice_is_recorded_once(
    visitor: Visit, office: Office
) -> None:
    visit = visitor(Role.FLOOR)
    before = recorded(office)
    proof = proof_in(visit.get(PATH).text)

    with ThreadPoolExecutor(2) as both:
        first, second = both.map(lambda _: send(visit, proof), range(2))

    assert first.status_code == second.status_code == 303
    assert first.headers["set-cookie"] == second.headers["set-cookie"]
    assert recorded(office) == before + 1


@pytest.mark.parametrize("changed", [{"mass": "2.5"}, {}])
def test_what_is_changed_or_typed_in_a_new_form_is_recorded_too(
    visitor: Visit, office: Office, changed: dict[str, str]
) -> None:
    visit = visitor(Role.FLOOR)
    before = recorded(office)
    proof = proof_in(visit.get(PATH).text)
    send(visit, proof)

    send(visit, proof if changed else proof_in(visit.get(PATH).text), **changed)

    assert recorded(office) == before + 2


def test_a_form_that_was_refused_may_be_sent_again(
    visitor: Visit, office: Office
) -> None:
    visit = visitor(Role.FLOOR)
    before = recorded(office)
    proof = proof_in(visit.get(PATH).text)

    assert send(visit, proof, lot="SU-99").status_code == 409
    assert send(visit, proof, lot="SU-99").status_code == 409
    assert send(visit, proof).status_code == 303
    assert recorded(office) == before + 1


def test_only_the_last_forms_are_kept() -> None:
    once = Once(most=2)
    done: list[bytes] = []

    def answer(key: bytes) -> RedirectResponse:
        done.append(key)
        return RedirectResponse("/", status_code=303)

    for key in (b"1", b"2", b"3", b"3", b"1"):
        once.answer(key, partial(answer, key))

    assert done == [b"1", b"2", b"3", b"1"]


def test_what_was_typed_in_a_visit_that_ended_is_sent_in_the_next(
    office: Office,
) -> None:
    old = visit_as(office, Role.FLOOR)
    before = recorded(office)
    proof = proof_in(old.get(PATH).text)
    old.submit("/sign-out")

    ended = send(old, proof, note="<b>sack</b>")
    new = visit_as(office, Role.FLOOR)
    shown = send(new, proof, note="<b>sack</b>")

    for answer in (ended, shown):
        assert answer.status_code == 403
        assert 'name="mass" value="1.5"' in answer.text
        assert 'name="note" value="&lt;b&gt;sack' in answer.text
    assert "your visit has ended" in ended.text
    assert recorded(office) == before
    assert send(new, proof_in(shown.text)).status_code == 303
    assert recorded(office) == before + 1


@pytest.mark.parametrize(
    ("headers", "typed"),
    [
        ({}, {}),
        ({"origin": "https://else.example"}, {}),
        ({"sec-fetch-site": "cross-site", **HERE}, {}),
        (HERE, {"password": "a password of mine"}),
    ],
)
def test_nobody_else_and_no_password_is_shown_again(
    reader: Visit, headers: dict[str, str], typed: dict[str, str]
) -> None:
    for visit in (reader(None), reader(Role.FLOOR)):
        data = {"proof": "0" * 64, **SPILT, **typed}
        answer = visit.post(PATH, data=data, headers=headers)

        assert answer.status_code == 403
        assert "SU-03" not in answer.text
        assert "a password" not in answer.text


def test_a_browser_brings_a_form_over_the_end_of_its_visit(
    open_page: OpenPage, office: Office
) -> None:
    page = open_page(Role.FLOOR, PATH)
    for name in ("on", "lot", "mass"):
        page.fill(f'[name="{name}"]', SPILT[name])
    page.select_option('[name="reason"]', SPILT["reason"])
    before = recorded(office)
    held = page.context.cookies()
    page.context.clear_cookies()
    page.get_by_role("button", name="Record").click()
    page.get_by_role("heading", name="Nothing was recorded yet").wait_for()
    page.context.add_cookies(held)  # type: ignore[arg-type]

    page.get_by_role("button", name="Send what was typed").click()
    page.get_by_text("It is recorded in the name of").wait_for()
    page.get_by_role("button", name="Send what was typed").click()

    page.get_by_text("Recorded as entry").wait_for()
    assert recorded(office) == before + 1
