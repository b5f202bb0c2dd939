"""Figures of money: what is owed to growers, what was paid, fees."""

from datetime import date

from ledger.web.api.row import Amount, EntryNumber, Figures, Row, example


class DueRow(Row):
    """One amount owed to growers."""

    model_config = example(
        contract="K-01",
        cooperative="cahoba",
        shipment="SH-01",
        entry=38,
        duty="price",
        scheme=None,
        payee="cahoba",
        due_on="2024-11-20",
        currency="USD",
        due="11300.00",
        paid="11300.00",
        outstanding="0.00",
        late_days=0,
        standing="final",
    )

    contract: str
    cooperative: str
    shipment: str | None
    entry: EntryNumber | None
    duty: str
    """What it is for: price, a differential or a premium."""
    scheme: str | None
    payee: str
    due_on: date | None
    currency: str | None
    due: Amount | None
    paid: Amount | None
    outstanding: Amount | None
    late_days: int | None
    standing: str
    """Whether the figure is final or may still change."""


class Dues(Figures):
    """What is owed to growers, a page at a time."""

    as_of: date
    """Last trade date that counts."""
    rows: list[DueRow]
    next: str | None
    """Cursor of the next page; null on the last."""


class StatementRow(DueRow):
    """One amount owed to a grower, with the days on which it was paid."""

    model_config = example(
        contract="K-01",
        cooperative="cahoba",
        shipment="SH-01",
        entry=38,
        duty="price",
        scheme=None,
        payee="cahoba",
        due_on="2024-11-20",
        currency="USD",
        due="11300.00",
        paid="11300.00",
        paid_on="2024-11-18",
        outstanding="0.00",
        late_days=0,
        standing="final",
    )

    paid_on: str | None
    """Days on which it was paid."""


class Statement(Figures):
    """What one cooperative, or one contract, is owed and was paid."""

    as_of: date
    """Last trade date that counts."""
    rows: list[StatementRow]


class FeeRow(Row):
    """One fee on what was sold under a claim."""

    quarter: str
    scheme: str
    payee: str
    basis: str
    valid_from: date | None
    rate: str
    charged: str | None
    """Mass or value that the fee is charged on."""
    unit: str | None
    currency: str | None
    fee: Amount | None
    due_on: date | None


class Fees(Figures):
    """Fees of a quarter."""

    rows: list[FeeRow]
