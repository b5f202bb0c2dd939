"""The statement to a grower, as tables, entries and PDF."""

from datetime import UTC, date, datetime
from io import BytesIO

from pypdf import PdfReader

from ledger.books.owing import shortfalls
from ledger.books.statement import DOCUMENT, Statement, statement_of
from ledger.intake.draft import parse_draft
from ledger.intake.reading import read_file
from ledger.reports.price_rule import price_rule
from ledger.reports.statement import StatementCover, render_statement, statement_html
from ledger.reports.statement_table import (
    all_amounts_table,
    amounts_table,
    delivered_table,
    entries_texts,
)
from ledger.trade.record import body_of
from tests.books.buying_world import (
    CONTRACT,
    BuyingWorld,
    certified,
    fixed,
    lot,
    minimum,
    row,
    to_be_fixed,
    usd,
)
from tests.books.test_futures import AVERAGE

AS_OF = date(2025, 6, 1)
INTEREST = {
    "valid_from": "2000-01-01",
    "percent_per_year": "8",
    "day_count": "actual/365",
    "source": "clause 8",
}
COVER = StatementCover(
    maker="A maker",
    seller="Cooperativa <Alto>",
    as_of=AS_OF,
    made_at=datetime(2025, 6, 1, 9, 0, tzinfo=UTC),
    made_by="buyer",
)


def short() -> BuyingWorld:
    """Return a world in which a part of everything is late."""
    payees = [{"payee": "seller", "share": "0.7"}, {"payee": "farmers", "share": "0.3"}]
    world = certified(premiums=[row("240.00", payees=payees)], late_interest=[INTEREST])
    world.contract(fixed("2000.00"))
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")])
    bad = lot("L-3", "5", decision="rejected", rejected_because="mould")
    world.receive("S-2", "2025-02-10", [lot("L-2", "500.5"), bad])
    world.pay("P-1", "2025-02-20", "1500.00", "advance")
    world.pay("P-2", "2025-04-01", "900.00")
    return world


def statement(world: BuyingWorld) -> Statement:
    return statement_of(world.shelf, CONTRACT, AS_OF)


def test_each_entry_can_be_recorded_as_it_stands_and_settles_what_is_short() -> None:
    world = short()

    texts = [text for _, text in entries_texts(statement(world))]
    drafts = [d for text in texts for d in read_file("pay.yaml", text.encode())]
    for draft in drafts:
        assert draft.occurred_on == AS_OF
        world.record(draft.kind, str(AS_OF), body_of(parse_draft(draft)))

    assert len(drafts) == 5, "price, two premiums, interest to two payees"
    assert all(DOCUMENT in text for text in texts)
    assert shortfalls([world.dues(str(AS_OF))]) == ()


def test_a_name_that_reads_as_nothing_is_quoted() -> None:
    world = certified()
    world.contract(fixed("2000.00"), contract="null")
    world.receive("S-1", "2025-02-01", [lot("L-1", "1000")], contract="null")

    [(_, text)] = entries_texts(statement_of(world.shelf, "null", AS_OF))
    [draft] = read_file("pay.yaml", text.encode())

    assert draft.body["contract"] == "null"
    assert text.startswith("kind: payment.made\non: 2025-06-01\n")


def test_what_is_short_is_said_in_one_sentence() -> None:
    sentences = [sentence for sentence, _ in entries_texts(statement(short()))]

    assert sentences[:2] == [
        (
            "252.09 USD of premium to coop-alto for S-1, S-2 is open: due since "
            "2025-03-03, 90 days ago."
        ),
        (
            "108.04 USD of premium to farmers for S-1, S-2 is open: due since "
            "2025-03-03, 90 days ago."
        ),
    ]
    assert sentences[-1].endswith(
        "is open: counted up to 2025-06-01. Part of it is provisional."
    )


def test_the_tables_say_when_each_amount_was_paid() -> None:
    table = amounts_table(statement(short()).dues)

    paid_on = ["2025-02-20, 2025-04-01", "2025-04-01"]
    assert list(table.figures("paid_on"))[:2] == paid_on
    assert list(all_amounts_table([statement(short())]).figures("paid_on")) == list(
        table.figures("paid_on")
    )


def test_deliveries_show_weights_and_what_was_rejected() -> None:
    table = delivered_table(statement(short()))

    assert list(table.figures("paid_kg")) == ["1000.000", "500.500"]
    assert list(table.notes) == [
        "Lot L-3 of shipment S-2 was rejected and is not paid for: mould."
    ]


def rule(price: object, **terms: object) -> list[str]:
    world = certified(**terms)
    world.contract(price, organic=True)  # type: ignore[arg-type]
    return list(price_rule(statement(world)))


def test_the_rule_of_a_price_agreed_outright_is_told() -> None:
    sentences = rule(
        fixed("2000.00"),
        minimum_prices=[minimum("2400.00"), minimum("2500.00", origins=["EC"])],
        market={"market": "NY"},
        organic_differentials=[row("300.00")],
        premiums=[row("240.00")],
        price_due={"days": 15, "after": "shipment"},
    )

    assert sentences == [
        "The contract agrees a price of 2000.00 USD/t.",
        "Paid is the weight as shipped, delivery term FOB Callao.",
        (
            "fair-harvest: the price is never less than the guaranteed minimum in force on "
            "the day of the contract: 2400.00 USD/t from 2000-01-01 on."
        ),
        "fair-harvest: nor is it less than the market NY, on the day of the contract.",
        "fair-harvest: organic goods are paid more: 300.00 USD/t from 2000-01-01 on.",
        (
            "fair-harvest: on top of everything comes the premium in force on the day of "
            "delivery: 240.00 USD/t from 2000-01-01 on, all of it to the cooperative."
        ),
        (
            "fair-harvest: the price is due 15 days after the shipment, the premium 30 "
            "days after the receipt."
        ),
    ]


def test_the_rule_of_a_price_to_be_fixed_is_told() -> None:
    season = {
        "season_from": "2024-10-01",
        "season_until": "2025-03-31",
        "origins": ["PE"],
        "reference": usd("2100.00"),
        "source": "gazette",
    }
    sentences = rule(
        to_be_fixed("-120.00", fix_by="2025-06-30"),
        minimum_prices=[minimum("2400.00")],
        market={"market": "daily", "average": AVERAGE},
        seasonal_differential={"seasons": [season]},
        premiums=[
            row("240.00"),
            row(
                "300.00",
                "2025-10-01",
                payees=[
                    {"payee": "seller", "share": "0.75"},
                    {"payee": "farmers", "share": "0.25"},
                ],
            ),
        ],
        premium_weight="landed",
        advance={"percent": "60", "days": 10, "source": "clause 4"},
        late_interest=[INTEREST],
    )

    assert sentences[:3] == [
        "The price is fixed on the market NY, month 2025-12, 120.00 USD/t under it.",
        "It is fixed when the seller calls, at the latest on 2025-06-30.",
        "Until it is fixed it is valued by the market of the day.",
    ]
    assert sentences[5:] == [
        (
            "fair-harvest: nor is it less than the market daily, which is the average of "
            "the nearest 3 months of LDN and NY, on the day of the contract."
        ),
        (
            "fair-harvest: where the national reference price is below that minimum, the "
            "difference is paid beside the price, by the season on the day of delivery: "
            "2100.00 USD/t from 2024-10-01 to 2025-03-31."
        ),
        (
            "fair-harvest: on top of everything comes the premium in force on the day of "
            "delivery, on landed weight: 240.00 USD/t from 2000-01-01 on, all of it to the "
            "cooperative; 300.00 USD/t from 2025-10-01 on, 75 % to the cooperative and "
            "25 % to its farmers in cash."
        ),
        (
            "fair-harvest: the price is due 30 days after the receipt, the premium 30 "
            "days after the receipt."
        ),
        (
            "fair-harvest: on request up to 60 % of the contract's value is paid in "
            "advance within 10 days, and set off when goods arrive."
        ),
        (
            "fair-harvest: what is paid late bears simple interest: 8 % a year from "
            "2000-01-01 on (actual/365)."
        ),
    ]


def test_the_rule_tells_of_the_goods_of_the_contract_alone() -> None:
    """Neither market nor season of sugar says anything of a contract for beans."""
    sugar = {"commodity": "sugar", "form": "ingredient"}
    season = {
        "season_from": "2024-10-01",
        "season_until": "2025-09-30",
        "origins": ["PE"],
        "reference": usd("700.00"),
        "source": "gazette",
    }
    terms = {"market": {"market": "NY", **sugar}, "commodities": ["cocoa", "sugar"]}
    due = (
        "fair-harvest: the price is due 30 days after the receipt, the premium 30 days "
        "after the receipt."
    )

    told = rule(
        fixed("2000.00"),
        **terms,
        minimum_prices=[minimum("2400.00")],
        seasonal_differential={"seasons": [{**season, **sugar}]},
    )
    assert told[3:] == [due]
    told = rule(fixed("2000.00"), **terms, seasonal_differential={"seasons": [season]})
    assert told[2:] == [due]  # without a minimum a season tops nothing up


def test_a_sealed_price_and_no_scheme_are_told() -> None:
    world = certified()
    world.contract(None, claims=[], franchise_percent="1.5")

    assert list(price_rule(statement(world))) == [
        "The price of the contract is not disclosed to this reader.",
        (
            "Paid is the weight as shipped, delivery term FOB Callao; a loss of up to 1.5 "
            "% on the way is the buyer's, and only what is lost beyond it is the seller's."
        ),
        "No scheme is claimed, so nothing comes on top.",
    ]


def test_the_page_escapes_names_and_shows_every_entry() -> None:
    found = (statement(short()),)

    html = statement_html(COVER, found)

    assert "Cooperativa &lt;Alto&gt;" in html
    assert html.count('<pre lang="en">kind: payment.made') == 5
    assert "What is really owed is settled by the contract" in html


def test_a_statement_without_arrears_says_so() -> None:
    world = certified()
    world.contract(fixed("2000.00"))

    assert "Nothing is overdue." in statement_html(COVER, (statement(world),))


def test_the_pdf_is_tagged_and_the_same_every_time() -> None:
    found = (statement(short()),)

    made = render_statement(COVER, found)

    reader = PdfReader(BytesIO(made))
    text = "\n".join(page.extract_text() for page in reader.pages)
    assert made == render_statement(COVER, found)
    assert reader.metadata is not None
    assert reader.metadata.title == "Statement for Cooperativa <Alto> as of 1 Jun 2025"
    assert "/StructTreeRoot" in reader.root_object
    assert "C-1-settles-5" in text
