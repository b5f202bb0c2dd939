"""Packs on the pages: foreseen, made, fetched and checked; profiles of one's own."""

import json
import re
import threading
from pathlib import Path
from zipfile import ZipFile

import pytest

from ledger import wiring
from ledger.desk.check import check_pack_at
from ledger.desk.pack import Packed, Wanted
from ledger.desk.people import admit
from ledger.desk.preview import preview
from ledger.desk.signing_in import begin_visit
from ledger.intake.profile_file import read_profile
from ledger.store.people import Window
from ledger.trade.role import Role
from ledger.web.office import Office
from ledger.web.visit import COOKIE, PROOF
from tests.web.conftest import PERSON_OF, OpenPage, Visit, Visitor, visit_as

PROFILES = Path(__file__).parents[2] / "docs" / "how-to" / "profiles"
OWN = {
    "profile_of": "own",
    "profile": "auditor-of-prices",
    "dated": "2026-10-01",
    "reader": "An auditor of prices",
    "prices": "all",
    "sale_values": "none",
    "papers": "none",
    "names-grower-cooperative": "all",
}


def row(page: str, what: str) -> list[str]:
    """Return the figures of one row of a table on a page."""
    found = re.search(rf"<tr><td>{re.escape(what)}</td>(.*?)</tr>", page, re.DOTALL)
    assert found, what
    return re.findall(r">([\d,]+)</td>", found[1])


def made(someone: Visitor, **fields: str | list[str]) -> str:
    """Ask for a pack and return where it is, once it is over."""
    address = someone.submit("/packs", **fields).headers["location"]
    pause = threading.Event()
    while "data-waits" in someone.get(address).text:
        pause.wait(0.05)
    return str(address)


def test_the_preview_says_what_the_pack_will_show(
    reader: Visit, read_office: Office
) -> None:
    someone = reader(Role.COMPLIANCE)
    with read_office.rows() as rows:
        expected = preview(rows, Wanted(read_office.today()))

    shown = someone.submit("/packs/preview", profile_of="usual").text

    assert "the whole ledger" in shown
    for count in (*expected.entries, *expected.values):
        figures = [f"{count.shown:,}", f"{count.hidden:,}"]
        assert row(shown, count.what) == figures
    assert "None since the server was started" in shown


def test_what_cannot_be_packed_is_told_where_the_pack_would_be(reader: Visit) -> None:
    someone = reader(Role.COMPLIANCE)

    address = made(someone, scheme="nobodys", profile_of="usual")

    assert (
        "scheme is nobodys, but no terms of it are recorded"
        in someone.get(address).text
    )
    answer = someone.get(f"{address}/file", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, address)


def test_a_part_that_is_none_keeps_what_was_typed(reader: Visit) -> None:
    someone = reader(Role.COMPLIANCE)

    for path in ("/packs", "/packs/preview"):
        refused = someone.submit(path, scheme="osierfold", sale="SA-0306", **OWN)
        assert refused.status_code == 422
        assert "leave out the scheme and the period" in refused.text
        assert 'value="SA-0306"' in refused.text
        assert 'value="An auditor of prices"' in refused.text
        assert '<option value="osierfold" selected>' in refused.text


def test_a_profile_of_ones_own_decides_what_is_seen(reader: Visit) -> None:
    someone = reader(Role.COMPLIANCE)

    hidden = someone.submit("/packs/preview", **{**OWN, "prices": "none"}).text
    shown = someone.submit("/packs/preview", **OWN).text

    assert row(hidden, "price of contract.signed") == ["0", "12"]
    assert row(shown, "price of contract.signed") == ["12", "0"]
    assert row(shown, "legal name of customer")[0] == "0"
    assert row(shown, "legal name of grower cooperative")[1] == "0"


def test_a_profile_without_a_reader_is_refused_beside_its_field(reader: Visit) -> None:
    refused = reader(Role.COMPLIANCE).submit("/packs/preview", **{**OWN, "reader": ""})

    assert refused.status_code == 422
    field = re.search(r'<input id="reader"[^>]*>', refused.text)
    assert field
    assert 'aria-invalid="true"' in field[0]


@pytest.mark.parametrize("file", sorted(PROFILES.iterdir()), ids=lambda path: path.name)
def test_a_profile_is_read_from_a_file_and_kept_as_one(
    reader: Visit, file: Path
) -> None:
    someone = reader(Role.COMPLIANCE)
    sale = {"sale": "SA-0306"} if "sale" in file.name else {}

    read = someone.post(
        "/packs/preview",
        data={PROOF: someone.proof, **sale},
        files={"file": (file.name, file.read_bytes())},
    )
    kept = someone.post(
        "/packs/profile",
        data={PROOF: someone.proof},
        files={"file": (file.name, file.read_bytes())},
    )

    given = read_profile(file.name, file.read_bytes())
    assert f'value="{given.reader}"' in read.text
    assert given.reader in read.text
    assert read_profile("kept", kept.content) == given


def test_what_is_typed_of_a_profile_is_what_a_file_of_it_says(reader: Visit) -> None:
    kept = reader(Role.COMPLIANCE).submit(
        "/packs/profile",
        **{**OWN, "prices": "under the schemes"},
        schemes=["osierfold"],
        addresses=["payee", "supplier"],
    )

    profile = read_profile("kept", kept.content)
    assert profile.schemes == ("osierfold",)
    assert [role.value for role in profile.addresses] == ["payee", "supplier"]
    assert [(one.role.value, one.show) for one in profile.names] == [
        ("grower cooperative", "all")
    ]


def test_a_file_that_is_no_profile_is_said(reader: Visit) -> None:
    someone = reader(Role.COMPLIANCE)

    refused = someone.post(
        "/packs/preview",
        data={PROOF: someone.proof},
        files={"file": ("x.yaml", b"profile: x\n")},
    )

    assert refused.status_code == 422
    assert "x.yaml" in refused.text


def test_a_pack_is_for_whoever_asked(office: Office) -> None:
    order = office.packs.order(
        "ticket",
        by=PERSON_OF[Role.COMPLIANCE],
        about="the whole ledger",
        asked_at=office.now(),
        make=lambda out: Packed(out, 1, 1, bytes(32), 1, (), 0),
    )
    order.path.write_bytes(b"PK")
    own, other = visit_as(office, Role.COMPLIANCE), another(office)

    assert own.get("/packs/ticket/file").content == b"PK"
    assert "/packs/ticket" in own.get("/packs").text
    assert "/packs/ticket" not in other.get("/packs").text
    for address in ("/packs/ticket", "/packs/ticket/file"):
        assert other.get(address).status_code == 404


def another(office: Office) -> Visitor:
    """Return a visit of a second compliance officer."""
    with office.writing("demo") as writing:
        admit(
            writing,
            "compliance-2",
            shown="Another",
            roles=[Role.COMPLIANCE],
            window=Window(),
            new_secret=wiring.new_secret,
        )
        secret = begin_visit(writing, "compliance-2", new_secret=wiring.new_secret)
    other = visit_as(office, None)
    other.cookies.set(COOKIE, secret)
    return other


def test_a_pack_is_foreseen_made_fetched_and_holds(
    open_page: OpenPage, tmp_path: Path
) -> None:
    page = open_page(Role.COMPLIANCE, "/packs")
    page.get_by_label("Or one sale").fill("SA-0306")
    page.get_by_role("button", name="What will its reader see?").click()
    assert page.locator("#foreseen h2").text_content() == "What its reader will see"
    page.get_by_role("button", name="Make this pack").click()
    with page.expect_download() as download:
        page.get_by_role("link", name="Download the pack").click()
    pack = tmp_path / "pack.zip"
    download.value.save_as(pack)

    assert check_pack_at(pack).holds
    with ZipFile(pack) as files:
        scope = json.loads(files.read("audit-pack/data/figures/scope.json"))
    assert scope["portion"] == {"sale": "SA-0306"}
    assert scope["made_by"] == PERSON_OF[Role.COMPLIANCE]
