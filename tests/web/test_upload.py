"""Sheets on a page: pasted or uploaded, marked cell by cell, corrected in place."""

from io import BytesIO

import pytest
from httpx2 import Response
from openpyxl import Workbook

from ledger.intake.columns import SHEETS
from ledger.store.entries import head
from ledger.trade.role import Role
from ledger.web.office import Office
from tests.intake.test_grid import zip_bomb
from tests.web.conftest import OpenPage, Visit, Visitor, visit_as
from tests.web.test_buying import words

PASTED = """\
on\tpayment\tcontract\tpayee\ttowards\tamount\tcurrency\tdocument
2026-09-20\tP-90\tK-10\tquirimayo\tpremium\t60,00\tUSD\tTT-090
2026-13-21\tP-91\tK-10\tquirimayo\tprice\t500.00\tUSD\tTT-091
"""


@pytest.fixture
def buyer(office: Office) -> Visitor:
    return visit_as(office, Role.BUYER)


def size(office: Office) -> int:
    with office.rows() as rows:
        return head(rows)[0]


def upload(visitor: Visitor, name: str, raw: bytes, **fields: str) -> Response:
    return visitor.post(
        "/upload",
        data={"proof": visitor.proof, **fields},
        files={"sheet": (name, raw)},
        follow_redirects=False,
    )


def test_bad_cells_are_marked_corrected_and_recorded(
    buyer: Visitor, office: Office
) -> None:
    before = size(office)
    marked = buyer.submit("/upload", pasted=PASTED)
    assert marked.status_code == 422
    assert "Problems found: 2." in marked.text
    assert 'name="cell.2.5" value="60,00"' in marked.text
    assert 'id="w2.5"' in marked.text
    assert 'aria-invalid="true" aria-describedby="w3.0"' in marked.text
    assert "Record all" not in marked.text

    fields = {
        "sort": "payments",
        "whole": PASTED,
        "cell.2.5": "60.00",
        "cell.3.0": "2026-09-21",
        "cell.9.9": "beyond the sheet",
    }
    checked = buyer.submit("/upload/check", **fields)
    assert checked.status_code == 200
    assert "premium to quirimayo: nothing owed; before: 60.00 USD owed" in words(
        checked.text
    )
    assert size(office) == before

    saved = buyer.submit("/upload/record", **fields)
    assert (saved.status_code, saved.headers["location"]) == (303, "/upload")
    assert size(office) == before + 2
    again = buyer.submit("/upload/record", **fields)
    assert again.status_code == 422
    assert size(office) == before + 2


def test_a_workbook_is_read_as_the_same_sheet(buyer: Visitor) -> None:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for line in PASTED.replace("60,00", "60.00").replace("-13-", "-09-").splitlines():
        sheet.append(line.split("\t"))
    raw = BytesIO()
    book.save(raw)

    checked = upload(buyer, "payments-2026-09.xlsx", raw.getvalue())

    assert checked.status_code == 200
    assert "Entries: 2." in words(checked.text)


def test_a_long_sheet_shows_fields_of_bad_rows_only_and_keeps_the_others(
    buyer: Visitor, office: Office
) -> None:
    before = size(office)
    lines = ["on,market,unit,source,level"]
    lines += [
        f"2025-{1 + n // 28:02}-{1 + n % 28:02},new-series,USD/t,invented,"
        + ("41oo" if n == 200 else "4100.00")
        for n in range(300)
    ]
    marked = upload(buyer, "quotes.csv", "\n".join(lines).encode())

    assert marked.status_code == 422
    assert len(marked.content) < 200_000
    assert 'name="cell.202.4" value="41oo"' in marked.text
    assert 'name="cell.201.4"' not in marked.text
    assert "taken as they are: 299." in marked.text
    saved = buyer.submit(
        "/upload/record",
        sort="quotes",
        whole="\n".join(lines),
        **{"cell.202.4": "4100.00"},
    )
    assert saved.status_code == 303
    assert size(office) == before + 1


def test_files_that_are_no_sheets_are_refused_on_the_form(buyer: Visitor) -> None:
    for name, raw, sentence in (
        ("bomb.xlsx", zip_bomb(), "would unpack to"),
        ("photo.csv", b"\x89PNG\r\n\x1a\n\xff", "is not UTF-8"),
        ("what.csv", b"a,b\n1,2\n", "does not tell what the sheet holds"),
        ("../../etc/passwd", b"", "the sheet is empty"),
    ):
        refused = upload(buyer, name, raw)
        assert refused.status_code == 422, name
        assert sentence in refused.text
    assert "nothing was sent" in buyer.submit("/upload", pasted=" ").text


def test_an_upload_beyond_the_limit_is_turned_away(buyer: Visitor) -> None:
    refused = upload(buyer, "big.csv", b"x" * (5 * 2**20))

    assert refused.status_code == 413
    assert "larger than the" in refused.text


def test_what_a_cell_holds_never_runs(buyer: Visitor) -> None:
    marked = buyer.submit(
        "/upload", pasted=PASTED.replace("K-10", '<img src=x onerror="alert(1)">', 1)
    )

    assert "<img src=x" not in marked.text
    assert "&lt;img src=x" in marked.text


def test_an_empty_sheet_of_every_sort_can_be_taken(reader: Visit) -> None:
    for sort in SHEETS:
        answer = reader(Role.BUYER).get(f"/upload/empty/{sort}")
        assert answer.text.startswith("on,")
        assert answer.headers["content-disposition"].startswith("attachment")
    assert reader(Role.BUYER).get("/upload/empty/other").status_code == 422


def test_upload_is_for_whoever_works_for_the_maker(reader: Visit) -> None:
    assert reader(Role.FLOOR).get("/upload").status_code == 200
    assert reader(Role.CERTIFIER).get("/upload").status_code == 403


def test_a_sheet_is_corrected_in_place_without_a_script(open_page: OpenPage) -> None:
    page = open_page(Role.BUYER, "/upload", java_script_enabled=False)
    page.get_by_label("Or paste the cells").fill(PASTED)
    page.get_by_role("button", name="Check", exact=True).click()
    page.get_by_label("amount, 2").fill("60.00")
    page.get_by_label("on, 3").fill("2026-09-21")
    page.get_by_role("button", name="Check again").click()
    page.get_by_role("button", name="Record all").click()

    assert "Entries recorded: 2." in page.inner_text("main")
