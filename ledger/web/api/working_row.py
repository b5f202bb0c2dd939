"""How figures were reached: entries, rules and arithmetic, line by line."""

from datetime import date

from ledger.web.api.row import EntryNumber, Figures, Kilograms, Row, example


class WorkingRow(Row):
    """One line of the arithmetic behind a figure."""

    line: int
    """Number of the line within the figure; later lines name it."""
    what: str
    figure: str
    """The figure of this line, with its unit."""
    reckoning: str | None
    """Arithmetic, by the numbers of lines before it."""
    rule: str | None = None
    """Document of the rule."""
    entry: EntryNumber | None


class DueWorkingRow(WorkingRow):
    """One line of the arithmetic behind an amount owed."""

    model_config = example(
        contract="K-01",
        shipment="SH-01",
        duty="price",
        payee="cahoba",
        standing="final",
        line=1,
        what="net shipped weight of the lots taken",
        figure="2000.00 kg",
        reckoning=None,
        rule=None,
        entry=38,
    )

    contract: str
    shipment: str | None
    duty: str
    payee: str
    standing: str


class DueWorkings(Figures):
    """How the amounts of a contract were reached."""

    rows: list[DueWorkingRow]


class MovementWorkingRow(WorkingRow):
    """One line of the arithmetic behind one movement of a running total."""

    model_config = example(
        of="Stock of lot BU-03, kg",
        on="2026-05-13",
        cause="used",
        moved_kg="-49.571",
        standing_kg="700.429",
        line=1,
        what="taken by batch B27-conche",
        figure="49.571 kg",
        reckoning=None,
        rule=None,
        entry=616,
    )

    of: str
    """The running total."""
    on: date
    cause: str
    moved_kg: Kilograms
    standing_kg: Kilograms


class MovementWorkings(Figures):
    """How a running total came to stand where it stands."""

    rows: list[MovementWorkingRow]


class ShareWorkings(Figures):
    """How the share of a lot in some goods was reached."""

    rows: list[WorkingRow]
