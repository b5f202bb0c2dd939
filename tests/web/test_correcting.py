"""Correcting on pages: told first, then recorded; void, replaced, as text; by two."""

import re

import pytest
from playwright.sync_api import expect

from ledger import wiring
from ledger.books.opening import open_entry, parse_body
from ledger.chain.entry import parse_entry
from ledger.desk.approving import ask_for_two
from ledger.desk.people import admit
from ledger.desk.signing_in import begin_visit
from ledger.reports.entry_body import steps_of
from ledger.store.entries import disclosures_of, stream_raws
from ledger.store.people import set_password
from ledger.trade.record import body_of
from ledger.trade.role import Role
from ledger.web.app import make_app
from ledger.web.body_form import Part, figures_of, form_of, is_figure
from ledger.web.office import Office
from ledger.web.typed_body import body_of_fields, with_units
from ledger.web.visit import COOKIE
from tests.web.conftest import OpenPage, Visit, Visitor, visit_as

COUNTED = 757
"""A count of the scenario, on which nothing rests."""
RIGHT = {
    "reason": "the scale was read wrong",
    "on": "2026-10-01",
    "replacement.occurred_on": "2026-09-30",
    "replacement.body.lot": "D70-33a",
    "replacement.body.found": "490 lb",
    "replacement.body.counted_by": "officer-1",
    "replacement.body.place": "cold-store",
}


def filled(parts: tuple[Part, ...]) -> list[tuple[str, str]]:
    found = []
    for part in parts:
        found += filled(part.parts) if part.parts else [(part.path, part.value)]
    return found


def seen_in(page: str) -> str:
    found = re.search(r'name="seen" value="([0-9a-f]{64})"', page)
    return found[1] if found else ""


def corrections(visit: Visitor) -> str:
    return visit.get("/entries?kind=correction").text


def looked_at(visit: Visitor, path: str, **fields: str) -> dict[str, str]:
    """Ask what a correction would do, and return the form as it would be sent again."""
    page = visit.submit(path, do="foresee", **fields)
    assert page.status_code == 200, page.text
    return {**fields, "seen": seen_in(page.text), "do": "record"}


def test_every_entry_of_the_scenario_survives_its_own_form(read_office: Office) -> None:
    with read_office.rows() as rows:
        for raw in stream_raws(rows):
            entry = parse_entry(raw)
            texts = disclosures_of(rows, [entry.seq]).get(entry.seq, ())
            record = open_entry(entry, texts, converted_before=True).record
            if entry.kind != "correction":
                fields = filled(form_of(entry.kind, body_of(record), within="b."))
                typed = with_units(
                    body_of_fields(fields, within="b."), figures=figures_of(entry.kind)
                )
                assert isinstance(typed, dict)
                assert parse_body(entry.kind, typed) == record


def test_rows_that_are_left_empty_close_up() -> None:
    fields = [
        ("inputs.0.lot", " "),
        ("inputs.1.lot", "A"),
        ("inputs.1.mass", "3 lb"),
        ("inputs.7.lot", "B"),
        ("inputs.7.mass", "4"),
        ("inputs.70000000.lot", "C"),
        ("other", "kept"),
    ]

    assert with_units(body_of_fields(fields), figures=frozenset({"mass_kg"})) == {
        "inputs": [{"lot": "A", "mass": "3 lb"}, {"lot": "B", "mass_kg": "4"}],
        "other": "kept",
    }


def test_a_replacement_is_told_field_by_field_and_then_recorded(
    visitor: Visit,
) -> None:
    visit, path = visitor(Role.COMPLIANCE), f"/correct/{COUNTED}"

    told = visit.submit(path, do="foresee", **RIGHT)
    assert '<th scope="row">Found</th><td>222.880</td><td>490 lb</td>' in told.text
    before = corrections(visit)
    done = visit.submit(path, **(looked_at(visit, path, **RIGHT)))

    assert done.status_code == 303
    assert corrections(visit) != before
    corrected = visit.get(done.headers["location"]).text
    assert f"stands in the place of entry {COUNTED}" in corrected
    assert "222.260" in corrected
    assert "typed: 490 lb" in corrected


def test_what_was_changed_after_the_look_is_looked_at_again(visitor: Visit) -> None:
    visit, path = visitor(Role.COMPLIANCE), f"/correct/{COUNTED}"
    fields = looked_at(visit, path, **RIGHT)

    again = visit.submit(path, **{**fields, "replacement.body.found": "480 lb"})

    assert again.status_code == 409
    assert "look again" in again.text
    assert seen_in(again.text) not in {"", fields["seen"]}
    assert visit.submit(path, do="record", **RIGHT).status_code == 409


def test_an_entry_is_made_void(visitor: Visit) -> None:
    visit, path = visitor(Role.COMPLIANCE), f"/correct/{COUNTED}?mode=void"
    fields = looked_at(visit, path, reason="counted twice", on="2026-10-01")

    done = visit.submit(path, **fields)

    assert f"made entry {COUNTED} void" in visit.get(done.headers["location"]).text
    again = visit.get(path)
    assert again.status_code == 409
    assert "does not count any more" in again.text


def test_the_replacement_may_be_typed_as_text(visitor: Visit) -> None:
    visit, path = visitor(Role.COMPLIANCE), f"/correct/{COUNTED}?mode=yaml"
    typed = {
        "reason": "the scale was read wrong",
        "on": "2026-10-01",
        "replacement.occurred_on": "2026-09-30",
    }
    text = "lot: D70-33a\nfound_kg: 222.5\ncounted_by: officer-1\n"

    bad = visit.submit(path, do="foresee", text="lot: [", **typed)
    done = visit.submit(path, **looked_at(visit, path, text=text, **typed))

    assert bad.status_code == 422
    assert "cannot be read as YAML" in bad.text
    assert "lot: [" in bad.text
    assert "222.500" in visit.get(done.headers["location"]).text


def test_a_wrong_field_is_marked_and_everything_typed_stays(visitor: Visit) -> None:
    visit, path = visitor(Role.COMPLIANCE), f"/correct/{COUNTED}"

    page = visit.submit(
        path, do="foresee", **{**RIGHT, "replacement.body.found": "5 apples"}
    )

    assert page.status_code == 422
    assert 'id="replacement.body.found" name="replacement.body.found"' in page.text
    assert re.search(r'value="5 apples"[^>]*aria-invalid="true"', page.text)
    assert RIGHT["reason"] in page.text


def test_a_correction_that_breaks_a_later_entry_is_refused_before_it_is_made(
    visitor: Visit,
) -> None:
    page = visitor(Role.COMPLIANCE).submit(
        "/correct/733?mode=void", do="foresee", reason="not made", on="2026-10-01"
    )

    assert "It would be refused" in page.text
    assert seen_in(page.text) == ""


@pytest.mark.parametrize("seq", [421, 422])
def test_what_stays_as_it_is_says_so(reader: Visit, seq: int) -> None:
    page = reader(Role.COMPLIANCE).get(f"/correct/{seq}")

    assert page.status_code == 409
    assert "stays as it is" in page.text


def second_officer(office: Office) -> Visitor:
    """Let a second compliance officer in, and ask for two from now on."""
    with office.writing("demo") as writing:
        admit(
            writing,
            "compliance-2",
            shown="Second officer",
            roles={Role.COMPLIANCE},
            new_secret=wiring.new_secret,
        )
        for name in ("compliance-1", "compliance-2"):
            set_password(writing.rows, name, "a digest")
        ask_for_two(writing, two=True)
        secret = begin_visit(writing, "compliance-2", new_secret=wiring.new_secret)
    visit = Visitor(make_app(office), base_url="http://localhost")
    visit.secret = secret
    visit.cookies.set(COOKIE, secret)
    return visit


def test_two_persons_propose_and_approve(office: Office) -> None:
    second, first = second_officer(office), visit_as(office, Role.COMPLIANCE)
    path = f"/correct/{COUNTED}"

    proposed = first.submit(path, **looked_at(first, path, **RIGHT))
    assert proposed.headers["location"] == "/approve/1"
    own = first.get("/approve/1").text
    assert "Approve and record it" not in own
    mine = first.submit("/approve/1", do="approve", seen=seen_in(own))
    assert mine.status_code == 409
    assert "cannot approve it as well" in mine.text

    other = second.get("/approve/1").text
    assert RIGHT["reason"] in other
    done = second.submit("/approve/1", do="approve", seen=seen_in(other))

    entry = second.get(done.headers["location"]).text
    assert "compliance-1" in entry
    assert "compliance-2" in entry
    assert "Nothing waits" in second.get("/approve").text


def test_a_proposal_is_declined_or_taken_back(office: Office) -> None:
    second, first = second_officer(office), visit_as(office, Role.COMPLIANCE)
    path = f"/correct/{COUNTED}"

    for who in (second, first):
        first.submit(path, **looked_at(first, path, **RIGHT))
        seen = seen_in(who.get("/approve/1").text)
        assert who.submit("/approve/1", do="decline", seen=seen).status_code == 303
        assert "Nothing waits" in first.get("/approve").text
        assert who.get("/approve/1").status_code == 404


def test_the_rule_is_the_administrators(office: Office) -> None:
    admin = visit_as(office, Role.ADMINISTRATOR)

    alone = admin.submit("/house-rules", two="yes")
    second_officer(office)
    kept = admin.submit("/house-rules", two="yes")

    assert alone.status_code == 409
    assert "let another one in first" in alone.text
    assert kept.status_code == 303
    assert "checked" in admin.get("/house-rules").text
    assert visit_as(office, Role.COMPLIANCE).get("/house-rules").status_code == 403


def test_a_correction_in_a_browser_without_a_script(open_page: OpenPage) -> None:
    page = open_page(Role.COMPLIANCE, f"/entries/{COUNTED}", java_script_enabled=False)
    page.get_by_role("link", name="Correct this entry").click()
    page.get_by_label("What is wrong").fill("the scale was read wrong")
    page.get_by_label("Found", exact=True).fill("222.9")
    page.get_by_role("button", name="See what it changes").click()
    expect(page.get_by_role("row", name="found 222.880 222.9")).to_be_visible()
    page.get_by_role("button", name="Record the correction").click()
    expect(page.get_by_role("status")).to_have_text(f"Entry {COUNTED} is corrected.")


def test_what_differs_is_told_in_words_and_figures_of_the_reader(
    reader: Visit,
) -> None:
    visit, path = reader(Role.COMPLIANCE), f"/correct/{COUNTED}"
    data = {"proof": visit.proof, "do": "foresee", **RIGHT}
    spanish = visit.post(path, data=data, headers={"accept-language": "es-ES"}).text

    assert "<td>222,880</td><td>490 lb</td>" in spanish
    assert steps_of("lots.0.net_landed") == ("Lots", "1", "Net landed")
    assert is_figure("lots.0.net_landed")
    assert is_figure("money.amount")
    assert not is_figure("document")
