"""Getting in: the one-time link, name and password, and what keeps others out."""

from ledger import wiring
from ledger.desk.people import first_administrator
from ledger.desk.signing_in import FREE_FAILURES
from ledger.trade.role import Role
from ledger.web.office import Office
from ledger.web.visit import COOKIE
from tests.web.conftest import Visit, visit_as

PASSWORD = "seven brass anvils humming"


def link_for(office: Office) -> str:
    with office.writing("demo") as writing:
        (made,) = first_administrator(writing, new_secret=wiring.new_secret)
    return f"/welcome/{made.secret}"


def test_a_one_time_link_works_once(office: Office) -> None:
    link, first, second = (
        link_for(office),
        visit_as(office, None),
        visit_as(office, None),
    )

    assert first.get(link).status_code == 200
    chosen = first.submit(link, password=PASSWORD, again=PASSWORD)
    again = second.submit(link, password=PASSWORD, again=PASSWORD)

    assert (chosen.status_code, again.status_code) == (303, 404)
    assert first.get("/people").status_code == 200
    assert second.get(link).status_code == 404


def test_name_and_password_begin_a_visit_and_signing_out_ends_it(
    office: Office,
) -> None:
    visit_as(office, None).submit(link_for(office), password=PASSWORD, again=PASSWORD)
    someone = visit_as(office, None)

    begun = someone.submit(
        "/sign-in", name="administrator", password=PASSWORD, then="/people"
    )
    assert (begun.status_code, begun.headers["location"]) == (303, "/people")
    cookie = begun.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=lax" in cookie
    someone.secret = someone.cookies[COOKIE]
    assert someone.get("/people").status_code == 200
    someone.submit("/sign-out")
    someone.cookies.set(COOKIE, someone.secret)
    assert someone.get("/people", follow_redirects=False).status_code == 303


def test_a_foreign_address_is_never_gone_on_to(office: Office) -> None:
    visit_as(office, None).submit(link_for(office), password=PASSWORD, again=PASSWORD)

    for then in ("https://else.example/", "//else.example", "/\\else.example", ""):
        begun = visit_as(office, None).submit(
            "/sign-in", name="administrator", password=PASSWORD, then=then
        )
        assert begun.headers["location"] == "/"


def test_who_fails_often_must_wait_even_with_the_right_password(office: Office) -> None:
    visit_as(office, None).submit(link_for(office), password=PASSWORD, again=PASSWORD)
    someone = visit_as(office, None)

    for _ in range(FREE_FAILURES):
        failed = someone.submit("/sign-in", name="administrator", password="guess")
        assert failed.status_code == 401
        assert "do not match" in failed.text
    blocked = someone.submit("/sign-in", name="administrator", password=PASSWORD)

    assert blocked.status_code == 401
    assert "too many attempts" in blocked.text


def test_unknown_names_and_wrong_passwords_are_answered_alike(office: Office) -> None:
    visit_as(office, None).submit(link_for(office), password=PASSWORD, again=PASSWORD)
    someone = visit_as(office, None)

    known = someone.submit("/sign-in", name="administrator", password="guess")
    unknown = someone.submit("/sign-in", name="administratos", password="guess")

    assert known.text.replace("administrator", "N") == unknown.text.replace(
        "administratos", "N"
    )


def test_a_form_without_the_proof_of_its_visit_is_refused(visitor: Visit) -> None:
    someone = visitor(Role.ADMINISTRATOR)

    for fields in ({}, {"proof": "0" * 64}):
        refused = someone.post("/people/new", data={"name": "x-1", **fields})
        assert refused.status_code == 403
        assert "did not come from a page of your present visit" in refused.text
    assert someone.get("/people/x-1").status_code == 404


def test_a_form_that_the_browser_says_is_foreign_is_refused(visitor: Visit) -> None:
    someone = visitor(Role.ADMINISTRATOR)

    refused = someone.post(
        "/people/new",
        data={"proof": someone.proof, "name": "x-1", "shown": "X", "roles": "buyer"},
        headers={"sec-fetch-site": "cross-site"},
    )

    assert refused.status_code == 403
    assert someone.get("/people/x-1").status_code == 404
