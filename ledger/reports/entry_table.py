"""Tables of entries: corrections, decisions, breaches, what is out of the ordinary."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from ledger.books.effect import Recorded
from ledger.books.finding import Finding
from ledger.books.lookup import expect
from ledger.chain.canonical import JsonValue
from ledger.reports.tables import Column, Table
from ledger.trade.control import Correction

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
    "advance.requested": "request",
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
    "claim.transferred": "transfer",
    "correction": "target",
    "period.closed": "period",
    "checkpoint.signed": "size",
    "document.attached": "document",
    "disclosure.erased": "party",
    "key.rotated": "reason",
    "key.revoked": "reason",
    "access.granted": "person",
    "access.ended": "person",
    "finding.noted": "finding",
    "finding.closed": "finding",
}
"""Field that holds the name an entry goes by."""


@dataclass(frozen=True, slots=True)
class Flagged:
    """An entry that counts, and one thing that is unusual about it."""

    recorded: Recorded
    finding: Finding


@dataclass(frozen=True, slots=True)
class BreachEvent:
    """An entry that left an account short, or made it good again.

    Attributes:
        recorded: The entry.
        account: The account, in words.
        is_opened: True where it left the account short.
    """

    recorded: Recorded
    account: str
    is_opened: bool


def entry_name(recorded: Recorded) -> str:
    """Return kind and name of an entry, such as "sale.dispatched V-12"."""
    named_by = _NAMED_BY.get(recorded.kind)
    if named_by is None:
        return recorded.kind
    return f"{recorded.kind} {getattr(recorded.record, named_by)}"


def name_in(kind: str, body: Mapping[str, JsonValue]) -> str:
    """Return the name that an entry goes by, read from its body; empty if it has none."""
    named_by = _NAMED_BY.get(kind, "").removesuffix("_")
    name = body.get(named_by, "")
    return str(name) if isinstance(name, str | int) else ""


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


def decisions_table(decisions: Iterable[Recorded]) -> Table:
    """Return what changed what earlier entries count for, with its reason.

    Certificates suspended, withdrawn or reinstated, lots rejected after they were taken,
    and claims taken back.
    """
    return Table(
        title="Decisions on certificates, lots and claims",
        columns=(
            Column("entry", "Entry", is_figure=True, width=8),
            Column("on", "On", width=12),
            Column("counts_from", "Counts from", width=12),
            Column("what", "What", width=30),
            Column("reason", "Reason", width=38),
        ),
        rows=[
            (
                str(recorded.seq),
                recorded.occurred_on.isoformat(),
                str(getattr(recorded.record, "from_on", recorded.occurred_on)),
                entry_name(recorded),
                reason_of(recorded),
            )
            for recorded in decisions
        ],
    )


def breach_events_table(events: Iterable[BreachEvent]) -> Table:
    """Return the entries that left an account short, and those that made it good."""
    return Table(
        title="Breaches opened and made good",
        columns=(
            Column("entry", "Entry", is_figure=True, width=8),
            Column("on", "On", width=12),
            Column("account", "Account", width=27),
            Column("event", "Event", width=11),
            Column("what", "What", width=20),
            Column("reason", "Reason", width=30),
        ),
        rows=[
            (
                str(event.recorded.seq),
                event.recorded.occurred_on.isoformat(),
                event.account,
                "opened" if event.is_opened else "made good",
                entry_name(event.recorded),
                reason_of(event.recorded),
            )
            for event in events
        ],
    )


def reason_of(recorded: Recorded) -> str:
    """Return the reason that an entry states; empty where its kind has none."""
    return getattr(recorded.record, "reason", "")


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
