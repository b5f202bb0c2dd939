"""The buyer's pages: contracts, prices, shipments, payments, and what saving would do."""

import re
from collections.abc import Mapping
from datetime import date

import pytest

from ledger.books.dues import dues_of
from ledger.books.effect import Book
from ledger.books.fulfilment import fulfilments
from ledger.store.entries import head
from ledger.trade.role import Role
from ledger.web.office import Office
from tests.web.conftest import OpenPage, Visit, Visitor, visit_as

AS_OF = "?as_of=2026-09-30"
CONTRACT: Mapping[str, str] = {
    "on": "2026-09-20",
    "contract": "K-20",
    "seller": "cahoba",
    "quantity": "25 qq46",
    "crop": "2026/27",
    "origin": "DO",
    "form": "bean",
    "commodity": "cocoa",
    "claims.0.scheme": "osierfold",
    "claims.0.custody": "mass balance",
    "price.basis": "fixed",
    "price.price.amount": "4550.00",
    "price.price.unit": "USD/t",
    "delivery": "FOB",
    "delivery_place": "Caucedo",
    "weight_basis": "shipped",
}
TO_BE_FIXED: Mapping[str, str] = {
    **{k: v for k, v in CONTRACT.items() if not k.startswith("price.")},
    "contract": "K-21",
    "price.basis": "to be fixed",
    "price.market": "beans-gbp",
    "price.month": "2026-12",
    "price.differential.amount": "-20.00",
    "price.differential.unit": "GBP/t",
    "price.call": "seller",
}
RECEIPT: Mapping[str, str] = {
    "on": "2026-09-27",
    "shipment": "SH-20",
    "contract": "K-05",
    "lots.0.lot": "PE-26-09",
    "lots.0.bags": "9",
    "lots.0.gross": "9 bags of 153 lb",
    "lots.0.tare": "9 bags of 1.2 lb",
    "lots.0.net_shipped": "9 bags of 152 lb",
    "lots.0.decision": "accepted",
}


def words(text: str) -> str:
    """Return what a page says, without its markup."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", text))


def size(office: Office) -> int:
    with office.rows() as rows:
        return head(rows)[0]


@pytest.fixture
def buyer(office: Office) -> Visitor:
    return visit_as(office, Role.BUYER)


def test_the_first_page_shows_how_far_contracts_are_and_what_is_late(
    reader: Visit,
) -> None:
    page = words(reader(Role.BUYER).get(f"/buying{AS_OF}").text)

    assert "Contracts with something late: 2." in page
    assert "K-05 quirimayo to be shipped for 487 days" in page
    assert "K-01" not in page
    assert "K-01 cahoba" in words(
        reader(Role.BUYER).get(f"/buying{AS_OF}&all=yes").text
    )


def test_what_the_first_page_says_is_what_the_books_say(
    reader: Visit, read_office: Office
) -> None:
    rows = reader(Role.BUYER).get(f"/buying{AS_OF}&all=yes&as=json").json()

    with read_office.books() as books:
        expected = {
            one.contract.contract: (one.contracted_g, one.received_g, one.to_ship_g)
            for one in fulfilments(books.shelf, date(2026, 9, 30))
        }
    told = {
        row["contract"]: tuple(
            int(row[key].replace(".", ""))
            for key in ("contracted_kg", "received_kg", "to_ship_kg")
        )
        for row in rows
    }
    assert told == expected


def test_a_contract_shows_its_price_against_minimum_and_market(reader: Visit) -> None:
    page = words(reader(Role.BUYER).get(f"/contracts/K-10{AS_OF}").text)

    assert "Guaranteed minimum 4 700.00 USD/t" in page
    assert "Market 3 959.00 USD/t" in page
    assert "Price owed a tonne 4 700.00 USD/t, which is the guaranteed minimum" in page
    assert "Late: payments to growers under it are overdue." in page


def test_a_contract_or_shipment_that_is_not_there_is_said_so(reader: Visit) -> None:
    for path, sentence in (
        ("/contracts/K-99", "there is no contract"),
        ("/shipments/SH-99", "there is no shipment"),
    ):
        answer = reader(Role.BUYER).get(path)
        assert answer.status_code == 404
        assert sentence in answer.text


def test_a_contract_is_signed_fixed_and_shipped(buyer: Visitor) -> None:
    signed = buyer.submit("/sign-contract", **TO_BE_FIXED)
    assert signed.headers["location"] == "/contracts/K-21"

    fixed = buyer.submit(
        "/fix-price",
        **{
            "on": "2026-09-21",
            "fixation": "F-9",
            "contract": "K-21",
            "quantity": "500",
            "level.amount": "3000.00",
            "level.unit": "GBP/t",
        },
    )
    left = buyer.submit(
        "/record-dispatch",
        **{
            "on": "2026-09-22",
            "shipment": "SH-21",
            "contract": "K-21",
            "gross": "1166.150",
            "tare": "16.150",
            "carriage.bill_of_lading": "BL-21",
        },
    )

    assert [fixed.status_code, left.status_code] == [303, 303]
    page = words(buyer.get(f"/contracts/K-21{AS_OF}").text)
    assert (
        "Contracted 1 150.000 kg Price fixed 500.000 kg To be fixed 650.000 kg" in page
    )
    assert "On the way 1 150.000 kg" in page
    receipt = buyer.get("/record-receipt?shipment=SH-21").text
    assert 'name="lots.0.net_shipped" type="text" value="1150.000"' in receipt
    assert '<option value="K-21" selected>' in receipt


def test_forms_offer_what_is_recorded(reader: Visit) -> None:
    sign = reader(Role.BUYER).get("/sign-contract").text
    receive = reader(Role.BUYER).get("/record-receipt").text

    for option in ("osierfold", "cahoba", "mass balance", "beans-gbp", "USD/t"):
        assert f'<option value="{option}">' in sign, option
    for option in ("K-05", "ropewalk", "orrin-ingredients"):
        assert f'<option value="{option}">' in receive, option


def test_a_refused_form_keeps_what_was_typed_and_names_the_field(
    buyer: Visitor, office: Office
) -> None:
    before = size(office)

    refused = buyer.submit("/sign-contract", **{**CONTRACT, "contract": "K 20"})

    assert refused.status_code == 422
    assert 'value="K 20"' in refused.text
    assert 'value="25 qq46"' in refused.text
    assert 'aria-invalid="true" aria-describedby="contract-wrong"' in refused.text
    assert "is not an identifier" in refused.text
    assert size(office) == before


@pytest.mark.parametrize(
    ("changed", "status", "sentence"),
    [
        ({"on": ""}, 422, "on is empty"),
        ({"on": "27.9.2026"}, 422, "which is not a date"),
        ({"on": "2026-12-24"}, 409, "it is recorded on"),
        ({"contract": "K-99"}, 409, "contract K-99, which is not recorded"),
        ({"lots.0.gross": "heavy"}, 422, "is not a mass"),
        ({"lots.0.gross": "9 quintals"}, 422, "46 kg"),
        ({"lots.0.net_landed": "1"}, 422, "net_landed_kg is"),
        ({"lots.0.lot": "PE-25-01"}, 409, "PE-25-01"),
        ({"shipment": "<script>alert(1)</script>"}, 422, "is not an identifier"),
    ],
)
def test_a_receipt_that_cannot_be_is_refused_with_its_reason(
    buyer: Visitor,
    office: Office,
    changed: Mapping[str, str],
    status: int,
    sentence: str,
) -> None:
    before = size(office)

    refused = buyer.submit("/record-receipt", **{**RECEIPT, **changed})

    assert refused.status_code == status
    assert sentence in refused.text
    assert 'value="9 bags of 152 lb"' in refused.text
    assert "<script>alert" not in refused.text
    assert size(office) == before


def test_what_saving_would_do_is_told_first_and_is_what_it_does(
    buyer: Visitor, office: Office
) -> None:
    before = size(office)
    told = words(buyer.submit("/record-receipt/preview", **RECEIPT).text)
    assert size(office) == before

    saved = buyer.submit("/record-receipt", **RECEIPT)

    assert saved.headers["location"] == "/shipments/SH-20"
    with office.books() as books:
        lot = next(
            tally
            for tally in books.shelf.tallies(Book.STOCK)
            if tally.key == "PE-26-09"
        )
        landed_g = books.shelf.run(lot).closing_g
        dues = dues_of(books.shelf, "K-05", office.today())
    owed = sum(
        line.amount_minor or 0
        for line in dues.lines
        if line.shipment == "SH-20" and line.duty == "price"
    )
    # 9 bags of 153 lb less 9 bags of 1.2 lb at 0.453 592 37 kg (NIST SP 811, B.9).
    assert landed_g == 619_698
    assert "Net landed, gross less tare PE-26-09 619.698 kg" in told
    assert "9 bags of 152 lb 620.514 kg" in told
    assert "Lot PE-26-09 is on hand with 619.698 kg." in told
    figure = f"{owed / 100:,.2f}".replace(",", " ")
    assert f"price to quirimayo: {figure} USD owed" in told
    assert "Price owed a tonne 6 100.00 USD/t, which is the price agreed" in told


def test_the_script_of_a_form_gets_a_part_of_the_page_alone(buyer: Visitor) -> None:
    part = buyer.post(
        "/record-receipt/preview",
        data={"proof": buyer.proof, **RECEIPT, "lots.0.gross": "9 bag"},
        headers={"X-Part": "foresight"},
    )

    assert part.status_code == 200
    assert "<html" not in part.text
    assert "It would be refused:" in part.text


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"lots.0.lot": ""}, "It is not complete yet: field lots.0.lot"),
        ({"on": ""}, "It is not complete yet: on is empty"),
        ({"shipment": "", "lots.0.net_shipped": ""}, "It is not complete yet:"),
        ({"lots.0.gross": "x"}, "It would be refused:"),
        ({"shipment": "", "lots.0.bags": "many"}, "It would be refused:"),
        ({"contract": ""}, "It would be refused:"),
        ({"contract": "K-99"}, "It would be refused:"),
    ],
)
def test_a_form_half_filled_in_is_called_unfinished_and_not_refused(
    reader: Visit, changed: Mapping[str, str], told: str
) -> None:
    answer = reader(Role.BUYER).submit(
        "/record-receipt/preview", **{**RECEIPT, **changed}
    )

    assert told in words(answer.text)


def test_one_more_row_keeps_the_others_and_an_empty_row_is_left_out(
    buyer: Visitor,
) -> None:
    more = buyer.submit("/record-receipt", **RECEIPT, more="lots")
    assert 'name="lots.1.lot"' in more.text
    assert '<fieldset id="row-lots-1">' in more.text
    assert 'formaction="/record-receipt#row-lots-2"' in more.text
    assert 'name="lots.2.lot"' not in more.text
    again = buyer.submit(
        "/record-receipt", **RECEIPT, **{"lots.1.lot": ""}, more="lots"
    )
    assert 'name="lots.2.lot"' in again.text

    saved = buyer.submit(
        "/record-receipt", **RECEIPT, **{"lots.1.decision": "accepted"}
    )
    assert saved.status_code == 303


def test_quotes_and_rates_of_several_days_are_one_entry_on_the_last_of_them(
    buyer: Visitor, office: Office
) -> None:
    before = size(office)
    quotes = buyer.submit(
        "/record-quotes",
        **{
            "market": "beans-gbp",
            "unit": "GBP/t",
            "source": "invented",
            "quotes.0.on": "2026-10-01",
            "quotes.0.level": "3000.00",
            "quotes.3.on": "2026-10-02",
            "quotes.3.level": "3010.00",
        },
    )
    rates = buyer.submit(
        "/record-rates",
        **{
            "base": "GBP",
            "to": "USD",
            "source": "invented",
            "rates.0.on": "2026-10-01",
            "rates.0.rate": "1.31",
        },
    )
    empty = buyer.submit(
        "/record-quotes", market="beans-gbp", unit="GBP/t", source="invented"
    )

    assert [quotes.status_code, rates.status_code] == [303, 303]
    assert empty.status_code == 422
    assert "on is empty" in empty.text
    assert size(office) == before + 2
    with office.books() as books:
        assert books.shelf.of_kind("quote.recorded")[-1].occurred_on == date(
            2026, 10, 2
        )


def test_a_payment_tells_what_is_open_and_marks_money_in_another_currency(
    buyer: Visitor,
) -> None:
    first = buyer.get("/record-payment?contract=K-10").text
    assert '<option value="quirimayo" selected>' in first
    assert 'name="money.currency" type="text" value="USD"' in first
    paid = {
        "on": "2026-09-28",
        "payment": "P-99",
        "contract": "K-10",
        "payee": "quirimayo",
        "towards": "premium",
        "money.amount": "60.00",
        "money.currency": "USD",
        "document": "TT-99",
    }

    told = words(buyer.submit("/record-payment/preview", **paid).text)
    other = buyer.submit("/record-payment", **{**paid, "money.currency": "EUR"})
    saved = buyer.submit("/record-payment", **paid)

    assert "Open now: premium to quirimayo 60.00 USD" in told
    assert "premium to quirimayo: nothing owed; before: 60.00 USD owed" in told
    assert other.status_code == 409
    assert 'aria-describedby="money.amount-wrong"' in other.text
    assert saved.headers["location"] == "/contracts/K-10"


def test_an_advance_that_was_asked_for_is_recorded(buyer: Visitor) -> None:
    saved = buyer.submit(
        "/record-advance",
        **{
            "on": "2026-09-28",
            "request": "R-9",
            "contract": "K-05",
            "money.amount": "100.00",
            "money.currency": "USD",
            "document": "letter of 28 September",
        },
    )

    assert saved.status_code == 303


def test_the_author_of_an_entry_is_who_signed_in(
    buyer: Visitor, office: Office
) -> None:
    buyer.submit("/sign-contract", **CONTRACT)

    with office.books() as books:
        signed = books.shelf.of_kind("contract.signed")[-1]
    assert signed.recorded_by == "buyer-1"


def test_pages_of_buying_are_for_the_buyer(reader: Visit) -> None:
    for path in ("/buying", "/record-receipt", "/sign-contract", "/record-payment"):
        assert reader(Role.FLOOR).get(path).status_code == 403
        assert reader(Role.CERTIFIER).get(path).status_code == 403
    assert reader(Role.FLOOR).get("/shipments/SH-13").status_code == 200
    assert "Log its arrival" not in reader(Role.FLOOR).get("/shipments").text


def test_pages_stay_below_200_kilobytes(reader: Visit) -> None:
    for path in ("/buying?all=yes", "/shipments", "/contracts/K-02", "/record-receipt"):
        assert len(reader(Role.BUYER).get(path).content) < 200_000


def test_the_form_computes_while_one_types(open_page: OpenPage) -> None:
    page = open_page(Role.BUYER, "/record-receipt")
    for name, value in RECEIPT.items():
        field = page.locator(f"[name='{name}']")
        if name in {"contract", "lots.0.decision"}:
            field.select_option(value)
        else:
            field.fill(value)

    told = page.locator("[data-foresight]")
    told.get_by_text("Lot PE-26-09 is on hand with 619.698 kg.").wait_for()
    page.get_by_label("Net weight landed").fill("600 lb")
    told.get_by_text("It would be refused:").wait_for()


def test_a_receipt_is_logged_without_a_script(open_page: OpenPage) -> None:
    page = open_page(Role.BUYER, "/record-receipt", java_script_enabled=False)
    for name, value in RECEIPT.items():
        field = page.locator(f"[name='{name}']")
        if name in {"contract", "lots.0.decision"}:
            field.select_option(value)
        else:
            field.fill(value)

    page.get_by_role("button", name="What would it do?").click()
    assert "Lot PE-26-09 is on hand with 619.698 kg." in page.inner_text("main")
    page.get_by_role("button", name="Record").click()
    assert page.url.endswith("/shipments/SH-20")
    assert "Recorded as entry" in page.inner_text("main")
