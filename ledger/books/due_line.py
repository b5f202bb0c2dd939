"""One amount that is owed, and the payments that were set off against it."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from ledger.books.working import Working
from ledger.trade.words import Duty


class Standing(StrEnum):
    """How sure the figure of a due is."""

    FINAL = "final"
    PROVISIONAL = "provisional"
    NOT_DISCLOSED = "not disclosed"
    NOT_COMPUTABLE = "not computable"


@dataclass(frozen=True, slots=True)
class PaidPart:
    """A payment, or the part of it that was set off against one due.

    Attributes:
        payment: Name of the payment.
        entry: Sequence number of its entry.
        paid_on: When the money reached the payee.
        amount_minor: Minor units of the currency, such as cents.
        late_days: Calendar days after the due date, 0 where it was in time.
        is_advance: Whether it was paid as an advance, before goods arrived.
    """

    payment: str
    entry: int
    paid_on: date
    amount_minor: int
    late_days: int = 0
    is_advance: bool = False


@dataclass(frozen=True, slots=True)
class DueLine:
    """What one payee is owed for one receipt and one duty.

    What is provisional and what is final of the same receipt stand in two lines.

    Attributes:
        contract: Contract number.
        shipment: Shipment received.
        received_on: Day of receipt.
        entry: Sequence number of the receipt's entry.
        duty: What it is for.
        scheme: Scheme whose premium it is; None for price and organic differential,
            which are owed once however many schemes ask for them. For interest, the
            scheme whose rate it is.
        payee: Party that is owed, or "farmers" for the seller's farmers in cash.
        due_on: Last day on which payment is in time; None where no terms say.
        currency: ISO 4217; None where it is not disclosed.
        amount_minor: Minor units of the currency, rounded up; None where there is no
            figure.
        standing: How sure the figure is.
        because: Why it is provisional or missing, in one sentence; else empty.
        workings: The arithmetic, from what was recorded to the amount.
        paid: What was set off against it, in order of payment, advances first.
        on_duty: For interest, the duty that was paid late.
    """

    contract: str
    shipment: str
    received_on: date
    entry: int
    duty: Duty
    scheme: str | None
    payee: str
    due_on: date | None
    currency: str | None
    amount_minor: int | None
    standing: Standing
    because: str = ""
    workings: tuple[Working, ...] = ()
    paid: tuple[PaidPart, ...] = ()
    on_duty: Duty | None = None

    @property
    def purpose(self) -> str:
        """What it is for, in words, such as "interest on premium"."""
        return self.duty if self.on_duty is None else f"{self.duty} on {self.on_duty}"

    @property
    def paid_minor(self) -> int:
        """Minor units paid."""
        return sum(part.amount_minor for part in self.paid)

    @property
    def set_off_minor(self) -> int | None:
        """Minor units paid; None where there is no figure to set a payment off against."""
        return None if self.amount_minor is None else self.paid_minor

    @property
    def outstanding_minor(self) -> int | None:
        """Minor units still owed; None where there is no figure."""
        return (
            None if self.amount_minor is None else self.amount_minor - self.paid_minor
        )

    def late_days(self, as_of: date) -> int:
        """Return how many days the last part was late, or what is open is by now."""
        latest = max((part.late_days for part in self.paid), default=0)
        return max(latest, self.overdue_days(as_of))

    def overdue_days(self, as_of: date) -> int:
        """Return for how many days something of it has been overdue; 0 if nothing is."""
        if self.due_on is None or not self.outstanding_minor:
            return 0
        return max(0, (as_of - self.due_on).days)
