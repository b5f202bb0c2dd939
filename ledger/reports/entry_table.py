"""Tables of entries: corrections, events of certificates, what is out of the ordinary."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from ledger.books.effect import Recorded
from ledger.books.finding import Finding
from ledger.books.lookup import expect
from ledger.reports.tables import Column, Table
from ledger.trade.control import Correction
from ledger.trade.party import (
    CertificateReinstated,
    CertificateSuspended,
    CertificateWithdrawn,
)

_NAMED_BY: Final[Mapping[str, str]] = {
    "ledger.opened": "organisation",
    "party.registered": "party",
    "certificate.recorded": "certificate",
    "certificate.suspended": "certificate",
    "certificate.withdrawn": "certificate",
    "certificate.reinstated": "certificate",
    "terms.published": "scheme",
    "limits.published": "version",
    "recipe.published": "recipe",
    "quote.recorded": "market",
    "rate.recorded": "base",
    "contract.signed": "contract",
    "price.fixed": "fixation",
    "shipment.dispatched": "shipment",
    "shipment.received": "shipment",
    "payment.made": "payment",
    "batch.made": "batch",
    "lot.moved": "lot",
    "lot.counted": "lot",
    "lot.written_off": "lot",
    "lot.rejected": "lot",
    "hold.placed": "hold",
    "hold.released": "hold",
    "sale.dispatched": "sale",
    "sale.returned": "return_",
    "claim.withdrawn": "withdrawal",
    "correction": "target",
    "period.closed": "period",
    "checkpoint.signed": "size",
    "document.attached": "document",
    "key.rotated": "reason",
    "key.revoked": "reason",
}
"""Field that holds the name an entry goes by."""


@dataclass(frozen=True, slots=True)
class Flagged:
    """An entry that counts, and one thing that is unusual about it."""

    recorded: Recorded
    finding: Finding


def entry_name(recorded: Recorded) -> str:
    """Return kind and name of an entry, such as "sale.dispatched V-12"."""
    named_by = _NAMED_BY.get(recorded.kind)
    if named_by is None:
        return recorded.kind
    return f"{recorded.kind} {getattr(recorded.record, named_by)}"


def corrections_table(corrections: Iterable[Recorded]) -> Table:
    """Return the corrections with what each did and why."""
    return Table(
        title="Corrections",
        columns=(
            Column("entry", "Entry", is_figure=True, width=8),
            Column("on", "On", width=12),
            Column("corrects_entry", "Corrects entry", is_figure=True, width=11),
            Column("outcome", "Outcome", width=20),
            Column("reason", "Reason", width=35),
            Column("recorded_by", "By", width=11),
            Column("approved_by", "Approved by", width=13),
        ),
        rows=[_correction_row(recorded) for recorded in corrections],
    )


def _correction_row(recorded: Recorded) -> tuple[str, ...]:
    correction = expect(recorded.record, Correction)
    outcome = (
        "made void"
        if correction.replacement is None
        else f"replaced by another {correction.replacement.entry_kind}"
    )
    if correction.accept_breach:
        outcome += ", breach accepted"
    return (
        str(recorded.seq),
        recorded.occurred_on.isoformat(),
        str(correction.target),
        outcome,
        correction.reason,
        recorded.recorded_by,
        correction.approved_by or "",
    )


def certificate_events_table(events: Iterable[Recorded]) -> Table:
    """Return suspensions, withdrawals and reinstatements with their reasons."""
    return Table(
        title="Certificates suspended, withdrawn or reinstated",
        columns=(
            Column("entry", "Entry", is_figure=True, width=8),
            Column("learnt_on", "Learnt on", width=12),
            Column("from_on", "Counts from", width=12),
            Column("certificate", "Certificate", width=20),
            Column("event", "Event", width=13),
            Column("reason", "Reason", width=35),
        ),
        rows=[
            (
                str(recorded.seq),
                recorded.occurred_on.isoformat(),
                event.from_on.isoformat(),
                event.certificate,
                recorded.kind.removeprefix("certificate."),
                event.reason,
            )
            for recorded in events
            if isinstance(
                event := recorded.record,
                CertificateSuspended | CertificateWithdrawn | CertificateReinstated,
            )
        ],
    )


def flagged_table(flagged: Iterable[Flagged], *, title: str) -> Table:
    """Return entries with what is unusual about each."""
    return Table(
        title=title,
        columns=(
            Column("entry", "Entry", is_figure=True, width=8),
            Column("on", "On", width=12),
            Column("what", "What", width=22),
            Column("rule", "Rule", width=16),
            Column("finding", "Finding", width=42),
        ),
        rows=[
            (
                str(found.recorded.seq),
                found.recorded.occurred_on.isoformat(),
                entry_name(found.recorded),
                found.finding.rule,
                found.finding.message,
            )
            for found in flagged
        ],
    )
