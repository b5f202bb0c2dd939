"""Labels of lots: what they say, and that they come as a PDF that holds it."""

import re
from datetime import date
from io import BytesIO

import pytest
from pypdf import PdfReader
from segno import make

from ledger.books.finding import EntryRefusedError
from ledger.desk.labels import label_of
from ledger.errors import NotFoundError
from ledger.reports.label_sheet import CAUTION, Sheet
from ledger.trade.role import Role
from ledger.web.office import Office
from tests.web.conftest import Visit

DAY = date(2026, 9, 30)
ADDRESS = "https://ledger.example/lots/"


def text_of(pdf: bytes) -> str:
    pages = PdfReader(BytesIO(pdf)).pages
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pages))


def test_a_label_says_what_is_recorded_of_a_lot(read_office: Office) -> None:
    with read_office.books() as books:
        label = label_of(books.shelf, "SB-26-01", on=DAY, address=ADDRESS)

    assert label.what == "cocoa, bean"
    assert label.origin == "SB, Vatulani"
    assert label.claim == "osierfold, mass balance"
    assert label.mass.endswith("394.000 kg net")
    assert label.came == "Shipment SH-12, received 2026-06-09"
    assert label.address == "https://ledger.example/lots/SB-26-01"


def test_the_code_of_a_label_is_the_qr_code_of_its_address(read_office: Office) -> None:
    """ISO/IEC 18004, as the library of codes draws it: modules of the same matrix."""
    with read_office.books() as books:
        label = label_of(books.shelf, "SB-26-01", on=DAY, address=ADDRESS)

    code = make("https://ledger.example/lots/SB-26-01", error="m", micro=False)
    assert label.code.svg == code.svg_inline(scale=1, border=4, omitsize=True)
    assert code.error == "M"


def test_a_lot_that_is_rejected_or_unknown(read_office: Office) -> None:
    with read_office.books() as books:
        with pytest.raises((NotFoundError, EntryRefusedError), match="there is no lot"):
            label_of(books.shelf, "NO-LOT", on=DAY, address=ADDRESS)
        rejected = next(
            lot.lot
            for found in books.shelf.of_kind("shipment.received")
            for lot in found.record.lots  # type: ignore[attr-defined]
            if lot.decision == "rejected"
        )
        label = label_of(books.shelf, rejected, on=DAY, address=ADDRESS)
    assert label.what.startswith("REJECTED: ")
    assert "the claim does not count" in label.claim


@pytest.mark.parametrize(("sheet", "pages"), [(Sheet.EIGHT, 2), (Sheet.ONE, 10)])
def test_labels_are_printed_with_the_caution(
    reader: Visit, sheet: Sheet, pages: int
) -> None:
    answer = reader(Role.BUYER).get(
        "/labels",
        params={
            "print": "yes",
            "lots": "SB-26-01, DO-26-02",
            "sheet": sheet.value,
            "copies": "5",
        },
    )

    assert answer.headers["content-type"] == "application/pdf"
    text = text_of(answer.content)
    assert len(PdfReader(BytesIO(answer.content)).pages) == pages
    assert text.count("SB-26-01") >= 10
    assert CAUTION in text
    assert "http://localhost/lots/DO-26-02" in text.replace(" /", "/")


@pytest.mark.parametrize(
    ("query", "status", "sentence"),
    [
        ({"lots": "NO-LOT", "sheet": "8 on A4"}, 404, "there is no lot"),
        ({"sheet": "8 on A4"}, 422, "0 labels are asked for"),
        ({"lots": "SB-26-01", "sheet": "A0"}, 422, "choose one of"),
        ({"lots": "SB-26-01", "sheet": "8 on A4", "copies": "0"}, 422, "copies is"),
        (
            {"lots": "SB-26-01 DO-26-02", "sheet": "8 on A4", "copies": "150"},
            422,
            "300",
        ),
    ],
)
def test_labels_that_cannot_be_made_are_refused_with_the_reason(
    reader: Visit, query: dict[str, str], status: int, sentence: str
) -> None:
    answer = reader(Role.BUYER).get("/labels", params={"print": "yes", **query})

    assert answer.status_code == status
    assert sentence in answer.text


def test_the_lots_of_a_shipment_are_ticked(reader: Visit) -> None:
    page = reader(Role.FLOOR).get("/labels?shipment=SH-12").text

    assert 'value="SB-26-01" checked' in page or 'value="SB-26-01"' in page
