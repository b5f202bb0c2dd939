"""Figures of mass: accounts, stock, volumes, yields, whether all adds up, trace, recall."""

from datetime import date

from ledger.web.api.row import (
    EntryNumber,
    Figures,
    Kilograms,
    Percent,
    Row,
    example,
)


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


class YieldRow(Row):
    """Measured yields of one step, with control limits."""

    model_config = example(
        step="roast",
        equipment="drum-roaster",
        recipes=None,
        batches=16,
        by_mass_percent="96.5360",
        mean_percent="96.5525",
        lower_percent="94.5921",
        upper_percent="98.5129",
        lowest_percent="95.8664",
        highest_percent="97.2429",
        outside=None,
    )

    step: str
    equipment: str | None
    recipes: str | None
    batches: int
    by_mass_percent: Percent | None
    mean_percent: Percent | None
    lower_percent: Percent | None
    upper_percent: Percent | None
    lowest_percent: Percent | None
    highest_percent: Percent | None
    outside: str | None
    """Batches outside the limits."""


class FactorRow(Row):
    """What a factor of the terms says beside what was measured."""

    scheme: str
    form: str
    made_kg: Kilograms
    beans_kg: Kilograms
    measured: str
    """Kilograms of beans that one kilogram took."""
    factor: str | None
    """Kilograms of beans that the terms count for it."""
    beyond_percent: Percent | None
    beyond_kg: Kilograms | None
    """Bean equivalents that the factor leaves beyond the measured ones."""
    source: str | None
    """Document that the factor is from."""


class Yields(Figures):
    """Measured yields."""

    since: date
    """First trade date that counts."""
    until: date
    """Last trade date that counts."""
    rows: list[YieldRow]
    factors: list[FactorRow]
    """Conversion factors beside what was measured."""


class FormRow(Row):
    """How the mass of one form came and went."""

    model_config = example(
        form="bean",
        opening_kg="1120.820",
        bought_kg="9515.000",
        made_kg="0.000",
        used_kg="10116.974",
        lost_kg="363.026",
        sold_kg="0.000",
        returned_kg="0.000",
        written_off_kg="0.000",
        corrected_kg="0.000",
        closing_kg="155.820",
        difference_kg="0.000",
    )

    form: str
    opening_kg: Kilograms
    bought_kg: Kilograms
    made_kg: Kilograms
    used_kg: Kilograms
    lost_kg: Kilograms
    sold_kg: Kilograms
    returned_kg: Kilograms
    written_off_kg: Kilograms
    corrected_kg: Kilograms
    closing_kg: Kilograms
    difference_kg: Kilograms
    """What is missing or too much; zero where the masses add up."""


class CountRow(Row):
    """One count of a lot beside the book."""

    entry: EntryNumber
    on: date
    lot: str
    form: str
    book_kg: Kilograms
    found_kg: Kilograms
    difference_kg: Kilograms
    allowed_kg: Kilograms | None
    verdict: str


class Reconciliation(Figures):
    """Whether all masses add up."""

    since: date
    """First trade date that counts."""
    until: date
    """Last trade date that counts."""
    adds_up: bool
    """Whether no mass is missing and every count is within what is allowed."""
    rows: list[FormRow]
    counts: list[CountRow]
    """Counts of stock in the period."""


class BreachRow(Row):
    """One fact about a breach, told by its part."""

    breach: str
    """The account or sale that is in breach."""
    state: str
    """Open or closed."""
    part: str
    """What the row tells."""
    entry: EntryNumber | None
    on: date | None
    lot: str | None
    sale: str | None
    customer: str | None
    mass_kg: Kilograms | None
    bean_equivalent_kg: Kilograms | None
    text: str | None


class Breaches(Figures):
    """Claims that are no longer covered."""

    as_of: date
    """Last trade date that counts."""
    is_open: bool
    """Whether one is not made good yet."""
    rows: list[BreachRow]


class TraceRow(Row):
    """One thing on the way of goods: where they came in, a lot, where they left."""

    model_config = example(
        part="came in",
        lot="SU-01",
        form="ingredient",
        on="2024-10-16",
        entry=39,
        through="shipment IN-01",
        party="orrin-ingredients",
        mass_kg="0.012",
        share_percent="0.0433",
    )

    part: str
    """What the row tells: came in, lot, or left."""
    lot: str
    form: str | None
    on: date | None
    entry: EntryNumber | None
    through: str | None
    """What brought the goods here, or took them away."""
    party: str | None
    mass_kg: Kilograms
    """Mass of the goods in question, by mass fraction."""
    share_percent: Percent


class Trace(Figures):
    """Where goods came from, or where they went."""

    rows: list[TraceRow]


class RecallRow(Row):
    """One thing to do in a recall: a lot to lock away, a customer to call, a caution."""

    part: str
    """What the row tells."""
    entry: EntryNumber | None
    lot: str | None
    place: str | None
    hold: str | None
    customer: str | None
    sale: str | None
    mass_kg: Kilograms | None
    text: str | None


class CallRow(Row):
    """One sale to a customer who must be called; what is not disclosed is null."""

    customer: str
    legal_name: str | None
    person: str | None
    phone: str | None
    email: str | None
    sale: str
    document: str | None
    on: date
    lot: str | None
    sold_kg: Kilograms
    with_customer_kg: Kilograms
    doubted_kg: Kilograms
    pieces: int | None
    entry: EntryNumber


class Recall(Figures):
    """What a recall needs; law and the competent authority say what must be done."""

    as_of: date
    """Last trade date that counts."""
    rows: list[RecallRow]
    calls: list[CallRow]
    """Customers to call, sale by sale."""
