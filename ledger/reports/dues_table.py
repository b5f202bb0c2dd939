"""Tables of dues: every line, the lines of one contract, payments, totals, what is late.

A sum stands in major units of the currency in the column beside it, with exactly the
decimals of that currency. What has no figure is left empty, never shown as nothing.
"""

from collections.abc import Iterable, Iterator
from datetime import date
from typing import Final

from ledger.books.due_line import DueLine, PaidPart
from ledger.books.dues import ContractDues
from ledger.books.owing import CooperativeTotal, Shortfall, Total
from ledger.books.payment import Settlement
from ledger.reports.figures import money_text
from ledger.reports.tables import Column, Table

_CURRENCY: Final = Column("currency", "Currency", width=9)
_DUE_COLUMNS: Final = (
    Column("shipment", "Shipment", width=14),
    Column("entry", "Entry", is_figure=True, width=7, is_detail=True),
    Column("duty", "For", width=14),
    Column("scheme", "Scheme", width=12, is_detail=True),
    Column("payee", "Payee", width=14),
    Column("due_on", "Due on", width=11),
    _CURRENCY,
    Column("due", "Due", is_figure=True, width=12),
    Column("paid", "Paid", is_figure=True, width=12),
    Column("outstanding", "Outstanding", is_figure=True, width=12),
    Column("late_days", "Late, days", is_figure=True, width=6),
    Column("standing", "Figure is", width=11),
)
DEFERS: Final = (
    "This statement helps to find what was missed. What is really owed is settled by the "
    "contract, the scheme's published standard and local law."
)


def dues_table(found: Iterable[ContractDues]) -> Table:
    """Return what is owed under contracts: one row a receipt, duty and payee."""
    dues = tuple(found)
    return Table(
        title=f"Dues to growers{_as_of(dues)}",
        columns=(
            Column("contract", "Contract", width=14),
            Column("cooperative", "Cooperative", width=14, is_detail=True),
            *_DUE_COLUMNS,
        ),
        rows=[
            (one.contract, one.cooperative, *_due_row(line, one.as_of))
            for one in dues
            for line in one.lines
        ],
        notes=[*dict.fromkeys(n for one in dues for n in notes_of(one)), DEFERS],
    )


def contract_table(dues: ContractDues) -> Table:
    """Return what is owed under one contract."""
    return Table(
        title=f"Contract {dues.contract} of {dues.signed_on} with {dues.cooperative}",
        columns=_DUE_COLUMNS,
        rows=[_due_row(line, dues.as_of) for line in dues.lines],
        notes=list(notes_of(dues)),
    )


def lines_table(lines: Iterable[DueLine], as_of: date) -> Table:
    """Return some due lines, such as those of one shipment."""
    return Table(
        title=f"What is owed for it as of {as_of}",
        columns=_DUE_COLUMNS,
        rows=[_due_row(line, as_of) for line in lines],
        notes=(DEFERS,),
    )


def notes_of(dues: ContractDues) -> Iterator[str]:
    """Yield what a reader of the dues of a contract should know."""
    told = {finding.message for finding in dues.findings}
    for line in dues.lines:
        if line.because and line.because not in told:
            yield (
                f"Contract {line.contract}, shipment {line.shipment}, {line.purpose}: "
                f"{line.standing}, because {line.because}."
            )
    for finding in dues.findings:
        yield f"{finding.message[:1].upper()}{finding.message[1:]}."
    for part in dues.settlements:
        if part.overpaid_minor and part.currency is not None:
            yield from _beyond(part, part.currency)


def _beyond(part: Settlement, currency: str) -> Iterator[str]:
    """Yield what was paid and could not be set off: advances, and anything else."""
    under = f"under contract {part.contract}"
    if part.advanced_minor:
        yield (
            f"{money_text(part.advanced_minor, currency)} {currency} was paid in advance "
            f"to {part.payee} {under} and waits for goods."
        )
    rest = part.overpaid_minor - part.advanced_minor
    if rest:
        yield (
            f"{money_text(rest, currency)} {currency} was paid to {part.payee} for "
            f"{part.duty} {under} beyond what is owed so far."
        )


def _due_row(line: DueLine, as_of: date) -> tuple[str, ...]:
    return (
        line.shipment,
        str(line.entry),
        line.purpose,
        line.scheme or "",
        line.payee,
        "" if line.due_on is None else line.due_on.isoformat(),
        line.currency or "",
        _sum(line.amount_minor, line.currency),
        _sum(line.set_off_minor, line.currency),
        _sum(line.outstanding_minor, line.currency),
        str(line.late_days(as_of)),
        line.standing,
    )


def payments_table(dues: ContractDues) -> Table:
    """Return the payments under a contract and what each was set off against."""
    return Table(
        title=f"Payments under contract {dues.contract}",
        columns=(
            Column("payment", "Payment", width=16),
            Column("entry", "Entry", is_figure=True, width=7),
            Column("paid_on", "Paid on", width=11),
            Column("payee", "Payee", width=15),
            Column("duty", "For", width=15),
            Column("sort", "As", width=9),
            Column("set_off", "Set off against", width=22),
            _CURRENCY,
            Column("paid", "Paid", is_figure=True, width=12),
            Column("late_days", "Late, days", is_figure=True, width=6),
        ),
        rows=[row for part in dues.settlements for row in _paid_rows(part)],
    )


def _paid_rows(part: Settlement) -> Iterator[tuple[str, ...]]:
    for line in part.lines:
        for paid in line.paid:
            yield _paid_row(part, paid, f"shipment {line.shipment}")
    for paid in part.unused:
        yield _paid_row(part, paid, "nothing owed so far")


def _paid_row(part: Settlement, paid: PaidPart, against: str) -> tuple[str, ...]:
    return (
        paid.payment,
        str(paid.entry),
        paid.paid_on.isoformat(),
        part.payee,
        part.duty,
        "advance" if paid.is_advance else "payment",
        against,
        part.currency or "",
        _sum(paid.amount_minor, part.currency),
        str(paid.late_days),
    )


def cooperatives_table(totals: Iterable[CooperativeTotal]) -> Table:
    """Return what the contracts of each cooperative add up to, by currency."""
    return Table(
        title="Dues by cooperative",
        columns=(
            Column("cooperative", "Cooperative", width=17),
            Column("contracts", "Contracts", width=18),
            _CURRENCY,
            Column("due", "Due", is_figure=True, width=13),
            Column("provisional", "Of it provisional", is_figure=True, width=12),
            Column("paid", "Paid", is_figure=True, width=13),
            Column("outstanding", "Outstanding", is_figure=True, width=12),
            Column("overdue", "Of it overdue", is_figure=True, width=12),
            Column("overpaid", "Paid beyond", is_figure=True, width=11),
        ),
        rows=[
            (one.cooperative, ", ".join(one.contracts), *_total_row(one.total))
            for one in totals
        ],
        notes=[
            f"{one.cooperative}: {one.total.lines_without_figure} lines without a figure "
            "are not in the sums."
            for one in totals
            if one.total.lines_without_figure
        ],
    )


def _total_row(total: Total) -> tuple[str, ...]:
    return (
        total.currency or "not disclosed",
        _sum(total.owed_minor, total.currency),
        _sum(total.provisional_minor, total.currency),
        _sum(total.paid_minor, total.currency),
        _sum(total.outstanding_minor, total.currency),
        _sum(total.overdue_minor, total.currency),
        _sum(total.overpaid_minor, total.currency),
    )


def shortfall_table(found: Iterable[Shortfall]) -> Table:
    """Return what is overdue; a payment of each sum to its payee would settle it."""
    return Table(
        title="Overdue: payments that would settle it",
        columns=(
            Column("contract", "Contract", width=14),
            Column("cooperative", "Cooperative", width=15),
            Column("duty", "For", width=14),
            Column("payee", "Payee", width=15),
            Column("shipments", "Shipments", width=16),
            Column("due_on", "Due on", width=11),
            Column("late_days", "Late, days", is_figure=True, width=6),
            _CURRENCY,
            Column("outstanding", "Outstanding", is_figure=True, width=12),
            Column("provisional", "Of it provisional", is_figure=True, width=12),
        ),
        rows=[
            (
                short.contract,
                short.cooperative,
                short.duty,
                short.payee,
                ", ".join(short.shipments),
                short.due_on.isoformat(),
                str(short.late_days),
                short.currency,
                _sum(short.outstanding_minor, short.currency),
                _sum(short.provisional_minor, short.currency),
            )
            for short in found
        ],
    )


def _as_of(dues: tuple[ContractDues, ...]) -> str:
    return f" as of {dues[0].as_of}" if dues else ""


def _sum(minor: int | None, currency: str | None) -> str:
    if minor is None or currency is None:
        return ""
    return money_text(minor, currency)
