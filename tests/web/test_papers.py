"""Papers on pages: attached, listed, handed out as files to keep, never as pages."""

from hashlib import sha256
from pathlib import Path

import pytest
from httpx2 import Response

from ledger.store.entries import head
from ledger.trade.role import Role
from ledger.web.office import Office
from tests.web.conftest import OpenPage, Visit, Visitor, visit_as
from tests.web.test_buying import words

NOTE = b"%PDF-1.7 invented weight note"
DIGEST = sha256(NOTE).hexdigest()


@pytest.fixture
def buyer(office: Office) -> Visitor:
    return visit_as(office, Role.BUYER)


def send(
    visitor: Visitor,
    *raws: bytes,
    filename: str = "note.pdf",
    **fields: str | list[str],
) -> Response:
    typed = {
        "proof": visitor.proof,
        "title": "weight note",
        "subject": "shipment",
        "name": "SH-13",
        **fields,
    }
    return visitor.post(
        "/papers",
        data=typed,
        files=[("papers", (filename, raw)) for raw in raws],
        follow_redirects=False,
    )


def size(office: Office) -> int:
    with office.rows() as rows:
        return head(rows)[0]


def kept(office: Office) -> list[str]:
    folder = office.papers
    return sorted(one.name for one in folder.iterdir()) if folder.exists() else []


def test_a_paper_is_attached_listed_and_handed_out_as_a_file(
    buyer: Visitor, office: Office
) -> None:
    sent = send(buyer, NOTE, filename="../../evil.html")

    assert sent.status_code == 303
    assert kept(office) == [DIGEST]
    assert f'href="/papers/{DIGEST}"' in buyer.get("/papers").text
    assert "weight note" in words(buyer.get("/shipments/SH-13").text)
    handed = buyer.get(f"/papers/{DIGEST}")
    assert handed.content == NOTE
    assert handed.headers["content-type"] == "application/pdf"
    assert handed.headers["content-disposition"].startswith(
        f'attachment; filename="paper-{DIGEST[:16]}.pdf"'
    )
    assert handed.headers["x-content-type-options"] == "nosniff"
    assert handed.headers["content-security-policy"].startswith("sandbox;")


def test_several_files_are_attached_all_or_none(buyer: Visitor, office: Office) -> None:
    before = size(office)

    refused = send(buyer, NOTE, b"<html><script>alert(1)</script></html>")

    assert refused.status_code == 422
    assert "by its bytes the file is none of" in refused.text
    assert 'value="SH-13"' in refused.text
    assert (kept(office), size(office)) == ([], before)
    sent = send(
        buyer,
        NOTE,
        b"plain words",
        subject=["shipment", "contract"],
        name=["SH-13", "K-12"],
    )
    assert sent.status_code == 303
    assert (len(kept(office)), size(office)) == (2, before + 2)
    assert "weight note" in words(buyer.get("/contracts/K-12").text)


@pytest.mark.parametrize(
    ("fields", "status", "sentence"),
    [
        ({"name": "SH-99"}, 409, "shipment SH-99, which is not recorded"),
        ({"name": ""}, 422, "it is not said what the papers belong to"),
        ({"title": ""}, 422, "title"),
        ({"subject": "weather"}, 422, "is not one of its words"),
    ],
)
def test_a_paper_that_belongs_to_nothing_is_refused(
    buyer: Visitor, office: Office, fields: dict[str, str], status: int, sentence: str
) -> None:
    typed = {"subject": "shipment", "name": "SH-13", "title": "note", **fields}
    refused = buyer.post(
        "/papers",
        data={"proof": buyer.proof, **typed},
        files=[("papers", ("note.pdf", NOTE))],
        follow_redirects=False,
    )

    assert refused.status_code == status
    assert sentence in refused.text
    assert kept(office) == []


def test_nothing_but_recorded_papers_is_handed_out(
    buyer: Visitor, office: Office
) -> None:
    folder = office.papers
    folder.mkdir()
    (folder / ("0" * 64)).write_bytes(b"not recorded")

    for name in ("0" * 64, "..%2Fledger.db.key", "../ledger.db.key", "x"):
        assert buyer.get(f"/papers/{name}").status_code == 404


def test_a_paper_that_was_changed_is_not_handed_out(
    buyer: Visitor, office: Office
) -> None:
    send(buyer, NOTE)
    Path(office.papers, DIGEST).write_bytes(b"%PDF-1.7 something else")

    answer = buyer.get(f"/papers/{DIGEST}")

    assert answer.status_code == 409
    assert "was changed after it was attached" in answer.text


def test_a_paper_too_large_is_refused(buyer: Visitor, office: Office) -> None:
    refused = send(buyer, NOTE.ljust(20 * 2**20 + 1))

    assert refused.status_code == 422
    assert "at most 20971520 are kept" in refused.text
    assert kept(office) == []


def test_who_may_attach_and_who_may_only_read(office: Office, buyer: Visitor) -> None:
    send(buyer, NOTE)
    certifier = visit_as(office, Role.CERTIFIER)

    assert certifier.get(f"/papers/{DIGEST}").content == NOTE
    assert "Attach papers" not in certifier.get("/papers").text
    assert send(certifier, NOTE).status_code == 403
    assert (
        visit_as(office, None)
        .get(f"/papers/{DIGEST}", follow_redirects=False)
        .status_code
        == 303
    )
    assert visit_as(office, Role.ADMINISTRATOR).get("/papers").status_code == 403


def test_a_file_is_dropped_on_the_field(open_page: OpenPage) -> None:
    page = open_page(Role.BUYER, "/papers?subject=shipment&name=SH-13")
    dropped = page.evaluate_handle(
        """() => {
          const both = new DataTransfer();
          both.items.add(new File(["%PDF-1.7 dropped"], "note.pdf"));
          return both;
        }"""
    )
    page.dispatch_event("[data-drop]", "drop", {"dataTransfer": dropped})
    page.get_by_text("note.pdf, 1 KiB").wait_for()
    page.get_by_label("What they are").fill("weight note")
    page.get_by_role("button", name="Attach", exact=True).click()

    assert "Papers attached: 1." in page.inner_text("main")


def test_a_script_in_a_title_never_runs(buyer: Visitor, reader: Visit) -> None:
    send(buyer, NOTE, title="<script>alert(1)</script>")

    assert "<script>alert(1)" not in buyer.get("/papers").text
    assert (
        reader(Role.BUYER)
        .get("/papers?name=<script>alert(1)")
        .text.count("<script>alert(1)")
        == 0
    )
