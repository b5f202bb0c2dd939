"""Dues added up: totals by contract and cooperative, and what is short."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from ledger.books.due_line import DueLine, Standing
from ledger.books.dues import ContractDues
from ledger.books.payment import Settlement
from ledger.trade.words import Duty


@dataclass(frozen=True, slots=True)
class Total:
    """Dues added up in one currency, in its minor units.

    Attributes:
        currency: ISO 4217; None for what is not disclosed.
        owed_minor: Owed on all lines that have a figure.
        provisional_minor: Of that, on lines that may still change.
        paid_minor: Paid, overpayments included.
        outstanding_minor: Owed and not paid.
        overdue_minor: Of that, past its due date.
        overpaid_minor: Paid beyond what is owed so far, within its duty and payee.
        lines_without_figure: How many lines the totals leave out.
    """

    currency: str | None
    owed_minor: int
    provisional_minor: int
    paid_minor: int
    outstanding_minor: int
    overdue_minor: int
    overpaid_minor: int
    lines_without_figure: int


@dataclass(frozen=True, slots=True)
class CooperativeTotal:
    """What one cooperative's contracts add up to in one currency.

    Premiums to its farmers and to other payees under these contracts are included.

    Attributes:
        cooperative: The party that sells.
        contracts: Contracts added up, sorted.
        total: The sums.
    """

    cooperative: str
    contracts: tuple[str, ...]
    total: Total


@dataclass(frozen=True, slots=True)
class Shortfall:
    """What one payee should have been paid by now, and one payment would settle.

    Attributes:
        cooperative: The party that sells.
        contract: Contract number.
        duty: What it is for.
        payee: Who is owed.
        currency: ISO 4217.
        outstanding_minor: Minor units to be paid.
        provisional_minor: Of that, on lines that may still change.
        due_on: Oldest due date that passed.
        late_days: Days since then.
        shipments: Shipments that it is owed for, oldest due first.
    """

    cooperative: str
    contract: str
    duty: Duty
    payee: str
    currency: str
    outstanding_minor: int
    provisional_minor: int
    due_on: date
    late_days: int
    shipments: tuple[str, ...]


def contract_totals(dues: ContractDues) -> tuple[Total, ...]:
    """Return what a contract adds up to, by currency."""
    return _totals(dues.settlements, dues.as_of)


def cooperative_totals(dues: Iterable[ContractDues]) -> tuple[CooperativeTotal, ...]:
    """Return what contracts add up to by cooperative and currency.

    Args:
        dues: Dues of contracts, all as of one date.
    """
    by_cooperative: dict[str, list[ContractDues]] = defaultdict(list)
    for one in dues:
        by_cooperative[one.cooperative].append(one)
    return tuple(
        CooperativeTotal(
            cooperative, tuple(sorted({one.contract for one in found})), total
        )
        for cooperative, found in sorted(by_cooperative.items())
        for total in _totals(
            (part for one in found for part in one.settlements), found[0].as_of
        )
    )


def shortfalls(dues: Iterable[ContractDues]) -> tuple[Shortfall, ...]:
    """Return what is overdue, by contract, duty and payee, longest overdue first."""
    found = [
        short
        for one in dues
        for part in one.settlements
        if (short := _shortfall(one, part)) is not None
    ]
    return tuple(
        sorted(found, key=lambda s: (s.due_on, s.contract, list(Duty).index(s.duty)))
    )


def _totals(settlements: Iterable[Settlement], as_of: date) -> tuple[Total, ...]:
    by_currency: dict[str | None, list[Settlement]] = defaultdict(list)
    for part in settlements:
        by_currency[part.currency].append(part)
    return tuple(
        _total(currency, by_currency[currency], as_of)
        for currency in sorted(by_currency, key=lambda code: code or "")
    )


def _total(currency: str | None, parts: list[Settlement], as_of: date) -> Total:
    lines = [line for part in parts for line in part.lines]
    return Total(
        currency=currency,
        owed_minor=sum(part.owed_minor for part in parts),
        provisional_minor=sum(
            line.amount_minor or 0
            for line in lines
            if line.standing is Standing.PROVISIONAL
        ),
        paid_minor=sum(part.paid_minor for part in parts),
        outstanding_minor=sum(part.outstanding_minor for part in parts),
        overdue_minor=sum(
            line.outstanding_minor or 0 for line in lines if _is_late(line, as_of)
        ),
        overpaid_minor=sum(part.overpaid_minor for part in parts),
        lines_without_figure=sum(line.amount_minor is None for line in lines),
    )


def _is_late(line: DueLine, as_of: date) -> bool:
    """Tell whether a line should have been paid: interest is, as soon as it accrues."""
    if line.duty is Duty.INTEREST:
        return bool(line.outstanding_minor)
    return line.overdue_days(as_of) > 0


def _shortfall(dues: ContractDues, part: Settlement) -> Shortfall | None:
    late = [line for line in part.lines if _is_late(line, dues.as_of)]
    due_on = min(
        (line.due_on for line in late if line.due_on is not None), default=None
    )
    if due_on is None or part.currency is None:
        return None
    return Shortfall(
        cooperative=dues.cooperative,
        contract=dues.contract,
        duty=part.duty,
        payee=part.payee,
        currency=part.currency,
        outstanding_minor=sum(line.outstanding_minor or 0 for line in late),
        provisional_minor=sum(
            line.outstanding_minor or 0
            for line in late
            if line.standing is Standing.PROVISIONAL
        ),
        due_on=due_on,
        late_days=(dues.as_of - due_on).days,
        shipments=tuple(dict.fromkeys(line.shipment for line in late)),
    )
