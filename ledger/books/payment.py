"""Setting payments off against what is owed, oldest due first."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from ledger.books.due_line import DueLine, PaidPart, Standing
from ledger.books.effect import Recorded
from ledger.books.lookup import expect
from ledger.trade.contract import PaymentMade
from ledger.trade.money import minor_units
from ledger.trade.words import Duty


@dataclass(frozen=True, slots=True)
class Settlement:
    """What one payee is owed and was paid for one duty under one contract.

    Attributes:
        contract: Contract number.
        duty: What it is for.
        payee: Who is owed.
        currency: ISO 4217; None where it is not disclosed.
        lines: What is owed, oldest due first.
        unused: Payments, or parts of them, beyond every line that has a figure.
    """

    contract: str
    duty: Duty
    payee: str
    currency: str | None
    lines: tuple[DueLine, ...]
    unused: tuple[PaidPart, ...]

    @property
    def owed_minor(self) -> int:
        """Minor units owed on the lines that have a figure."""
        return sum(line.amount_minor or 0 for line in self.lines)

    @property
    def paid_minor(self) -> int:
        """Minor units paid, whether or not they could be set off."""
        return sum(line.paid_minor for line in self.lines) + self.overpaid_minor

    @property
    def outstanding_minor(self) -> int:
        """Minor units still owed on the lines that have a figure."""
        return sum(line.outstanding_minor or 0 for line in self.lines)

    @property
    def overpaid_minor(self) -> int:
        """Minor units paid beyond what is owed so far.

        While goods are still to come it is an advance on them, and while a line has no
        figure nobody can tell.
        """
        return sum(part.amount_minor for part in self.unused)

    @property
    def advanced_minor(self) -> int:
        """Minor units of that which were paid as an advance and wait for goods."""
        return sum(part.amount_minor for part in self.unused if part.is_advance)

    @property
    def is_complete(self) -> bool:
        """Whether every line has a figure."""
        return all(line.amount_minor is not None for line in self.lines)


@dataclass(frozen=True, slots=True)
class _Paid:
    """A payment whose amount is known, in minor units of its currency."""

    recorded: Recorded
    payment: PaymentMade
    minor: int


def settle(
    contract: str, lines: Iterable[DueLine], payments: Iterable[Recorded]
) -> tuple[Settlement, ...]:
    """Set payments off against dues within one contract.

    A payment goes to dues of its own duty, payee and currency: first to those of the
    shipment that it names, then to the oldest due. Payments count by the day on which
    the money arrived, so the order in which they were recorded makes no difference. That
    the payer may name the debt, and the oldest is paid otherwise, is common practice, no
    source; local law may differ. Advances go to the price before any other payment.

    Where the amount of a payment is sealed from the reader, nobody can tell from what is
    shown how much of its duty is open, so its lines have no figure.

    Args:
        contract: The contract.
        lines: What is owed under it.
        payments: The entries of what was paid under it.
    """
    paid: dict[tuple[Duty, str, str | None], list[_Paid]] = defaultdict(list)
    sealed: set[tuple[Duty, str]] = set()
    for found in payments:
        payment = expect(found.record, PaymentMade)
        duty = Duty.PRICE if payment.towards is Duty.ADVANCE else payment.towards
        if payment.money is None:
            sealed.add((duty, payment.payee))
        else:
            one = _Paid(found, payment, minor_units(payment.money))
            paid[duty, payment.payee, payment.money.currency].append(one)
    owed: dict[tuple[Duty, str, str | None], list[DueLine]] = defaultdict(list)
    for line in lines:
        is_sealed = (line.duty, line.payee) in sealed and line.amount_minor is not None
        owed[line.duty, line.payee, line.currency].append(
            _not_disclosed(line) if is_sealed else line
        )
    return tuple(
        Settlement(contract, *key, *_set_off(owed.get(key, ()), paid.get(key, ())))
        for key in sorted({*owed, *paid}, key=_in_order)
    )


def _in_order(key: tuple[Duty, str, str | None]) -> tuple[int, str, str]:
    duty, payee, currency = key
    return list(Duty).index(duty), payee, currency or ""


def _age(line: DueLine) -> tuple[date, date, str, str, str]:
    return (
        line.due_on or date.max,
        line.received_on,
        line.shipment,
        line.standing,
        line.scheme or "",
    )


def _not_disclosed(line: DueLine) -> DueLine:
    return replace(
        line,
        amount_minor=None,
        workings=(),
        standing=Standing.NOT_DISCLOSED,
        because="a payment towards it is sealed from this reader",
    )


def _set_off(
    lines: Sequence[DueLine], payments: Sequence[_Paid]
) -> tuple[tuple[DueLine, ...], tuple[PaidPart, ...]]:
    ordered = sorted(lines, key=_age)
    unused = []
    for paid in sorted(payments, key=_by_advance_and_day):
        left = paid.minor
        named = paid.payment.shipment
        # A stable sort: the shipment's own lines first, each group oldest due first.
        for place in sorted(
            range(len(ordered)), key=lambda place: ordered[place].shipment != named
        ):
            line = ordered[place]
            part = min(left, line.outstanding_minor or 0)
            if part > 0:
                ordered[place] = replace(
                    line, paid=(*line.paid, _part(paid, part, line.due_on))
                )
                left -= part
        if left:
            unused.append(_part(paid, left, None))
    return tuple(ordered), tuple(unused)


def _by_advance_and_day(paid: _Paid) -> tuple[bool, date, str]:
    payment, on = paid.payment, paid.recorded.occurred_on
    return payment.towards is not Duty.ADVANCE, on, payment.payment


def _part(paid: _Paid, amount_minor: int, due_on: date | None) -> PaidPart:
    paid_on = paid.recorded.occurred_on
    late = 0 if due_on is None else max(0, (paid_on - due_on).days)
    return PaidPart(
        paid.payment.payment,
        paid.recorded.seq,
        paid_on,
        amount_minor,
        late,
        is_advance=paid.payment.towards is Duty.ADVANCE,
    )
