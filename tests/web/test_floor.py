"""The maker's floor on pages: batches, lots, holds; scanned, foreseen, recorded."""

import re
from html import unescape

import pytest
from playwright.sync_api import expect

from ledger.trade.role import Role
from tests.web.conftest import OpenPage, Visit, Visitor

ON = "2026-10-01"
ROAST = {
    "on": ON,
    "batch": "B34-roast",
    "equipment": "drum-roaster",
    "inputs.0.lot": "http://127.0.0.1:8080/lots/DO-26-01",
    "inputs.0.mass": "100",
    "outputs.0.lot": "RB-34",
    "outputs.0.form": "roasted bean",
    "outputs.0.mass": "96.5",
    "losses.0.reason": "moisture",
    "losses.0.mass": "3.5",
    "losses.1.reason": "foreign matter",
    "record.hours": "1.5",
    "record.operator": "operator-1",
    "record.temperatures.0.point": "drop",
    "record.temperatures.0.value": "250 F",
    "record.temperatures.1.point": "peak",
}


def values(page: str) -> dict[str, str]:
    """What stands in the fields of a form that is shown."""
    found = re.findall(r'<input id="[^"]+" name="([^"]+)"[^>]* value="([^"]*)"', page)
    chosen = [
        (select[1], option[1])
        for select in re.finditer(
            r'<select id="[^"]+" name="([^"]+)".*?</select>', page, re.DOTALL
        )
        if (option := re.search(r'<option value="([^"]*)" selected>', select[0]))
    ]
    return {name: unescape(value) for name, value in (*found, *chosen) if value}


def last(visit: Visitor) -> dict[str, str]:
    row: dict[str, str] = visit.get("/batches?as=json").json()[0]
    return row


def test_the_floor_is_the_first_page_of_who_works_there(reader: Visit) -> None:
    visit = reader(Role.FLOOR)

    page = visit.get("/").text

    assert "<h1>Floor</h1>" in page
    assert 'href="/batches/new"' in page
    assert "Tank T1" in page
    assert 'href="/batches/B33-wrap-a"' in page


def test_every_step_has_a_sheet_filled_in_as_far_as_habit_goes(reader: Visit) -> None:
    visit = reader(Role.FLOOR)
    steps = re.findall(r'href="(/batches/new/[a-z]+)"', visit.get("/batches/new").text)

    sheets = {step: values(visit.get(f"{step}?on={ON}").text) for step in steps}

    assert len(steps) == 14
    assert (
        sheets["/batches/new/temper"].items()
        >= {
            "batch": "temper-261001",
            "outputs.0.form": "bar",
            "record.temperatures.0.point": "entry",
            "record.temperatures.1.point": "exit",
            "record.operator": "floor-1",
        }.items()
    )
    assert sheets["/batches/new/press"]["outputs.1.form"] == "cake"


def test_a_batch_is_foreseen_and_recorded_with_its_process_record(
    visitor: Visit,
) -> None:
    visit, path = visitor(Role.FLOOR), "/batches/new/roast"

    told = visit.submit(f"{path}/preview", **ROAST).text
    assert "Lot DO-26-01 goes from 118.000 kg to 18.000 kg." in told
    assert "Lot RB-34 is on hand with 96.500 kg." in told
    assert re.search(r"<dt>Yield</dt><dd>96.5000 %</dd>", told)
    assert "Not accounted for" not in told
    assert last(visit)["batch"] == "B33-wrap-a"
    done = visit.submit(path, **ROAST)

    assert done.headers["location"] == "/batches/B34-roast"
    page = visit.get("/batches/B34-roast").text
    assert "typed: 250 F" in page
    assert "121.1" in page
    assert "peak" not in page
    assert "foreign matter" not in page
    assert last(visit).items() >= {"batch": "B34-roast", "step": "roast"}.items()


def test_what_does_not_add_up_says_how_much_before_it_is_refused(
    visitor: Visit,
) -> None:
    visit, path = visitor(Role.FLOOR), "/batches/new/roast"
    short = {**ROAST, "outputs.0.mass": "90"}

    told = visit.submit(f"{path}/preview", **short).text
    refused = visit.submit(path, **short)

    assert "<dt>Not accounted for</dt><dd>6.500 kg</dd>" in told
    assert "It would be refused" in told
    assert refused.status_code == 422
    assert "declare the loss of 6.500 kg" in refused.text
    assert values(refused.text)["outputs.0.mass"] == "90"


def test_one_more_row_keeps_everything_and_records_nothing(visitor: Visit) -> None:
    visit, path = visitor(Role.FLOOR), "/batches/new/roast"

    two = {**ROAST, "inputs.1.lot": "DO-26-02", "inputs.1.mass": "2"}

    page = visit.submit(path, more="inputs", **two)

    assert page.status_code == 200
    assert re.search(r'name="inputs.2.lot"[^>]* autofocus', page.text)
    assert (
        values(page.text).items()
        >= {
            "inputs.0.mass": "100",
            "record.temperatures.0.value": "250 F",
        }.items()
    )
    assert last(visit)["batch"] == "B33-wrap-a"


def test_quantities_are_filled_in_by_the_recipe(reader: Visit) -> None:
    visit, path = reader(Role.FLOOR), "/batches/new/conche"

    page = visit.get(f"{path}?recipe=M45&wanted=50&on=2026-09-30").text
    found = values(page)

    assert (found["inputs.0.lot"], found["outputs.0.recipe"]) == ("BU-03", "M45")
    assert found["outputs.0.mass"] == "50.000"
    masses = [float(found[f"inputs.{n}.mass"]) for n in range(3)]
    # 50 kg at the yield of the two batches before, 0.995032; the liquor is used up.
    assert sum(masses) == pytest.approx(50 / 0.9950322 * 0.7, abs=0.002)
    assert "15.075" in page
    assert visit.get(f"{path}?recipe=M45&wanted=lots").status_code == 422
    assert visit.get(f"{path}?recipe=M45&wanted=0").status_code == 422
    assert visit.get(f"{path}?recipe=X99&wanted=5").status_code == 409


def test_a_tank_batch_is_drawn_with_what_came_into_the_tank(reader: Visit) -> None:
    page = reader(Role.BUYER).get("/batches/B33-tank").text

    assert "<title>Tank T1</title>" in page
    assert "DO-26-02, 60.8 %" in page


def test_a_batch_leads_on_to_labels_and_to_the_next_batch(reader: Visit) -> None:
    visit = reader(Role.FLOOR)

    page = visit.get("/batches/B33-conche").text
    steps = visit.get("/batches/new?inputs.0.lot=CH-33").text
    sheet = visit.get("/batches/new/tank?inputs.0.lot=CH-33").text

    assert 'href="/labels?lots=CH-33"' in page
    assert 'href="/batches/new?inputs.0.lot=CH-33"' in page
    assert 'href="/batches/new/tank?inputs.0.lot=CH-33"' in steps
    assert values(sheet)["inputs.0.lot"] == "CH-33"
    assert "/labels" not in reader(Role.CERTIFIER).get("/batches/B33-conche").text


def test_stock_lies_by_form_and_place(reader: Visit) -> None:
    visit = reader(Role.FLOOR)

    by_place = visit.get("/stock?as_of=2026-09-30&as=json").json()
    by_lot = visit.get("/stock?as_of=2026-09-30&as=json&table=1").json()

    assert {
        "form": "bar",
        "place": "rework-shelf",
        "mass_kg": "9.800",
        "lots": "1",
    } in (by_place)
    grams = [
        sum(round(float(row["mass_kg"]) * 1000) for row in rows)
        for rows in (by_place, by_lot)
    ]
    assert grams[0] == grams[1] > 0


def test_a_lot_is_moved_counted_and_written_off(visitor: Visit) -> None:
    visit = visitor(Role.FLOOR)

    moved = visit.submit("/move-lot", on=ON, lot="C66-30", to_place="attic")
    counted = visit.submit(
        "/count-lot", on=ON, lot="C66-30", found="44.000", counted_by="floor-1"
    )
    gone = visit.submit(
        "/write-off-lot",
        on=ON,
        lot="C66-30",
        mass="1",
        reason="waste",
        note="a block broke",
    )

    assert [moved.status_code, counted.status_code, gone.status_code] == [303] * 3
    lots = visit.get("/stock?as=json&table=1").json()
    [row] = [row for row in lots if row["lot"] == "C66-30"]
    assert (row["place"], row["mass_kg"]) == ("attic", "44.000")


def test_a_count_that_differs_is_told_before_it_is_saved(visitor: Visit) -> None:
    told = visitor(Role.FLOOR).submit(
        "/count-lot/preview", on=ON, lot="C66-30", found="40", counted_by="floor-1"
    )

    assert "<dt>By the book</dt><dd>45.000 kg</dd>" in told.text
    assert "but the book says 45.000" in told.text


def test_a_hold_is_shown_everywhere_and_stops_what_is_recorded(visitor: Visit) -> None:
    visit = visitor(Role.FLOOR)
    placed = visit.submit(
        "/place-hold",
        on=ON,
        hold="H-02",
        reason="smell of smoke",
        **{"lots.0": "DO-26-01", "lots.2": "(10)T1-33"},
    )
    assert placed.status_code == 303

    for path in ("/floor", "/holds"):
        page = visit.get(path).text
        assert "smell of smoke" in page
        assert 'href="/lots/T1-33"' in page
    assert "ON HOLD: H-02" in visit.get("/floor").text
    assert "ON HOLD: H-02 · bean" in visit.get("/batches/new/roast").text
    refused = visit.submit("/batches/new/roast", **ROAST)
    assert refused.status_code == 409
    assert "may not move" in refused.text
    assert "release the hold" in refused.text
    moved = visit.submit("/move-lot", on=ON, lot="T1-33", to_place="T2")
    assert moved.status_code == 409


def test_only_the_compliance_officer_releases(visitor: Visit) -> None:
    floor, officer = visitor(Role.FLOOR), visitor(Role.COMPLIANCE)
    floor.submit(
        "/place-hold", on=ON, hold="H-02", reason="smoke", **{"lots.0": "DO-26-01"}
    )
    release = {"on": ON, "hold": "H-02", "reason": "screened; quality lead"}

    assert "/release-hold" not in floor.get("/holds").text
    assert floor.submit("/release-hold", **release).status_code == 403
    assert "/release-hold?hold=H-02" in officer.get("/holds").text
    assert officer.submit("/release-hold", **release).status_code == 303
    assert "Nothing is on hold" in floor.get("/holds").text
    assert floor.submit("/batches/new/roast", **ROAST).status_code == 303


@pytest.mark.parametrize("role", [Role.BUYER, Role.CERTIFIER, Role.ADMINISTRATOR])
def test_others_log_nothing_on_the_floor(reader: Visit, role: Role) -> None:
    visit = reader(role)

    for path in ("/batches/new/roast", "/move-lot", "/count-lot", "/place-hold"):
        assert visit.get(path).status_code == 403
        assert visit.submit(path, **ROAST).status_code == 403


def test_a_batch_that_is_not_recorded_is_not_found(reader: Visit) -> None:
    page = reader(Role.FLOOR).get("/batches/none")

    assert page.status_code == 404
    assert "choose one from the list" in page.text


def test_lots_are_scanned_into_a_batch_on_a_phone(open_page: OpenPage) -> None:
    page = open_page(
        Role.FLOOR, "/batches/new/tank", viewport={"width": 390, "height": 844}
    )
    page.locator("#inputs\\.0\\.lot").focus()
    for lot in ("T1-33", "T2-32", "T3-28", "T4-31", "http://mill.example/lots/RW-28a"):
        page.keyboard.type(lot)
        page.keyboard.press("Enter")

    expect(page.locator("#inputs\\.4\\.lot")).to_have_value(
        "http://mill.example/lots/RW-28a"
    )
    expect(page.locator("#inputs\\.5\\.lot")).to_be_focused()
    told = page.locator("[data-foresight]")
    expect(told.get_by_text("RW-28a", exact=True)).to_be_visible()
    expect(told).to_contain_text("Goes in")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_a_scanner_works_without_a_script(open_page: OpenPage) -> None:
    page = open_page(Role.FLOOR, "/batches/new/roast", java_script_enabled=False)
    page.locator("#inputs\\.0\\.lot").fill("DO-26-01")
    page.locator("#inputs\\.0\\.lot").press("Enter")

    expect(page.locator("#inputs\\.0\\.lot")).to_have_value("DO-26-01")
    expect(page.locator("#inputs\\.1\\.lot")).to_be_focused()
    for name, value in ROAST.items():
        if not name.startswith(("losses.0.reason", "outputs.0.form", "on")):
            field = page.locator(f'[name="{name}"]')
            if field.evaluate("one => one.tagName") == "SELECT":
                field.select_option(value)
            else:
                field.fill(value)
    page.locator('[name="on"]').fill(ON)
    page.get_by_role("button", name="What would it do?").click()
    expect(page.get_by_text("Lot RB-34 is on hand with 96.500 kg.")).to_be_visible()
    page.get_by_role("button", name="Record", exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Batch B34-roast")
