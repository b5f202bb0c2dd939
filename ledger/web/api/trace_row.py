"""Where goods came from and went, and what a recall of them needs."""

from datetime import date

from ledger.web.api.row import (
    EntryNumber,
    Figures,
    Kilograms,
    Percent,
    Row,
    example,
)


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
