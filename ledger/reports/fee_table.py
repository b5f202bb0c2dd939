"""Fees on certified sales: the statement of a quarter, and the arithmetic behind it."""

from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from ledger.books.fee import FeeLine, QuarterFees, rate_of
from ledger.books.paid_weight import kg
from ledger.books.rounding import shown
from ledger.reports.figures import money_text
from ledger.reports.tables import Column, Table
from ledger.reports.workings import numbered
from ledger.trade.dues_terms import FeeOnMass

LAST_WORD: Final = (
    "The scheme's published fees have the last word; compare this statement with its "
    "invoice."
)


def fees_table(found: QuarterFees) -> Table:
    """Return the fees of a quarter, one row and currency a line."""
    return Table(
        title=f"Fees on certified sales, {found.quarter}",
        columns=(
            Column("quarter", "Quarter", width=8, is_detail=True),
            Column("scheme", "Scheme", width=13),
            Column("payee", "Payee", width=13),
            Column("basis", "Basis", width=14),
            Column("valid_from", "Valid from", width=11, is_detail=True),
            Column("rate", "Rate", width=18),
            Column("charged", "Charged on", is_figure=True, width=13),
            Column("unit", "Of", width=8),
            Column("currency", "Currency", width=9),
            Column("fee", "Fee", is_figure=True, width=11),
            Column("due_on", "Due on", width=11),
        ),
        rows=[_row(found, line) for line in found.lines],
        notes=[
            *(f"{one.message[:1].upper()}{one.message[1:]}." for one in found.findings),
            *_corrected(found),
            LAST_WORD,
        ],
    )


def _corrected(found: QuarterFees) -> Iterator[str]:
    if found.corrected:
        entries = ", ".join(map(str, found.corrected))
        yield (
            f"Corrected after the quarter was closed, by entries {entries}: fees by mass "
            "stand as they were signed off, and the difference is charged or credited in "
            "the quarter of the correction; fees by value follow the invoices as they "
            "stand now, so settle the difference with the payee."
        )


def _row(found: QuarterFees, line: FeeLine) -> tuple[str, ...]:
    is_mass = isinstance(line.fee, FeeOnMass)
    return (
        str(found.quarter),
        line.scheme,
        line.fee.payee,
        line.fee.basis,
        line.fee.valid_from.isoformat(),
        rate_of(line.fee),
        kg(line.amount) if is_mass else shown(Fraction(line.amount)),
        "kg" if is_mass else line.currency,
        line.currency,
        money_text(line.amount_minor, line.currency),
        line.due_on.isoformat(),
    )


def explained_fees(found: QuarterFees) -> str:
    """Return how every fee of a quarter was reached, as text."""
    lines = [f"Fees on certified sales, {found.quarter}"]
    for line in found.lines:
        lines += ["", *_of_line(line)]
    if not found.lines:
        lines += ["", "No fee is charged in this quarter."]
    return "\n".join(lines) + "\n"


def _of_line(line: FeeLine) -> Iterator[str]:
    fee = money_text(line.amount_minor, line.currency)
    yield (
        f"{line.scheme} to {line.fee.payee}, {line.fee.basis}: {fee} {line.currency}, due "
        f"on {line.due_on}"
    )
    yield from numbered(line.workings)
