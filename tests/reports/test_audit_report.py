"""The audit report as a person, a screen reader and an archive get it."""

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from io import BytesIO
from typing import Any

import pytest
from pypdf import PdfReader

from ledger.books.account import Account
from ledger.books.balance import balance_of, breaches
from ledger.books.dues import all_dues
from ledger.books.rounding import STATEMENT
from ledger.reports import audit_report
from ledger.reports.audit_report import audit_report_html, render_audit_report
from ledger.reports.figures import NARROW_SPACE, kg_text, money_text
from tests.reports.world import (
    AS_OF,
    HOSTILE_MAKER,
    HOSTILE_REASON,
    TREE_HEAD,
    breached,
    breached_contents,
    contents,
    traded,
)

ACCOUNT = Account("meadow", "cocoa", "works", "conventional", "all")


@cache
def pdf() -> bytes:
    return render_audit_report(contents())


@cache
def pages() -> tuple[str, ...]:
    return tuple(read_pages(pdf()))


def read_pages(made: bytes) -> Iterator[str]:
    for page in PdfReader(BytesIO(made)).pages:
        yield plain(page.extract_text())


def plain(text: str) -> str:
    """Return text on one line, its figures without grouping."""
    return " ".join(text.replace(NARROW_SPACE, "").split())


def whole_text() -> str:
    return " ".join(pages())


def test_cover_names_maker_site_size_tree_head_date_and_author() -> None:
    cover = pages()[0]

    assert HOSTILE_MAKER in cover
    assert "Harbour <1>, NL" in cover
    assert f"{traded().seq}, numbered 0 to {traded().seq - 1}" in cover
    assert TREE_HEAD.hex() in cover
    assert "as of 2026-06-30" in cover
    assert "2026-07-01 09:30:00 UTC by <i>officer</i>" in cover


def test_report_says_what_it_cannot_show_and_who_has_the_last_word() -> None:
    text = whole_text()

    assert "a purchase, batch or sale that was never recorded" in text
    assert "The published standard of each scheme" in text
    assert "local law settle what is owed" in text
    assert "the food authority" in text


def test_every_figure_of_the_statement_is_that_of_the_books() -> None:
    balance = balance_of(traded().shelf, ACCOUNT, until=AS_OF)

    text = whole_text()
    assert f"Received {kg_text(8_000_500)}" in text
    for grams in (*balance.by_cause.values(), balance.closing_g, balance.lowest_g):
        assert kg_text(grams) in text


def test_every_movement_stands_in_the_running_lines_with_its_entry() -> None:
    shelf, text = traded().shelf, whole_text()

    for movement in shelf.run(ACCOUNT.tally, until=AS_OF).movements:
        recorded = shelf.at(movement.slot)
        assert recorded is not None
        assert f"{movement.day} {recorded.seq} {recorded.kind}" in text
        assert kg_text(movement.grams) in text


def test_every_due_is_that_of_the_books() -> None:
    text = whole_text()

    for dues in all_dues(traded().shelf, AS_OF):
        assert f"Contract {dues.contract} of {dues.signed_on} with coop" in text
        for line in dues.lines:
            assert line.amount_minor is not None
            assert line.outstanding_minor is not None
            assert money_text(line.amount_minor, "USD") in text
            assert money_text(line.outstanding_minor, "USD") in text
    # Paid on 2026-03-01, due on 2026-02-09, and 5,500 of it still open in June.
    assert "2026-02-09 USD 20500.00 15000.00 5500.00 141 final" in text


def test_sampled_sales_are_walked_back_to_contract_and_cooperative() -> None:
    text = whole_text()

    assert "3 of 40 sales under a claim" in text
    assert len(contents().walks) == 3
    for walk in contents().walks:
        assert f"Sale {walk.asked.name} to shop" in text
    assert "SH-1 K-1 coop PE cocoa, conventional" in text
    assert "100.0000" in text


def test_corrections_and_unusual_batches_are_listed_with_their_reason() -> None:
    text = whole_text()

    # A narrow column may break a long word anywhere.
    assert f"made void{HOSTILE_REASON}".replace(" ", "") in text.replace(" ", "")
    assert "outputs of batch R-2 is 90, outside the usual" in text
    assert "Open breaches: none." in text
    assert "Breaches opened and made good: none." in text


def test_breach_is_shown_at_a_glance_at_its_account_and_in_its_list() -> None:
    [balance] = breaches(breached().shelf)

    made = render_audit_report(breached_contents())
    text = " ".join(read_pages(made))
    short = f"stands {kg_text(-balance.lowest_g)} kg below zero on {balance.lowest_on}"
    assert text.count(short) == 3
    assert "Accounts below zero on any date 1 of 1" in text
    assert "certificate.suspended C-coop" in text
    assert "Breaches opened and made good" in text


def test_rounding_is_stated() -> None:
    assert plain(STATEMENT) in whole_text()


def test_every_page_carries_its_number_and_every_page_but_the_first_the_maker() -> None:
    found = pages()

    for number, page in enumerate(found, start=1):
        assert f"Page {number} of {len(found)}" in page
        assert f"Tree head {TREE_HEAD.hex()}" in page
    assert all(f"{HOSTILE_MAKER} Audit report as of 2026-06-30" in p for p in found[1:])


def test_headings_of_a_long_table_are_repeated_on_every_page() -> None:
    headed = [page for page in pages() if "On Entry What Cause Moved Standing" in page]

    assert len(headed) >= 2


def test_report_is_the_same_bytes_every_time() -> None:
    assert render_audit_report(traded().contents()) == pdf()


def test_printing_has_nothing_to_complain_about(
    caplog: pytest.LogCaptureFixture,
) -> None:
    render_audit_report(contents())

    assert [record.getMessage() for record in caplog.records] == []


def test_typed_text_never_becomes_markup() -> None:
    html = audit_report_html(breached_contents())

    assert "<script" not in html
    assert "<img src" not in html.replace('<img class="drawing" src="data:', "")
    assert "</style><b>" not in html
    assert "<i>officer" not in html


def test_account_that_moves_too_often_is_printed_by_month(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(audit_report, "MOST_RUNNING_LINES", 10)

    html = audit_report_html(contents())
    assert "by month, kg bean equivalent" in html
    assert "Every movement stands in the running lines" in html
    assert "sale.dispatched V-1<" not in html


def test_all_mass_is_drawn_and_summed_up_on_both_sides() -> None:
    html = audit_report_html(contents())

    section = html.partition('<section id="flow">')[2].partition("</section>")[0]
    assert section.count("<img") == 1
    whole = f'<td>together</td>\n<td class="figure">8{NARROW_SPACE}000.500</td>'
    assert section.count(whole) == 2


def test_yields_and_what_the_factors_flatter_are_told() -> None:
    html = audit_report_html(contents())

    section = html.partition('<section id="yields">')[2].partition("</section>")[0]
    assert "One kilogram of roasted bean took" in section
    assert "90.0000" in section
    assert "96.0000" in section


def test_a_report_on_a_part_tells_nothing_of_all_mass() -> None:
    html = audit_report_html(replace(contents(), masses=None))

    assert 'id="flow"' not in html
    assert 'href="#yields"' not in html


def test_ledger_with_nothing_in_it_still_gives_a_report() -> None:
    bare = replace(
        contents(),
        terms=(),
        accounts=(),
        entries={},
        dues=(),
        stock=(),
        walks=(),
        sales_under_claim=0,
        corrections=(),
        flagged_batches=(),
        flagged_others=(),
    )

    text = " ".join(read_pages(render_audit_report(bare)))
    assert "No account ever moved." in text
    assert "0 of 0 sales under a claim" in text
    assert "Dues by cooperative: none." in text


# What an archive and a screen reader need.


def catalog() -> Any:  # noqa: ANN401 - pypdf's objects are what a file holds
    return PdfReader(BytesIO(pdf())).root_object


def structure(element: Any) -> Iterator[Any]:  # noqa: ANN401 - as above
    """Yield the elements of the structure tree, in order."""
    kids = element.get("/K", [])
    for kid in kids if isinstance(kids, list) else [kids]:
        found = kid.get_object() if hasattr(kid, "get_object") else kid
        if isinstance(found, dict) and "/S" in found:
            yield found
            yield from structure(found)


def test_report_says_that_it_is_pdf_a_3_level_a() -> None:
    """ISO 19005-3:2012, 6.6.4: the identification in the metadata."""
    metadata = catalog()["/Metadata"].get_data().decode()

    assert 'pdfaid:part="3"' in metadata or "<pdfaid:part>3<" in metadata
    assert "A" in metadata.partition("pdfaid:conformance")[2][:4]
    assert "sRGB" in str(catalog()["/OutputIntents"])


def test_report_is_tagged_and_says_its_language_and_title() -> None:
    """ISO 19005-3:2012, 6.7: level A asks for tags and a language."""
    root = catalog()

    assert root["/MarkInfo"]["/Marked"] == True  # noqa: E712 - a boolean of pypdf
    assert root["/Lang"] == "en"
    title = PdfReader(BytesIO(pdf())).metadata
    assert title is not None
    assert title.title == f"Audit report of {HOSTILE_MAKER} as of 2026-06-30"


def test_tags_name_headings_tables_and_drawings() -> None:
    found = list(structure(catalog()["/StructTreeRoot"]))

    kinds = {element["/S"] for element in found}
    assert {"/H1", "/H2", "/H3", "/Table", "/TR", "/TH", "/TD", "/Figure"} <= kinds
    drawings = [element for element in found if element["/S"] == "/Figure"]
    # The account, all mass, what is outstanding, and one drawing for each sampled sale.
    assert len(drawings) == 6
    for drawing in drawings:
        assert len(drawing["/Alt"]) > 40


def test_every_cell_of_a_table_names_its_heading() -> None:
    found = list(structure(catalog()["/StructTreeRoot"]))

    cells = [element for element in found if element["/S"] == "/TD"]
    assert cells
    assert all(cell["/A"]["/Headers"] for cell in cells)


def test_every_font_is_embedded() -> None:
    """ISO 19005-3:2012, 6.2.11.4."""
    reader = PdfReader(BytesIO(pdf()))

    fonts = [
        font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"]
        for page in reader.pages
        for font in page["/Resources"]["/Font"].values()  # type: ignore[index]
    ]
    assert fonts
    for font in fonts:
        assert "DejaVu" in font["/FontName"]
        assert "/FontFile2" in font or "/FontFile3" in font


def test_nothing_in_the_report_leads_outside_or_runs() -> None:
    reader = PdfReader(BytesIO(pdf()))

    for page in reader.pages:
        for annotation in page.get("/Annots", []):
            assert "/URI" not in str(annotation.get_object())
    assert b"/JavaScript" not in pdf()
    assert b"/Launch" not in pdf()
