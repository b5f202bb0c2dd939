"""Tables of mass balance say what the books say."""

from datetime import date

from ledger.books.account import Account
from ledger.books.balance import Balance, RunningLine
from ledger.books.effect import Cause
from ledger.books.rolling import Average
from ledger.books.shelf import Movement
from ledger.reports.balance_table import (
    balance_table,
    running_table,
    statement_table,
)

ACCOUNT = Account("fair-cocoa", "cocoa", "works", "organic", "all")
DAY = date(2026, 3, 2)
BALANCE = Balance(
    account=ACCOUNT,
    opening_g=1_000,
    by_cause={Cause.RECEIVED: 60_500_000, Cause.SOLD: -20_000_001},
    closing_g=40_500_999,
    lowest_g=1_000,
    lowest_on=DAY,
)
SHORT = Balance(ACCOUNT, 0, {Cause.SOLD: -5}, -5, -5, DAY, is_breach=True)
LINES = (
    RunningLine(Movement(DAY, 7, 0, 60_500_000, Cause.RECEIVED), 60_501_000),
    RunningLine(Movement(DAY, 9, 1, -20_000_001, Cause.SOLD), 40_500_999),
)


def test_balance_table_has_every_part_of_the_reconciliation() -> None:
    table = balance_table([BALANCE])

    assert [column.key for column in table.columns] == [
        "account",
        "scheme",
        "commodity",
        "site",
        "production",
        "origin",
        "grade",
        "form",
        "opening_kg",
        "received_kg",
        "claimed_kg",
        "returned_kg",
        "written_off_kg",
        "lapsed_kg",
        "corrected_kg",
        "closing_kg",
        "lowest_kg",
        "lowest_on",
    ]
    assert list(table.rows[0][8:]) == [
        "1.000",
        "60500.000",
        "-20000.001",
        "0.000",
        "0.000",
        "0.000",
        "0.000",
        "40500.999",
        "1.000",
        "2026-03-02",
    ]


def test_cause_that_is_not_usual_gets_a_column_of_its_own() -> None:
    odd = Balance(ACCOUNT, 0, {Cause.USED: -5}, -5, -5, DAY)

    table = balance_table([BALANCE, odd])

    assert list(table.figures("used_kg")) == ["0.000", "-0.005"]


def test_title_says_which_days_count() -> None:
    table = balance_table([], since=DAY, until=date(2026, 4, 1))

    assert table.title == (
        "Mass balance, kg bean equivalent from 2026-03-02 up to 2026-04-01"
    )


def test_account_below_zero_is_noted() -> None:
    [note] = balance_table([BALANCE, SHORT]).notes

    assert "Breach" in note
    assert "0.005 kg below zero on 2026-03-02" in note


def test_statement_runs_from_opening_to_closing() -> None:
    table = statement_table(BALANCE)

    assert list(table.figures("line")) == [
        "Opening",
        "Received",
        "Claimed",
        "Returned",
        "Written off",
        "Lapsed",
        "Corrected",
        "Closing",
    ]
    assert list(table.figures("Whole time_kg"))[-1] == "40500.999"


def test_running_lines_name_the_entry_that_counts() -> None:
    table = running_table(BALANCE, LINES, entries={7: (12, "shipment.received S-1")})

    assert [list(row) for row in table.rows] == [
        [
            "2026-03-02",
            "12",
            "shipment.received S-1",
            "Received",
            "60500.000",
            "60501.000",
        ],
        ["2026-03-02", "9", "", "Claimed", "-20000.001", "40500.999"],
    ]


def test_running_lines_without_entries_stand_on_their_slot() -> None:
    table = running_table(BALANCE, LINES)

    assert [column.key for column in table.columns] == [
        "on",
        "entry",
        "cause",
        "moved_kg",
        "standing_kg",
    ]
    assert list(table.figures("entry")) == ["7", "9"]


def test_account_that_never_moved_says_so() -> None:
    still = Balance(ACCOUNT, 5, {}, 5, 5, None)

    assert "Nothing moved." in statement_table(still).notes


def test_a_window_is_told_with_both_percentages() -> None:
    """A quarter of what came in was certified, a fifth of what was sold is claimed."""
    average = Average(
        account=ACCOUNT,
        since=date(2025, 3, 3),
        on=DAY,
        input_g=200_000,
        certified_g=50_000,
        output_g=100_000,
        claimed_g=20_000,
    )

    [note] = balance_table([BALANCE], averages=[average]).notes

    assert "of 200.000 kg that came in 50.000 kg was certified (25.00 %)" in note
    assert "of 100.000 kg that was sold 20.000 kg was claimed (20.00 %)" in note
