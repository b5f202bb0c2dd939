"""Tables and chart of dues say what the books say."""

from dataclasses import replace
from datetime import date
from xml.etree import ElementTree as ET

import pytest

from ledger.books.due_line import DueLine, PaidPart, Standing
from ledger.books.dues import ContractDues
from ledger.books.finding import warning
from ledger.books.owing import cooperative_totals, shortfalls
from ledger.books.payment import Settlement
from ledger.reports.dues_chart import dues_chart, outstanding_by_age
from ledger.reports.dues_table import (
    contract_table,
    cooperatives_table,
    dues_table,
    payments_table,
    shortfall_table,
)
from ledger.reports.tables import Table
from ledger.trade.words import Duty

AS_OF = date(2026, 6, 30)
LINE = DueLine(
    contract="K-1",
    shipment="SH-1",
    received_on=date(2026, 1, 10),
    entry=9,
    duty=Duty.PRICE,
    scheme=None,
    payee="coop",
    due_on=date(2026, 2, 9),
    currency="USD",
    amount_minor=2_050_001,
    standing=Standing.FINAL,
    paid=(PaidPart("P-1", 56, date(2026, 3, 1), 1_500_000, late_days=20),),
)
OPEN = replace(
    LINE,
    shipment="SH-2",
    amount_minor=None,
    standing=Standing.NOT_COMPUTABLE,
    because="no quote is recorded",
    paid=(),
)
EARLY = replace(
    LINE,
    shipment="SH-3",
    due_on=date(2026, 7, 1),
    standing=Standing.PROVISIONAL,
    because="the price is still to be fixed",
    paid=(),
)


def dues(*lines: DueLine, unused: tuple[PaidPart, ...] = ()) -> ContractDues:
    settlement = Settlement("K-1", Duty.PRICE, "coop", "USD", lines, unused)
    found = (warning("late", "", "contract K-1 was to be fixed by then; agree it"),)
    return ContractDues(
        "K-1", "coop", date(2026, 1, 2), AS_OF, "USD", (settlement,), found
    )


def only_row(table: Table) -> dict[str, str]:
    [row] = table.rows
    return dict(zip((column.key for column in table.columns), row, strict=True))


def test_due_line_has_its_sums_with_the_decimals_of_its_currency() -> None:
    row = only_row(dues_table([dues(LINE)]))

    assert row["contract"] == "K-1"
    assert row["cooperative"] == "coop"
    assert row["currency"] == "USD"
    assert row["due"] == "20500.01"
    assert row["paid"] == "15000.00"
    assert row["outstanding"] == "5500.01"
    assert row["late_days"] == "141"
    assert row["standing"] == "final"


@pytest.mark.parametrize(
    ("currency", "due"), [("JPY", "2050001"), ("USD", "20500.01"), ("KWD", "2050.001")]
)
def test_decimals_are_those_of_the_currency(currency: str, due: str) -> None:
    """ISO 4217, list one: minor units of yen 0, dollar 2, dinar 3."""
    line = replace(LINE, currency=currency)

    assert only_row(contract_table(dues(line)))["due"] == due


def test_due_without_a_figure_is_left_empty_and_never_nothing() -> None:
    row = only_row(contract_table(dues(OPEN)))

    assert (row["due"], row["paid"], row["outstanding"]) == ("", "", "")
    assert row["standing"] == "not computable"


def test_provisional_and_missing_figures_are_explained_below() -> None:
    notes = dues_table([dues(LINE, OPEN, EARLY)]).notes

    assert (
        "Contract K-1, shipment SH-3, price: provisional, because the price is still to "
        "be fixed." in notes
    )
    assert (
        "Contract K-1, shipment SH-2, price: not computable, because no quote is recorded."
        in notes
    )
    assert "Contract K-1 was to be fixed by then; agree it." in notes
    assert "local law" in notes[-1]


def test_what_is_told_of_the_contract_is_not_told_of_each_line_again() -> None:
    told = "contract K-1 was to be fixed by then; agree it"
    notes = dues_table([dues(LINE, replace(OPEN, because=told))]).notes

    assert [note for note in notes if "to be fixed by then" in note] == [
        "Contract K-1 was to be fixed by then; agree it."
    ]


def test_payment_beyond_what_is_owed_is_noted() -> None:
    paid = PaidPart("P-9", 60, date(2026, 4, 1), 12_345)

    found = dues(LINE, unused=(paid,))
    assert (
        "123.45 USD was paid to coop for price under contract K-1 beyond what is owed so "
        "far." in contract_table(found).notes
    )
    assert list(payments_table(found).figures("set_off")) == [
        "shipment SH-1",
        "nothing owed so far",
    ]
    assert list(payments_table(found).figures("paid")) == ["15000.00", "123.45"]
    assert list(payments_table(found).figures("late_days")) == ["20", "0"]


def test_cooperative_is_added_up_and_what_is_left_out_is_said() -> None:
    table = cooperatives_table(cooperative_totals([dues(LINE, OPEN, EARLY)]))

    row = only_row(table)
    assert row["due"] == "41000.02"
    assert row["provisional"] == "20500.01"
    assert row["outstanding"] == "26000.02"
    assert row["overdue"] == "5500.01"
    assert table.notes == ["coop: 1 lines without a figure are not in the sums."]


def test_shortfall_names_the_payment_that_would_settle_it() -> None:
    row = only_row(shortfall_table(shortfalls([dues(LINE, EARLY)])))

    assert row["payee"] == "coop"
    assert row["shipments"] == "SH-1"
    assert row["due_on"] == "2026-02-09"
    assert row["outstanding"] == "5500.01"


@pytest.mark.parametrize(
    ("due_on", "age"),
    [
        (None, "no date"),
        (date(2026, 7, 1), "not yet due"),
        (date(2026, 6, 30), "not yet due"),
        (date(2026, 6, 29), "1 to 30 days late"),
        (date(2026, 5, 31), "1 to 30 days late"),
        (date(2026, 5, 30), "31 to 60 days late"),
        (date(2026, 4, 1), "61 to 90 days late"),
        (date(2026, 3, 31), "over 90 days late"),
    ],
)
def test_what_is_outstanding_is_put_under_its_age(
    due_on: date | None, age: str
) -> None:
    sums = outstanding_by_age([dues(replace(LINE, due_on=due_on))], "USD")

    assert {name: minor for name, minor in sums.items() if minor} == {age: 550_001}


def test_other_currencies_stay_out_of_the_chart() -> None:
    assert not any(outstanding_by_age([dues(LINE)], "EUR").values())


def test_chart_names_unit_ages_and_sums_in_words_and_in_the_drawing() -> None:
    drawing = dues_chart([dues(LINE, EARLY)], "USD")

    assert drawing.title == "Outstanding to growers by age, USD"
    assert drawing.description == (
        "not yet due: 20500.01; 1 to 30 days late: 0.00; 31 to 60 days late: 0.00; "
        "61 to 90 days late: 0.00; over 90 days late: 5500.01"
    )
    words = [
        element.text
        for element in ET.fromstring(drawing.svg).iter()
        if element.tag.endswith("}text")
    ]
    assert "Outstanding to growers by age, USD" in words
    assert "20\u202f500.01" in words


def test_bars_are_as_long_as_what_they_stand_for() -> None:
    drawing = dues_chart([dues(LINE, EARLY)], "USD")

    boxes = [
        int(element.attrib["width"])
        for element in ET.fromstring(drawing.svg).iter()
        if element.tag.endswith("}rect") and "x" in element.attrib
    ]
    # The axis runs to 25,000 over 4,400 units.
    assert boxes == [2_050_001 * 4400 // 2_500_000, 550_001 * 4400 // 2_500_000]
