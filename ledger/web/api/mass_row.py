"""Figures of mass: accounts, stock, and volumes of a quarter."""

from datetime import date

from ledger.web.api.row import EntryNumber, Figures, Kilograms, Row, example


class BalanceRow(Row):
    """One mass-balance account, in kilograms bean equivalent."""

    model_config = example(
        account="osierfold, cocoa, ropewalk, organic",
        scheme="osierfold",
        commodity="cocoa",
        site="ropewalk",
        production="organic",
        origin="all",
        grade="all",
        form="all",
        opening_kg="834.890",
        received_kg="1593.500",
        claimed_kg="-1926.540",
        returned_kg="0.000",
        written_off_kg="0.000",
        lapsed_kg="0.000",
        corrected_kg="0.000",
        closing_kg="501.850",
        lowest_kg="313.250",
        lowest_on="2025-12-10",
    )

    account: str
    """Name of the account."""
    scheme: str
    commodity: str
    site: str
    production: str
    """Organic or conventional."""
    origin: str
    grade: str
    form: str
    opening_kg: Kilograms
    received_kg: Kilograms | None = None
    made_kg: Kilograms | None = None
    used_kg: Kilograms | None = None
    claimed_kg: Kilograms | None = None
    """Claimed with what was sold; below zero, since it takes away."""
    returned_kg: Kilograms | None = None
    written_off_kg: Kilograms | None = None
    converted_kg: Kilograms | None = None
    transferred_kg: Kilograms | None = None
    lapsed_kg: Kilograms | None = None
    corrected_kg: Kilograms | None = None
    closing_kg: Kilograms
    """What is left to claim."""
    lowest_kg: Kilograms
    lowest_on: date | None


class Balances(Figures):
    """Mass-balance accounts."""

    as_of: date
    """Last trade date that counts."""
    rows: list[BalanceRow]


class RunningRow(Row):
    """One movement of an account, and what it left standing."""

    model_config = example(
        on="2025-10-17",
        entry=413,
        cause="Claimed",
        moved_kg="-0.567",
        standing_kg="834.323",
    )

    on: date
    """Trade date."""
    entry: EntryNumber
    cause: str
    moved_kg: Kilograms
    standing_kg: Kilograms


class Running(Figures):
    """How one account ran, a page at a time."""

    rows: list[RunningRow]
    next: str | None
    """Cursor of the next page; null on the last."""


class StockRow(Row):
    """One lot on hand."""

    model_config = example(
        lot="BU-03",
        form="butter",
        mass_kg="374.703",
        pieces=None,
        place="dry-store",
        site="ropewalk",
        since="2025-12-02",
        best_before=None,
        hold=None,
    )

    lot: str
    form: str
    mass_kg: Kilograms
    pieces: int | None
    place: str | None
    site: str | None
    since: date | None
    best_before: date | None
    hold: str | None
    """Hold under which it may not move."""


class Stock(Figures):
    """What is on hand, a page at a time."""

    as_of: date
    """Last trade date that counts."""
    rows: list[StockRow]
    next: str | None
    """Cursor of the next page; null on the last."""


class VolumeRow(Row):
    """What one form of the goods of a scheme did in a quarter."""

    model_config = example(
        quarter="2026Q3",
        scheme="osierfold",
        measure="as weighed",
        form="bean",
        opening_kg="399.320",
        bought_with_claim_kg="1046.500",
        bought_without_claim_kg="0.000",
        made_kg="0.000",
        used_kg="1243.449",
        lost_kg="46.551",
        sold_with_claim_kg="0.000",
        sold_without_claim_kg="0.000",
        returned_with_claim_kg="0.000",
        returned_without_claim_kg="0.000",
        written_off_kg="0.000",
        corrected_kg="0.000",
        in_stock_kg="155.820",
    )

    quarter: str
    scheme: str
    measure: str
    """As weighed, or in bean equivalents."""
    form: str
    opening_kg: Kilograms
    bought_with_claim_kg: Kilograms
    bought_without_claim_kg: Kilograms
    made_kg: Kilograms
    used_kg: Kilograms
    lost_kg: Kilograms
    sold_with_claim_kg: Kilograms
    sold_without_claim_kg: Kilograms
    returned_with_claim_kg: Kilograms
    returned_without_claim_kg: Kilograms
    written_off_kg: Kilograms
    corrected_kg: Kilograms
    in_stock_kg: Kilograms


class Volumes(Figures):
    """Volumes of a quarter."""

    rows: list[VolumeRow]
